"""Reading files, and how findings are shown."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Run


def test_files_that_cannot_be_read_are_exit_code_4(run: Run, tmp_path: Path) -> None:
    for file in (tmp_path / "missing.yaml", tmp_path, "a\0b"):
        code, out, err = run("check", file)
        assert code == 4
        assert out == ""
        assert err.startswith("error PHO501: can't read '")
        assert "  try: " in err


def test_an_endless_file_is_refused_at_once(run: Run) -> None:
    code, out, _ = run("check", "/dev/zero")
    assert code == 1
    assert "PHO104" in out


def test_colour_follows_option_then_environment(
    write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    from photoperiod.cli.loading import wants_colour

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert wants_colour("auto", Terminal())
    assert not wants_colour("auto", io.StringIO())
    monkeypatch.setenv("TERM", "dumb")
    assert not wants_colour("auto", Terminal())
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert wants_colour("auto", io.StringIO())
    monkeypatch.setenv("NO_COLOR", "1")
    assert not wants_colour("auto", Terminal())
    assert wants_colour("always", io.StringIO())
    monkeypatch.delenv("NO_COLOR")
    assert not wants_colour("never", Terminal())
