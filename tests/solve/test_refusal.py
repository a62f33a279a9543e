"""Doses that can't be had: both sides of a fight are named, and what is told as a way out is one."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass

import pytest

from photoperiod.api import ScheduleError, compile, load_text
from photoperiod.days.signals import DayFault
from photoperiod.solve.search import with_found_days
from photoperiod.solve.trial import Trials
from tests.conftest import changed
from tests.solve.schedules import COARSE, asked
from tests.solve.test_search import EXAMPLE, with_dose

ZONES = ("shelf", "floor", "z0")


@dataclass(frozen=True)
class Told:
    """The message and the help of a refusal."""

    message: str
    help: str

    @property
    def nearest(self) -> float:
        return float(self.message.split("the nearest that was found is ")[1].split(";")[0])

    @property
    def ways(self) -> list[tuple[str, str]]:
        """The keys with their values, and the zone or channel in which to write them."""
        return re.findall(r"`(\w+: [^`]+)` in (?:zone|`may_move` of) '(\w+)'", self.help)


@functools.lru_cache(maxsize=32)
def refusals(text: str) -> tuple[Told, ...]:
    with pytest.raises(ScheduleError) as fault:
        compile(load_text("asked.yaml", text.encode()))
    found = [d for d in fault.value.findings if d.severity == "error"]
    assert {each.code for each in found} == {"PHO803"}
    return tuple(Told(each.message, each.help) for each in found)


def refused(text: str) -> Told:
    (found,) = refusals(text)
    return found


def doses(text: str) -> dict[str, float]:
    return {
        id: z.dli.replay
        for id, z in compile(load_text("asked.yaml", text.encode())).program.zones.items()
    }


def pasted(text: str, line: str, where: str) -> str:
    """Return a text in which a key of a zone, or of what may move of a channel, has another value."""
    key = line.split(":")[0]
    part = "\nzones:" if where in ZONES else "\nchannels:"
    at = text.index(f"  {where}:", text.index(part))
    value = re.compile(rf"\b{key}: (\[[^\]]*\]|[\d.]+)").search(text, at)
    assert value is not None, f"{key} of {where}"
    return text[: value.start()] + line + text[value.end() :]


#: In steps of a minute, so that either bound frees it.
MORE_LIGHT = EXAMPLE.replace("wanted_dli: 7.5", "wanted_dli: 7.9")
FAR_MORE_LIGHT = with_dose(8.9)
DIM_FLOOR = with_dose(7.5, ("ppfd_max: 150", "ppfd_max: 80"))
SMALL_FLOOR = with_dose(7.5, ("dli: [2, 5]", "dli: [2, 3]"))
TWO = with_dose(7.5, ("{dli: [2, 5]", "{wanted_dli: 2.2, dli: [2, 5]"))


@pytest.mark.parametrize(
    ("text", "against", "keys"),
    [
        pytest.param(
            MORE_LIGHT,
            ["most peak light of 'blue' (95 %)", "most length of the day of 'blue' (13 h)"],
            ["peak_light_percent", "day_hours"],
            marks=pytest.mark.slow,
        ),
        (DIM_FLOOR, ["`ppfd_max` of 'floor' (80)"], ["ppfd_max"]),
        (SMALL_FLOOR, ["`dli` of 'floor' (2 to 3)"], ["dli"]),
    ],
)
def test_each_way_out_frees_the_dose_when_it_is_pasted(
    text: str, against: list[str], keys: list[str]
) -> None:
    told = refused(text)
    for each in against:
        assert each in told.message
    assert told.help.startswith("any one of these frees it, each was tried: ")
    assert [line.split(":")[0] for line, _ in told.ways] == keys
    wanted = float(re.findall(r"wanted_dli: ([\d.]+)", text)[0])
    for line, where in told.ways:
        assert doses(pasted(text, line, where))["shelf"] == pytest.approx(wanted, rel=0.01)


@pytest.mark.parametrize("text", [FAR_MORE_LIGHT, DIM_FLOOR])
def test_the_nearest_dose_can_be_had_and_little_more_can_not(text: str) -> None:
    near = refused(text).nearest
    asked = re.findall(r"wanted_dli: [\d.]+", text)[0]
    band = text.replace(asked, f"wanted_dli: [{near - 0.05:.2f}, {near + 0.02:.2f}]")
    band = band.replace("dli: [6, 9]", "dli: [5, 9]")  # where the nearest may lie below the limit
    assert doses(band)["shelf"] == pytest.approx(near, abs=0.06)
    # By hand, the most of FAR_MORE_LIGHT is blue at 94.09 % (97 % squared, the level below 95 % of light)
    # for 13 h with ramps of 2/π, and white at 0.75 of that:
    # (0.9409 × 140 × (11 + 4/π) + 0.7057 × 110 × 7) × 0.0036 = 7.78.
    assert near < 7.78 * 1.01


def test_where_nothing_frees_it_alone_the_nearest_is_what_to_ask_for() -> None:
    told = refused(FAR_MORE_LIGHT)
    assert told.help == (
        f"ask for {told.nearest} instead, which was tried;"
        " to change only one of them is not enough for the dose"
    )


def test_two_doses_that_fight_are_both_named_each_with_its_nearest() -> None:
    told = {
        zone: each
        for zone in ZONES
        for each in refusals(TWO)
        if f"zone '{zone}' asks" in each.message
    }
    assert "the dose of 'floor' (2.2)" in told["shelf"].message
    assert "the dose of 'shelf' (7.5)" in told["floor"].message
    # The floor gets 70/140 of blue and 50/110 of white, so about 0.49 of what the shelf gets.
    assert told["shelf"].nearest == pytest.approx(2.2 / 0.49, rel=0.03)
    assert told["floor"].nearest == pytest.approx(7.5 * 0.49, rel=0.03)
    ((line, where),) = told["shelf"].ways
    assert (line.split(":")[0], where) == ("wanted_dli", "floor")
    got = doses(pasted(TWO, line, where))
    assert got["shelf"] == pytest.approx(7.5, rel=0.01)


def test_the_limit_of_the_zone_itself_stands_not_against_its_dose() -> None:
    text = with_dose(
        7.5,
        ("dark_hours_min: 10}\n  floor", "dark_hours_min: 12}\n  floor"),
        ("ppfd_max: 260", "ppfd_max: 170"),
    )
    told = refused(text)
    assert "`dli` of 'shelf'" not in told.message
    assert told.nearest < 6  # and it can't be asked for within `dli: [6, 9]`
    assert told.help == (
        "let more move, or change several of these together;"
        " to change only one of them is not enough for the dose"
    )


@pytest.mark.slow
def test_where_the_others_can_not_be_had_either_that_is_told_in_place_of_the_nearest() -> None:
    """By hand: 20 µmol for 13 hours are 0.94 mol, less than the 2.2 that the floor asks for."""
    text = TWO.replace("ppfd_max: 150", "ppfd_max: 20")
    told = {each.message.split("'")[1]: each.message for each in refusals(text)}
    assert "the nearest" not in told["shelf"]
    assert "what else is asked for is not met without it either; against more" in told["shelf"]


def test_where_levels_are_too_coarse_the_band_that_a_table_gives_is_told() -> None:
    # one channel, levels of 2 % that are rounded down: its plateau is at 71 % or at 73 % of light
    each = asked(COARSE)
    text, wanted = each.text, each.wanted["z0"]
    told = refused(text)
    assert "no table was found that gives it" in told.message
    ((line, where),) = told.ways
    assert (line.split(":")[0], where) == ("wanted_dli", "z0")
    low, high = (float(each) for each in re.findall(r"[\d.]+", line.split(": ")[1]))
    assert low <= wanted <= high
    assert low <= doses(pasted(text, line, where))["z0"] <= high


def test_so_many_days_as_are_told_were_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = []
    of = Trials.of
    monkeypatch.setattr(Trials, "of", lambda *about: tried.append(about) or of(*about))
    monkeypatch.setattr("photoperiod.solve.search._Search._look", lambda *_: None)
    with pytest.raises(DayFault) as fault:
        with_found_days(asked(COARSE).schedule)
    assert f"the table of the best of {len(tried)} days gives" in fault.value.diagnostics[0].message


#: A second pair, which keeps its ratio to blue.
WHITE = """\
  white:
    ballast: pair
    tubes: [white-a]
    full_ppfd: {zones: {reef: 130}}
    may_move: {together_with: blue}
    day:
      kind: ramps
      dawn: {start: 11:00, minutes: 60}
      peaks: [{light_percent: 56}]
      dusk: {end: 19:00, minutes: 60}
