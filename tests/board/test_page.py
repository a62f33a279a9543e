"""docs/board.md and the example service keep to what the player does."""

from __future__ import annotations

import configparser
import re

from photoperiod.board.config import OutputKind, RelayKind, TrustPolicy, read_board
from photoperiod.source.json_schema import load_schema
from tests.conftest import ROOT

PAGE = (ROOT / "docs" / "board.md").read_text(encoding="utf-8")


def test_the_board_of_the_page_is_one() -> None:
    (text,) = re.findall(r"```yaml\n(.+?)```", PAGE, re.DOTALL)
    assert list(read_board("page", text.encode()).report) == []


def test_every_kind_and_policy_has_its_row() -> None:
    definitions = load_schema("board")["$defs"]
    words = []
    for definition, key, kinds in (
        ("output", "kind", OutputKind),
        ("relay", "kind", RelayKind),
        ("clock", "trust", TrustPolicy),
    ):
        words += definitions[definition]["properties"][key]["enum"]
        assert set(definitions[definition]["properties"][key]["enum"]) == set(kinds)
    assert len(words) == 11
    for word in words:
        assert f"\n| `{word}` |" in PAGE, word


def test_the_service_restarts_and_never_sets_anything_dark_by_a_crash() -> None:
    service = configparser.ConfigParser(strict=False, interpolation=None)
    service.optionxform = str  # type: ignore[assignment,method-assign]
    service.read(ROOT / "examples" / "board" / "photoperiod.service", encoding="utf-8")
    assert service["Service"]["Restart"] == "always"
    assert service["Service"]["Type"] == "simple"
    assert service["Unit"]["StartLimitIntervalSec"] == "0"
    assert "ExecStopPost" not in service["Service"]
    assert "HUP" in service["Service"]["ExecReload"]
    assert "time-sync.target" in service["Unit"]["After"]
