"""Advice about light is tried before it is given: each case is a wall that untried advice runs into."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import Any

import pytest

from photoperiod.api import Compiled, ScheduleError, compile, load_text
from photoperiod.checks.dose_advice import dose_advice
from photoperiod.checks.run import findings_without
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import CompiledDay
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_types import SeasonError
from photoperiod.program.model import Program
from photoperiod.program.scaled_day import scaled_day
from photoperiod.schedule.day_plan import SunDay
from tests.checks.bench import Day, bench, handmade, on
from tests.conftest import ROOT, changed, compiled

EXAMPLE = (ROOT / "examples" / "asked-dose.yaml").read_text(encoding="utf-8")

#: Strong gives nothing to sand, and that is known.
KNOWN = ("{zones: {crest: 100}}", "{zones: {crest: 100, sand: 0}}")


def others(program: Program) -> list[Diagnostic]:
    return findings_without(program, "PHO405")


def nothing(_: Program) -> list[Diagnostic]:
    """What other checks find, where they find nothing."""
    return []


def program_of(crest: str, *days: Day, sand: str = "") -> Program:
    """Return BENCH with limits of its zones. It gives crest 3.6 and sand 0.288 mol m⁻² d⁻¹."""
    text = bench(
        KNOWN,
        ("crest: {dark_hours_min: 0}", f"crest: {{dark_hours_min: 0, {crest}}}"),
        ("sand: {dark_hours_min: 0}", f"sand: {{dark_hours_min: 0{sand}}}"),
    )
    return handmade(text, *days)


def factor_of(program: Program) -> str:
    advice = dose_advice(program, others)
    return advice.split(" by ")[1].split(":")[0] if advice.startswith("multiply") else ""


def test_the_factor_is_rounded_into_the_band_not_out_of_it() -> None:
    # 3.7 / 3.6 = 1.0278: 1.03 reaches the band, 1.02 does not. By 1.03 weak is 82.4 and strong 61.8 %;
    # on whole levels that is 82 and 62: 0.82 × 50 + 0.62 × 100 = 103, × 0.036 = 3.708.
    assert factor_of(program_of("dli: [3.7, 9]")) == "1.03"


def test_a_factor_that_rounding_of_levels_spoils_gives_way_to_the_next() -> None:
    # 3.67 / 3.6 = 1.0194, so 1.02: 81.6 and 61.2 % are levels 82 and 61, 102 × 0.036 = 3.672.
    assert factor_of(program_of("dli: [3.67, 9]")) == "1.02"
    # 3.61 / 3.6 = 1.0028, so 1.01: 80.8 and 60.6 % are 81 and 61, 101.5 × 0.036 = 3.654.
    # 3.66 / 3.6 = 1.0167, so 1.02 as above. 3.71 / 3.6 = 1.0306, so 1.04: 83.2 and 62.4 % are 83 and 62,
    # 103.5 × 0.036 = 3.726. 3.73 / 3.6 = 1.0361, so 1.04 comes first, gives 3.726, and is not enough;
    # 1.05 gives 84 and 63: 105 × 0.036 = 3.78.
    assert factor_of(program_of("dli: [3.73, 9]")) == "1.05"


def test_less_light_is_rounded_down() -> None:
    # 3.2 / 3.6 = 0.8889: 0.88 is 70.4 and 52.8 %, levels 70 and 53: 88 × 0.036 = 3.168.
    assert factor_of(program_of("dli: [1, 3.2]")) == "0.88"


def test_no_factor_that_breaks_the_most_light_of_a_zone() -> None:
    # 4.5 needs 125 µmol m⁻² s⁻¹ at the peak
    assert factor_of(program_of("dli: [4.5, 9], ppfd_max: 125")) == "1.25"
    assert factor_of(program_of("dli: [4.5, 9], ppfd_max: 124")) == ""
    assert (
        factor_of(program_of("dli: [4.5, 9]", sand=", ppfd_max: 9.9")) == ""
    )  # 0.8 × 1.25 × 10 = 10


def test_no_factor_that_asks_for_more_than_full_light() -> None:
    # weak is at 80 %: 1.25 is the most
    assert factor_of(program_of("dli: [4.5, 9]")) == "1.25"
    assert factor_of(program_of("dli: [4.51, 9]")) == ""


def test_no_factor_that_takes_the_dose_of_another_zone_out_of_its_band() -> None:
    # sand would get 0.288 × 1.25 = 0.36
    assert factor_of(program_of("dli: [4.5, 9]", sand=", dli: [0.2, 0.37]")) == "1.25"
    assert factor_of(program_of("dli: [4.5, 9]", sand=", dli: [0.2, 0.35]")) == ""


def test_no_factor_where_the_light_of_a_channel_is_not_known() -> None:
    text = bench(("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 0, dli: [4.5, 9]}"))
    assert dose_advice(handmade(text), others) == ""


def test_the_date_that_needs_most_decides() -> None:
    # on the last date 1.44 + 2.16 × 0.9 = 3.384: 3.7 / 3.384 = 1.0934, so 1.1: 88 and 66 %,
    # 0.88 × 50 + 0.66 × 100 × 0.9 = 103.4, × 0.036 = 3.7224
    day = Day(brightness={"strong": (1.0, 0.9)}, first=on(1), last=on(5))
    assert factor_of(program_of("dli: [3.7, 9]", day)) == "1.1"


def test_no_factor_on_days_of_burn_in_or_for_a_dark_zone() -> None:
    waits = Day(roles={"weak": "dark"})
    assert factor_of(program_of("dli: [4.5, 9]", waits)) == ""
    dark = Day(levels={"weak": [("08:00", 0)], "strong": [("08:00", 0)]})
    assert factor_of(program_of("dli: [4.5, 9]", dark)) == ""


def test_many_tables_are_not_tried() -> None:
    few = [Day(first=on(n), last=on(n)) for n in range(1, 13)]
    assert factor_of(program_of("dli: [4.5, 9]", *few)) == "1.25"
    assert factor_of(program_of("dli: [4.5, 9]", *few, Day(first=on(13), last=on(13)))) == ""


# Light goes from dark to 100 µmol m⁻² s⁻¹ at once, by 1.25 to 125.
@pytest.mark.parametrize(("rise", "factor"), [(125, "1.25"), (124, ""), (90, "")])
def test_no_factor_under_which_light_rises_too_fast(rise: float, factor: str) -> None:
    assert factor_of(program_of(f"dli: [4.5, 9], ppfd_rise_per_minute_max: {rise}")) == factor


def test_a_factor_for_a_day_with_ramps() -> None:
    # 80 % of 130 µmol m⁻² s⁻¹ in 60 minutes is 1.73 a minute. A table rises in steps of 1 % of
    # level, of at most 2 × 0.92 × 0.01 × 130 = 2.4: no minute has more than 1.05 × 1.73 + 2.4 = 4.2.
    limits = "dli: [4.2, 5], ppfd_rise_per_minute_max: 4.2"
    outcome = compiled(changed(("dli: [3, 5], ppfd_max: 200", limits)), None)
    (found,) = (each for each in outcome.report if each.code == "PHO405")
    assert "Tried, and it keeps all limits" in found.help


# Of 24 h less 10 h lit, 14 h are dark. Sand gets at most 8 µmol m⁻² s⁻¹.
@pytest.mark.parametrize(
    ("of_sand", "is_given"),
    [
        ("dark_hours_min: 20", True),  # broken before, and by the factor no more
        (
            "dark_hours_min: 0, ppfd_max: 7",
            False,
        ),  # broken before, and more light breaks it further
        ("dark_hours_min: 0, ppfd_max: 9.9", False),  # newly broken: 1.25 × 8 = 10
        ("dark_hours_min: 0, ppfd_max: 10", True),
    ],
)
def test_what_was_broken_before_forbids_no_advice(of_sand: str, is_given: bool) -> None:
    text = bench(
        KNOWN,
        ("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 0, dli: [4.5, 9]}"),
        ("sand: {dark_hours_min: 0}", f"sand: {{{of_sand}}}"),
    )
    advice = dose_advice(handmade(text), others)
    assert bool(advice) == is_given
    if advice:
        words = "breaks no other limit" if "20" in of_sand else "keeps all limits"
        assert f"Tried, and it {words}; change" in advice


def test_less_light_is_advised_although_a_limit_stays_broken() -> None:
    # 2 / 3.6 = 0.5556, so 0.55: 44 and 33 %, 55 µmol m⁻² s⁻¹ where 50 is the most and 100 was
    assert factor_of(program_of("dli: [1, 2], ppfd_max: 50")) == "0.55"


@pytest.mark.parametrize(("shorter_s", "is_given"), [(0, True), (60, True), (61, False)])
def test_a_night_that_is_too_short_may_lose_a_minute(
    monkeypatch: pytest.MonkeyPatch, shorter_s: int, is_given: bool
) -> None:
    def trial(*args: Any) -> CompiledDay | None:
        day: CompiledDay | None = scaled_day(*args)
        if day is None:  # more than full
            return None
        sand = replace(day.zones["sand"], night_s=day.zones["sand"].night_s - shorter_s)
        return replace(day, zones={**day.zones, "sand": sand})

    monkeypatch.setattr("photoperiod.checks.dose_advice.scaled_day", trial)
    text = bench(
        KNOWN,
        ("crest: {dark_hours_min: 0}", "crest: {dark_hours_min: 0, dli: [4.5, 9]}"),
        ("sand: {dark_hours_min: 0}", "sand: {dark_hours_min: 20}"),
    )
    assert bool(dose_advice(handmade(text), others)) == is_given


def example(*changes: tuple[str, str]) -> str:
    """Return the example of doses, but with limits only: no dose is asked for."""
    text = re.sub(r"    may_move: .*\n", "", EXAMPLE).replace("wanted_dli: 7.5, ", "")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def compiled_text(text: str) -> Compiled:
    return compile(load_text("advice.yaml", text.encode()))


def advice_of(done: Compiled) -> str:
    return next((d.help for d in done.findings if d.code == "PHO405"), "")


def pasted(text: str, advice: str) -> str:
    """Return a text with the lights that an advice tells, one after the other."""
    for id, told in re.findall(r"`light_percent` of '(\w+)' ([\d., ]+\d)", advice):
        at = text.index(f"  {id}:\n", text.index("channels:"))
        for light in told.split(", "):
            at = text.index("light_percent: ", at) + len("light_percent: ")
            end = re.compile(r"[\d.]+").match(text, at)
            assert end is not None
            text = text[:at] + light + text[end.end() :]
    return text


# By the file the shelf gets 0.8 × 140 × (10 + 2 × 2/π) h + 0.6 × 110 × 7 h, × 0.0036: 6.2 mol m⁻² d⁻¹.
@pytest.mark.parametrize(
    "changes",
    [
        [("dli: [6, 9]", "dli: [7.5, 9]")],
        [("dli: [6, 9]", "dli: [4, 5.01]"), ("dli: [2, 5]", "dli: [2, 2.5]")],
        [
            ("dli: [6, 9]", "dli: [6.3, 6.4]"),
            ("setpoints_per_channel: 12", "setpoints_per_channel: 8"),
        ],
        [("dli: [6, 9]", "dli: [7.2, 9]"), ("step: 1,", "step: 2,")],
    ],
)
def test_what_is_told_and_pasted_lies_in_the_band_without_a_new_finding(
    changes: list[tuple[str, str]],
) -> None:
    text = example(*changes)
    before = compiled_text(text)
    advice = advice_of(before)
    assert advice.startswith("multiply")
    after = compiled_text(pasted(text, advice))
    for z in after.program.zones.values():
        assert z.zone.dli_band is not None
        assert z.zone.dli_band[0] <= z.dli.replay <= z.zone.dli_band[1]
    assert {(d.code, d.path) for d in after.findings} < {(d.code, d.path) for d in before.findings}


@pytest.mark.parametrize(
    "changes",
    [
        [("dli: [6, 9]", "dli: [8.8, 9]")],  # 8.8 / 6.2 × 80 % is above 100 %
        [("dli: [6, 9]", "dli: [7.5, 9]"), ("ppfd_max: 260", "ppfd_max: 178.5")],
        [("dli: [6, 9]", "dli: [7.5, 9]"), ("dli: [2, 5]", "dli: [2, 3.4]")],
        [("dli: [6, 9]", "dli: [7.5, 7.5001]")],
    ],
)
def test_where_no_factor_will_do_the_way_to_ask_is_told(changes: list[tuple[str, str]]) -> None:
    advice = advice_of(compiled_text(example(*changes)))
    assert advice.startswith("all light times one factor will not do")
    asks = changes[0][1].replace("dli", "wanted_dli")
    assert f"write `{asks}` in zone 'shelf', and `may_move` in 'blue' and 'white'" in advice


def test_the_way_to_ask_leads_to_a_day_or_to_what_stands_against_it() -> None:
    asked = ("{dli: [7.5, 9]", "{wanted_dli: [7.5, 9], dli: [7.5, 9]")
    moves = (
        "    day:\n",
        "    may_move: {peak_light_percent: [40, 90], day_hours: [10, 14]}\n    day:\n",
    )
    for dark, is_found in ((10, True), (14, False)):
        text = example(("dli: [6, 9]", "dli: [7.5, 9]"), ("ppfd_max: 260", "ppfd_max: 178.5"))
        text = text.replace(*asked).replace("dark_hours_min: 10", f"dark_hours_min: {dark}")
        text = text.replace(*moves).replace("day_hours: [10, 14]", "day_hours: [10, 14]", 1)
        try:
            done = compiled_text(text)
        except ScheduleError as fault:
            assert not is_found
            assert any(d.code == "PHO803" for d in fault.findings)
            continue
        assert is_found
        assert 7.5 <= done.program.zones["shelf"].dli.replay <= 9
        assert not advice_of(done)


def test_a_dose_that_is_asked_for_gets_no_advice_to_change_the_file() -> None:
    program = compiled_text(EXAMPLE).program
    zones = {id: replace(z, dli=replace(z.dli, replay=1.0)) for id, z in program.zones.items()}
    table = replace(program.tables[0], day=replace(program.tables[0].day, zones=zones))
    assert dose_advice(replace(program, tables=(table,)), nothing) == ""


def test_no_factor_that_brings_a_finding_of_another_check() -> None:
    text = example(("dli: [6, 9]", "dli: [7.5, 9]"))
    before = compiled_text(text).program
    seen: list[Program] = []

    def found(program: Program) -> list[Diagnostic]:
        seen.append(program)
        if program is before:
            return []
        return [Diagnostic(code="PHO410", path=("channels",), message="x")]

    assert not dose_advice(before, found).startswith("multiply")
    assert len(seen) > 1
    assert dose_advice(before, nothing).startswith("multiply")


def seasonal(crest: str, *days: Day, sand: str = "") -> Program:
    """Return a program of tables that stand for seasons, the day of strong by the sun."""
    program = program_of(crest, *days, sand=sand)
    channels = program.schedule.channels
    sunny = replace(channels["strong"], day=SunDay(peak_light=0.6))
    schedule = replace(program.schedule, channels={**channels, "strong": sunny})
    tables = (replace(table, season=SeasonError({})) for table in program.tables)
    return replace(program, schedule=schedule, tables=tuple(tables))


#: In ten hours crest gets 3.6 mol m⁻² d⁻¹, in eight 2.88: the most is 1.25 times the least.
SUMMER = Day(first=on(1))
WINTER = Day(first=on(2), levels={"weak": [("08:00", 80), ("16:00", 0)],
                                  "strong": [("08:00", 60), ("16:00", 0)]})  # fmt: skip


def test_a_factor_for_seasons_is_told_by_arithmetic() -> None:
    # 3 / 2.88 = 1.0417, so 1.05: 84 and 63 %; 2.88 × 1.05 = 3.024, 3.6 × 1.05 = 3.78
    advice = dose_advice(seasonal("dli: [3, 3.79]", SUMMER, WINTER), others)
    assert advice == (
        "multiply the light of all days by 1.05: `light_percent` of 'weak' 84, 84; `peak_light_percent` of"
        " 'strong' 63. By arithmetic every date is then in its band. It was not tried, as each table stands"
        " for several dates: check the same dates again, and change it slowly"
    )
    # 3.2 / 3.6 = 0.889, so 0.88: 2.534 and 3.168
    advice = dose_advice(seasonal("dli: [2.5, 3.2]", SUMMER, WINTER), others)
    assert advice.startswith("multiply the light of all days by 0.88:")


def test_a_factor_for_seasons_leaves_moonlight_as_it_is() -> None:
    # weak gives 1.44 by moonlight alone, strong 2.16: 1.44 + 2.16 × 1.05 = 3.708, and by 1.04 3.686
    program = seasonal("dli: [3.7, 9]", SUMMER)
    channels = program.schedule.channels
    moonlit = {**channels, "weak": replace(channels["weak"], day=None)}
    program = replace(program, schedule=replace(program.schedule, channels=moonlit))
    assert "all days by 1.05: `peak_light_percent` of 'strong' 63. By" in dose_advice(
        program, others
    )


def test_where_seasons_differ_by_more_than_the_band_no_factor_is_told() -> None:
    # 3.7 / 3 = 1.2333, less than 1.25
    advice = dose_advice(seasonal("dli: [3, 3.7]", SUMMER, WINTER), others)
    assert advice == (
        "no one factor will do: over these dates zone 'crest' gets 2.88 to 3.6 mol m⁻² d⁻¹: its most is 1.25"
        " times its least, where its band allows 1.23 times. Widen the band, or make the seasons weaker:"
        " `seasons_percent` of `sky` (0: all year as at an equinox). Then check the same dates again"
    )
    # what tubes lose is not of the seasons: 3.6 and 2.88 by a loss of a fifth
    faded = Day(first=on(2), brightness={"weak": (0.8, 0.8), "strong": (0.8, 0.8)})
    assert dose_advice(seasonal("dli: [3, 3.7]", SUMMER, faded), others) == ""


@pytest.mark.parametrize(
    ("limits", "why"),
    [
        # 3.7 / 2.88 = 1.2847, so 1.29: 80 × 1.29 = 103.2 % of weak
        ("dli: [3.7, 9]", "'weak' can't give 103.2 % light"),
        # 1.05 × 100 = 105 µmol m⁻² s⁻¹; all of it comes within a minute
        ("dli: [3, 9], ppfd_max: 104", "zone 'crest' would break its `ppfd_max`"),
        ("dli: [3, 9], ppfd_rise_per_minute_max: 104",
         "zone 'crest' would break its `ppfd_rise_per_minute_max`"),
    ],
)  # fmt: skip
def test_what_speaks_against_a_factor_for_seasons_is_told(limits: str, why: str) -> None:
    advice = dose_advice(seasonal(limits, SUMMER, WINTER), others)
    assert f"would bring every date into its band by arithmetic, but {why}. It takes" in advice


def test_the_factor_for_seasons_is_true_when_it_is_pasted() -> None:
    """Two weeks of June of the natural year, with its band below what the days give."""
    text = (ROOT / "examples" / "natural-year.yaml").read_text(encoding="utf-8")
    text = text.replace("dli: [4, 14]", "dli: [2, 9]")
    span = DateSpan(dt.date(2027, 6, 14), dt.date(2027, 6, 27))

    def advice(text: str) -> str:
        found = compile(load_text("advice.yaml", text.encode()), span).findings
        return next((each.help for each in found if each.code == "PHO405"), "")

    told = advice(text)
    blue = re.search(r"`peak_light_percent` of 'blue' ([\d.]+)", told)
    white = re.search(r"`light_percent` of 'white' ([\d.]+\d)", told)
    assert blue is not None and white is not None
    pasted = text.replace("peak_light_percent: 95", f"peak_light_percent: {blue[1]}").replace(
        "[{light_percent: 70}]", f"[{{light_percent: {white[1]}}}]"
    )
    assert advice(pasted) == ""
