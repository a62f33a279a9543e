from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from photoperiod.source.hand_written import HAND_WRITTEN
from photoperiod.source.json_schema import NAMES, load_schema

ROOT = Path(__file__).resolve().parents[2]


def test_the_kinds_are_those_whose_schema_wants_a_version_by_its_own_name() -> None:
    keys = {name: load_schema(name).get("properties", {}).get(name, {}) for name in NAMES}
    assert set(HAND_WRITTEN) == {name for name, key in keys.items() if "const" in key}


@pytest.mark.parametrize("name", sorted(HAND_WRITTEN))
def test_each_kind_has_an_example_that_begins_with_its_key(name: str) -> None:
    examples = [yaml.safe_load(path.read_bytes()) for path in (ROOT / "examples").rglob("*.yaml")]
    assert any(isinstance(data.get(name), int) for data in examples)


def test_names_stand_in_a_sentence_and_purposes_after_it() -> None:
    for kind in HAND_WRITTEN.values():
        assert re.match("an? ", kind.name)
        assert not kind.purpose.endswith(".")
