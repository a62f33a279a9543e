"""A whole log compared with a table: each fault is named once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from photoperiod.compare.findings import _merged
from photoperiod.compare.model import Finding
from photoperiod.formats import table_json
from tests.compare.logs import (
    PLACE,
    SPAN,
    Compare,
    Fault,
    codes,
    log,
)
from tests.conftest import Run, changed, compiled


def test_a_day_as_planned_has_nothing_to_say(table: Path, compare: Compare) -> None:
    code, out, _ = compare(log(table))
    assert code == 0 and codes(out) == []
    # the worked path of the plan: 80 % from 10:00 to 20:00 and ramps of an hour: 8.8 hours, DLI 4.118
    assert "blue: 8.7" in out and "crest: 4.0" in out and "(+0.0 %)" in out


@pytest.mark.parametrize(
    ("fault", "expected", "words"),
    [
        # 7 % less volts on a square law: 1 − 0.93² = 13.5 % less light
        (lambda n, v, r: (v * 0.93, r), ["PHO601", "PHO602", "PHO602"], "13.5 % less"),
        # off from 12:00 to 14:47 of the plan: 167 minutes
        (lambda n, v, r: None if 43_200 < n < 53_200 else (v, r), ["PHO603"],
         "nothing logged for 2 h 47 min in 1 gap"),
        (lambda n, v, r: (3.0, r) if n < 38_000 else (v, r), ["PHO602", "PHO602", "PHO606", "PHO620"],
         "stuck at 9.0 % light"),
        (lambda n, v, r: (v, True), ["PHO607", "PHO615"], "relay closed where the table has it open"),
        (lambda n, v, r: (v, r and not 43_200 <= n < 46_800), ["PHO601", "PHO602", "PHO602", "PHO607"],
         "relay open where the table has it closed, first at 2027-03-02T12:00:00-01:00;"
         " otherwise than the table for 1 h 00 min"),
    ],
)  # fmt: skip
def test_each_fault_is_named(
    table: Path, compare: Compare, fault: Fault, expected: list[str], words: str
) -> None:
    code, out, _ = compare(log(table, fault))
    assert code == 1
    assert codes(out) == expected
    assert words in out


def test_findings_with_one_text_become_one_and_notes_come_last() -> None:
    found = _merged(
        [
            Finding("PHO609", "", "start", is_warning=False),
            Finding("PHO603", "blue", "nothing logged"),
            Finding("PHO601", "white", "off"),
            Finding("PHO603", "white", "nothing logged"),
        ]
    )
    assert found == (
        Finding("PHO601", "white", "off"),
        Finding("PHO603", "blue, white", "nothing logged"),
        Finding("PHO609", "", "start", is_warning=False),
    )


def meter(table: Path, fault: Fault, days: int = 1) -> str:
    """A log of PPFD, 130 µmol m⁻² s⁻¹ at full; the fault gets and gives volts and relay."""

    def ppfd(n: int, volts: float, relay: bool) -> tuple[float, bool] | None:
        given = fault(n, volts, relay)
        if given is None:
            return None
        light = (max(given[0], 1.0) / 10) ** 2 if given[1] else 0.0  # at least the floor
        return 130 * light, given[1]

    return log(table, ppfd, days=days, head="time,crest_ppfd,lamp")


def test_welded_contacts_in_a_week_of_ppfd(table: Path, compare: Compare) -> None:
    """A lamp at its floor of 1 % gives 1.3 µmol m⁻² s⁻¹ all night, which is 1 % of full."""
    text = meter(table, lambda n, v, r: (max(v, 1.0) if r else 1.0, True), days=7)
    code, out, _ = compare(text)
    assert (code, codes(out)) == (1, ["PHO615", "PHO605"])
    assert "crest: light where the table is dark, for 83 h" in out and "1.3 µmol m⁻² s⁻¹" in out
    assert compare(text, "--dark-below-ppfd", "1.5")[0] == 0


@pytest.mark.parametrize("hours", [(10_800, 11_340), None])
def test_nine_minutes_at_night_and_three_of_every_hour(
    table: Path, compare: Compare, hours: tuple[int, int] | None
) -> None:
    def fault(n: int, volts: float, relay: bool) -> tuple[float, bool]:
        is_on = hours[0] <= n < hours[1] if hours else n % 3600 < 180
        return (10.0, True) if is_on else (volts, relay)

    for text in (meter(table, fault), log(table, fault)):
        code, out, _ = compare(text)
        assert code == 1 and "PHO615" in codes(out)
        assert ("for 0 h 09 min in all: up to" in out) is (hours is not None)


def test_three_dark_minutes_of_every_hour(table: Path, compare: Compare) -> None:
    """5 % less, which a dose may be off."""
    text = meter(table, lambda n, v, r: (0.0, False) if n % 3600 < 180 else (v, r))
    code, out, _ = compare(text, "--dose-within-percent", "6")
    assert (code, codes(out)) == (1, ["PHO601"])


def test_moonlight_may_be_off_by_half_of_itself(run: Run, tmp_path: Path) -> None:
    """A moon of 1.5 % that does not shine, or shines 1.8 times as bright, is within 2 % of full."""
    moonlight = "    moonlight: {kind: steady, light_percent: 1.5, start: 22:00, end: 06:00}\n"
    moon = ("    day:\n", moonlight + "    day:\n")
    outcome = compiled(changed(PLACE, moon), SPAN)
    assert outcome.program is not None
    with_moon = tmp_path / "moon.json"
    with_moon.write_bytes(table_json.render(outcome.program, outcome.report.sorted()))
    path = tmp_path / "log.csv"
    for factor, found in ((1.0, []), (1.3, []), (1.8, ["PHO601"]), (0.0, ["PHO601"])):

        def fault(n: int, volts: float, relay: bool, by: float = factor) -> tuple[float, bool]:
            return (max(volts, 1.0) * by**0.5, by > 0) if n < 4 * 3600 else (volts, relay)

        text = meter(with_moon, fault)
        path.write_text(text, encoding="utf-8")
        _, out, _ = run("compare", with_moon, path, "--within-seconds", "120")
        assert codes(out) == found, factor


def test_what_a_log_can_t_show_is_said(table: Path, compare: Compare) -> None:
    _, out, _ = compare(log(table))
    assert "not seen: what the lamps gave (the log has no PPFD of a zone)\n" in out
    _, out, _ = compare(log(table, head="time,blue_volts,lamp"))
    assert "whether blue went dark (no relay in the log; it is taken as planned)" in out
    _, out, _ = compare(meter(table, lambda n, v, r: (v, r)))
    assert "not seen" not in out
    day = meter(table, lambda n, v, r: (v, r) if 39_600 < n < 64_800 else None)
    code, out, _ = compare(day, "--part-of-day")
    assert code == 0 and "not seen: the darkness of crest (no record of it)" in out
    _, out, _ = compare(meter(table, lambda n, v, r: (v, r)), "--dark-below-ppfd", "2")
    assert "a relay of blue that stays closed (its floor gives crest 1.3 µmol m⁻² s⁻¹)" in out
    data = json.loads(compare(log(table), "--format", "json")[1])
    assert data["not_seen"] == ["what the lamps gave (the log has no PPFD of a zone)"]


def test_a_meter_whose_zero_is_low_shows_no_light(table: Path, compare: Compare) -> None:
    text = log(
        table,
        lambda n, v, r: ((v / 10) ** 2 * 130 - 0.6 if r else -0.6, r),
        head="time,crest_ppfd,lamp",
    )
    assert compare(text)[0] == 0
