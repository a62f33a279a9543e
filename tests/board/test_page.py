"""docs/board.md and the example service keep to what the player does."""

from __future__ import annotations

import ast
import configparser
import re

from photoperiod.board.config import read_board
from photoperiod.source.json_schema import load_schema
from tests.conftest import ROOT

PAGE = (ROOT / "docs" / "board.md").read_text(encoding="utf-8")


def test_the_board_of_the_page_is_one() -> None:
    (text,) = re.findall(r"```yaml\n(.+?)```", PAGE, re.DOTALL)
    assert list(read_board("page", text.encode()).report) == []


def test_every_kind_and_policy_has_its_row() -> None:
    definitions = load_schema("board")["$defs"]
    words = [
        *definitions["output"]["properties"]["kind"]["enum"],
        *definitions["relay"]["properties"]["kind"]["enum"],
        *definitions["clock"]["properties"]["trust"]["enum"],
    ]
    assert len(words) == 11
    for word in words:
        assert f"\n| `{word}` |" in PAGE, word


def test_every_event_is_named() -> None:
    text = (ROOT / "photoperiod" / "board" / "player.py").read_text(encoding="utf-8")
    events = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "_event":
            events |= {c.value for c in ast.walk(node.args[0]) if isinstance(c, ast.Constant)}
    events |= {"expired", "early"}  # by their alarm's key
    assert {"start", "hold", "release", "device-lost", "log-back"} < events
    for event in events:
        assert f"`{event}`" in PAGE, event


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