"""

#: Two pairs whose lamps light at 5 %, which is more than the rise that the zone allows: 5 % of 150.
STEEP = changed(
    ("setpoints_per_channel: 16", "setpoints_per_channel: 12"),
    ("floor: {volts: 1.0, light_percent: 1}", "floor: {volts: 1.0, light_percent: 5}"),
    ("blue-a: {watts: 54}", "blue-a: {watts: 54}\n  white-a: {watts: 54}"),
    ("crest: {dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}",
     "reef: {wanted_dli: 8, dli: [5, 10], ppfd_rise_per_minute_max: 6}"),
    ("{crest: 130}}", "{reef: 150}}\n"
     "    may_move: {peak_light_percent: [30, 100], day_hours: [10, 13]}"),
    ("peaks: [{light_percent: 80}]", "peaks: [{light_percent: 70}]"),
    ("tank: bench\n", WHITE + "tank: bench\n"),
)  # fmt: skip


def test_the_nearest_dose_is_looked_for_beyond_what_the_programme_says() -> None:
    met = 6.0
    assert doses(STEEP.replace("wanted_dli: 8", f"wanted_dli: {met}"))["reef"] == pytest.approx(
        met, rel=0.01
    )
    near = refused(STEEP).nearest
    assert met < near < 8
    # No dose that a table is found for by itself is nearer, by more than its hundredths.
    by_itself = doses(STEEP.replace("wanted_dli: 8", "wanted_dli: [6.89, 6.91]"))["reef"]
    assert near > by_itself - 0.01


def test_a_rise_that_the_day_in_the_file_does_not_keep_is_told_beside_the_limit() -> None:
    said = "`ppfd_rise_per_minute_max` of 'reef' (6; the day in the file rises by 7.5)"
    assert said in refused(STEEP).message
