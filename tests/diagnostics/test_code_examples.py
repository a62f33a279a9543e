from __future__ import annotations

from typing import Any

import pytest
import yaml

from photoperiod.api import load_text
from photoperiod.diagnostics.code_examples import EXAMPLES
from photoperiod.diagnostics.codes import CODES
from tests.conftest import SCHEDULE

#: What the whole schedule also needs so that a part fits into it.
BESIDE: dict[str, dict[str, Any]] = {
    "PHO426": {
        "place": {"latitude": 38.1, "longitude": -29.5, "time_zone": "Atlantic/Azores"},
        "channels": {"blue": {"day": {"kind": "sun", "peak_light_percent": 80}}},
    },
}  # fmt: skip


def merged(whole: Any, part: Any) -> Any:
    """Return a value with the keys of a part put in; a value with another `kind` is replaced."""
    if not (isinstance(whole, dict) and isinstance(part, dict)) or "kind" in part:
        return part
    return whole | {key: merged(whole.get(key), value) for key, value in part.items()}


def read(text: str) -> Any:
    return yaml.load(text, yaml.BaseLoader)  # 09:00 stays text


@pytest.mark.parametrize("code", EXAMPLES)
def test_an_example_makes_a_schedule_without_that_finding(code: str) -> None:
    assert code in CODES
    part = read(EXAMPLES[code])
    whole = merged(merged(read(SCHEDULE), part), BESIDE.get(code, {}))
    report = load_text(code, yaml.safe_dump(plain(whole)).encode()).report
    assert code not in {diagnostic.code for diagnostic in report}


def plain(value: Any) -> Any:
    """Return a value with numbers, true and false where text looks like them."""
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [plain(each) for each in value]
    if isinstance(value, str) and ":" not in value and value.count("-") != 2:
        return yaml.safe_load(value)
    return value


def test_examples_are_short_and_fit_a_terminal() -> None:
    for text in EXAMPLES.values():
        assert text == text.strip("\n")
        assert len(text.splitlines()) <= 10
        assert max(map(len, text.splitlines())) <= 100


def test_each_code_of_the_shape_and_the_meaning_that_a_line_mends_has_an_example() -> None:
    without = {code for code in CODES if code.startswith("PHO2")} - set(EXAMPLES)
    assert without == {"PHO209", "PHO210"}
