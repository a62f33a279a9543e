"""The table that logs are compared with, and the command that compares them."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.formats import table_json
from tests.compare.logs import PLACE, SPAN, Compare
from tests.conftest import Run, changed, compiled


@pytest.fixture(scope="session")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    outcome = compiled(changed(PLACE), SPAN)
    assert outcome.program is not None
    path = tmp_path_factory.mktemp("table") / "table.json"
    path.write_bytes(table_json.render(outcome.program, outcome.report.sorted()))
    return path


@pytest.fixture
def compare(run: Run, table: Path, tmp_path: Path) -> Compare:
    def run_compare(text: str, *more: object) -> tuple[int, str, str]:
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode())
        return run("compare", table, path, *more)

    return run_compare
