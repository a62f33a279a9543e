"""``photoperiod schema``."""

from __future__ import annotations

import json
from pathlib import Path

from photoperiod.source.json_schema import NAMES, load_schema
from tests.conftest import Run


def test_schema_prints_what_editors_need(run: Run) -> None:
    for name in NAMES:
        assert json.loads(run("schema", name)[1]) == load_schema(name)
    path = Path(run("schema", "--path")[1].strip())
    assert json.loads(path.read_text(encoding="utf-8")) == load_schema("schedule")
