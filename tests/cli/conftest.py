"""What the tests of several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Run, changed

PLACE = (
    "controller:\n",
    "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\ncontroller:\n",
)
SUN = (
    "      kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
    "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
    "      kind: sun\n      peak_light_percent: 80\n",
)
DATES = ("--from", "2027-03-01", "--to", "2027-04-15")


@pytest.fixture
def exported(run: Run, write: Callable[..., Path], tmp_path: Path) -> Callable[..., Path]:
    def export(kind: str, *changes: tuple[str, str], dates: tuple[str, ...] = ()) -> Path:
        target = tmp_path / f"table.{kind}"
        code, _, err = run("export", kind, write(changed(*changes)), *dates, "-o", target)
        assert code == 0, err
        return target

    return export


@pytest.fixture
def nothing_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a test fail where the long work begins."""

    def begun(*_: object, **__: object) -> None:
        raise AssertionError("the tables were begun")

    monkeypatch.setattr("photoperiod.program.dated_tables.compile_program", begun)
