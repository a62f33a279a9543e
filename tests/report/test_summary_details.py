"""The details of a table: errors, what is proven, other roundings, and the doses by channel."""

from __future__ import annotations

import re

import pytest

from photoperiod.report.summary_details import table_details
from tests.checks.bench import bench
from tests.conftest import ROOT, SCHEDULE, changed, compiled

WHITE = (
    "channels:\n  blue",
    "channels:\n  white:\n    ballast: pair\n    full_ppfd: {zones: {sand: 9}}\n"
    "    day: {kind: points, points: [{time: 10:00, light_percent: 50},"
    " {time: 12:00, light_percent: 50}]}\n  blue",
)
SAND = ("zones:\n  crest", "zones:\n  sand: {dark_hours_min: 8, ppfd_max: 20}\n  crest")


def lines_of(text: str = SCHEDULE) -> list[str]:
    program = compiled(text).program
    assert program is not None
    return table_details(program, program.tables[0])


def cells(line: str) -> list[str]:
    return re.split(r"  +", line)


def test_errors_and_doses_stand_beside_the_plan() -> None:
    # 0.8 x 11 h = 8.8 h at full; x 130 x 0.0036 = 4.12 mol/m².
    lines = lines_of()
    (blue,) = (line for line in lines if line.startswith("blue  "))
    _, rows, error, hours, _lit, dark, starts = cells(blue)
    assert rows.endswith(" of 16")
    assert re.fullmatch(r"[0-9.]+ % at [0-9:]+", error)
    assert hours.endswith("(8.80)")
    assert (dark, starts) == ("12 h 00 min", "1")
    (crest,) = (line for line in lines if line.startswith("crest  "))
    _, dli, band, _, limit, night, share = cells(crest)
    assert dli.endswith("(4.12)")
    assert (band, limit, night) == ("3 to 5", "200", "12 h 00 min")
    assert share == f"blue {dli.split()[0]}"


def test_a_channel_whose_light_is_not_known_somewhere() -> None:
    (sand,) = (line for line in lines_of(changed(SAND, WHITE)) if line.startswith("sand"))
    assert "20 (not shown to be kept)" in sand
    assert "blue unknown" in sand


def test_channels_that_share_their_times_have_one_proof() -> None:
    shared = (ROOT / "examples" / "few-rows.yaml").read_text(encoding="utf-8")
    lines = lines_of(shared)
    assert sum(line.startswith("all channels together: ") for line in lines) == 1
    assert not any(line.startswith("blue: worst error") for line in lines)
    assert sum(line.startswith("blue: worst error") for line in lines_of()) == 1


def test_rows_beyond_those_that_lower_the_error_have_a_reason() -> None:
    """A table of just as many rows as it says has the same worst error: the others are for something else."""
    (told,) = (line for line in lines_of() if line.startswith("blue: worst error"))
    error = re.search(r"worst error \S+ %", told)[0]  # type: ignore[index]
    least = int(re.search(r"more than (\d+) rows lower it no further", told)[1])  # type: ignore[index]
    assert compiled(SCHEDULE).program.channels["blue"].fit.rows[least:]  # type: ignore[union-attr]
    assert told.endswith(
        "(the others bring the day closer in the mean, or guard against a welded relay)"
    )
    fewer = changed(("setpoints_per_channel: 16", f"setpoints_per_channel: {least}"))
    (told,) = (line for line in lines_of(fewer) if line.startswith("blue: worst error"))
    assert told.startswith(f"blue: {error} ")
    assert told.endswith(f"more than {least} rows lower it no further")


@pytest.mark.parametrize(("stated", "shown"), [("half-up", "half-up"), ("down", "down")])
def test_what_another_rounding_would_change(stated: str, shown: str) -> None:
    text = changed(("rounding: half-up", f"rounding: {stated}"))
    program = compiled(text).program
    assert program is not None
    (line,) = (line for line in lines_of(text) if line.startswith("if the controller"))
    worst = max(program.channels["blue"].rounding_errors.values())
    assert worst > 0
    assert line == (
        f"if the controller does not round {shown}, light changes by at most: blue"
        f" {worst * 100:.2f}".rstrip("0")
        + " % of full"
    )


def test_what_guard_rows_cost_is_told_of_the_channel_that_has_them_and_of_its_neighbour() -> None:
    # At 10 % weak is at its floor, which a welded relay gives in any case: strong alone is at risk.
    faint = ("08:00, light_percent: 80}, {time: 18:00, light_percent: 80", "09:00, light_percent: 10},"
             " {time: 17:00, light_percent: 10")  # fmt: skip
    shared = ("setpoints_per_channel: 24", "setpoints_per_channel: 8\n  shared_times: true")
    lines = lines_of(bench(("between: hold", "between: line"), shared, faint))
    own = "a row of level 0 before the lamp lights keeps it at its floor if its relay is welded"
    other = "its times have such a row for another channel"
    assert [line.split(";")[0] for line in lines if "; without " in line] == [
        f"weak: {other}",
        f"strong: {own}",
    ]
