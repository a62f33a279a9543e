from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from photoperiod.diagnostics.model import Path
from photoperiod.drive.depreciation import Depreciation, DepreciationKind
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.readings_files import ReadingsFiles
from photoperiod.schedule.tube import Tube
from photoperiod.schedule.tubes import build_tube

AT = ("tubes", "a")


def tube(**data: Any) -> Tube:
    findings = Findings()
    cursor = Cursor({"watts": 54} | data, AT, frozenset())
    return build_tube("a", cursor, ReadingsFiles({}, findings), findings)


def told(**data: Any) -> list[tuple[str, Path]]:
    findings = Findings()
    try:
        cursor = Cursor({"watts": 54} | data, AT, frozenset())
        build_tube("a", cursor, ReadingsFiles({}, findings), findings)
    except AlreadyReported:
        assert findings
    return [(each.code, each.path[2:]) for each in findings]


def points(*given: tuple[float, float]) -> dict[str, Any]:
    listed = [{"lit_hours": hours, "light_percent": light} for hours, light in given]
    return {"kind": "points", "points": listed}


def test_a_tube_with_everything() -> None:
    assert tube(
        label="T5", fitted="2027-03-02T10:00", lit_hours=5, burn_in_full_hours=12,
        replace_after_hours=9000, light_share=2,
        depreciation={"kind": "exponential", "loss_percent_per_1000_h": 4},
    ) == Tube(
        id="a", label="T5", watts=54.0, fitted=dt.datetime(2027, 3, 2, 10), lit_hours=5.0,
        burn_in_full_hours=12.0, replace_after_hours=9000.0, light_share=2.0,
        depreciation=Depreciation(kind=DepreciationKind.EXPONENTIAL, loss_per_1000_h=0.04),
    )  # fmt: skip


def test_a_tube_with_its_watts_only() -> None:
    assert tube() == Tube(id="a", label="a", watts=54.0, light_share=54.0)


@pytest.mark.parametrize(
    ("fitted", "codes"),
    [
        ("2028-02-29", []),
        ("2027-02-29", ["PHO306"]),
        ("1980-01-01", []),
        ("1979-12-31", ["PHO306"]),
    ],
)
def test_dates_that_are_none_or_too_early(fitted: str, codes: list[str]) -> None:
    assert [code for code, _ in told(fitted=fitted)] == codes


@pytest.mark.parametrize(
    ("life", "lit", "burn_in", "is_told"),
    [(100, 88, 12, False), (100, 88, 12.5, True), (100, 120, 1, True), (100, 120, 0, False)],
)
def test_a_burn_in_must_fit_into_the_life_of_a_tube(
    life: float, lit: float, burn_in: float, is_told: bool
) -> None:
    found = told(replace_after_hours=life, lit_hours=lit, burn_in_full_hours=burn_in)
    assert found == ([("PHO327", ("burn_in_full_hours",))] if is_told else [])


def test_depreciation_by_points() -> None:
    found = tube(depreciation=points((0, 105), (100, 100), (9000, 85))).depreciation
    assert found == Depreciation(
        kind=DepreciationKind.POINTS, hours=(0.0, 100.0, 9000.0), light=(1.05, 1.0, 0.85)
    )


@pytest.mark.parametrize(
    ("given", "key"),
    [
        (((0, 100), (0, 90)), "lit_hours"),
        (((100, 100), (50, 90)), "lit_hours"),
        (((0, 95), (100.1, 100)), "light_percent"),
        (((0, 95), (100, 100)), None),  # up to a hundred hours light may rise
    ],
)
def test_hours_rise_and_light_falls(
    given: tuple[tuple[float, float], ...], key: str | None
) -> None:
    found = told(depreciation=points(*given))
    assert found == ([] if key is None else [("PHO328", ("depreciation", "points", 1, key))])
