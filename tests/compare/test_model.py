"""Values of a comparison."""

from __future__ import annotations

from photoperiod.compare.model import Finding, Limits, time_text
from photoperiod.sky.clock import Clock
from tests.compare.logs import (
    DAY_S,
    START,
)
from tests.conftest import Run


def test_instants_have_their_offset() -> None:
    winter, summer = START.timestamp(), START.timestamp() + 120 * DAY_S
    azores = Clock.civil("Atlantic/Azores")
    assert time_text(azores, winter + 0.9) == "2027-03-02T00:00:00-01:00"
    assert time_text(azores, summer) == "2027-06-30T01:00:00Z"
    assert time_text(Clock.utc(), winter) == "2027-03-02T01:00:00Z"


def test_the_limits_are_those_that_the_help_shows(run: Run) -> None:
    _, out, _ = run("compare", "--help")
    limits = Limits()
    for shown in (100 * limits.light, 100 * limits.dose, limits.time_s, limits.gap_s / 60):
        assert f"default: {shown}" in " ".join(out.split())
    assert Finding("PHO601", "blue", "off").is_warning
