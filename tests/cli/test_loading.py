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


@pytest.mark.parametrize(
    "arguments",
    [
        ("check",),
        ("compile", "-o", "out"),
        ("report", "-o", "tank.html"),
        ("tubes", "--from", "2027-03-01"),
        ("calendar", "--date", "2027-03-01"),
        ("solve",),
        ("export", "json", "-o", "table.json"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_a_file_without_a_schedule_has_a_finding_at_its_first_line(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "tank.yaml"
    words = arguments[:2] if arguments[0] == "export" else arguments[:1]
    for content, code in (
        (b"", "PHO100"),
        (b"# only a comment\n", "PHO100"),
        (b"\xff" * 4, "PHO109"),
    ):
        file.write_bytes(content)
        found, out, err = run(*words, "tank.yaml", *arguments[len(words) :])
        assert found == 1
        assert f"tank.yaml:1:1  error {code} " in out + err
        assert "  try: " in out + err and "Traceback" not in err
        assert [path.name for path in tmp_path.iterdir()] == ["tank.yaml"]
    file.unlink()
    file.mkdir()
    found, out, err = run(*words, "tank.yaml", *arguments[len(words) :])
    assert (found, out) == (4, "")
    assert err.startswith(
        "error PHO501: can't read 'tank.yaml': is a folder\n  try: check the name"
    )


def test_a_schedule_that_was_not_answered_to_its_end_is_told(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("tank.yaml.answers").write_text("# Answers\n", encoding="utf-8")
    code, _, err = run("check", "tank.yaml")
    assert code == 4
    assert "try: `photoperiod new tank.yaml` goes on from what was answered, and writes it" in err
    _, _, err = run("check", "other.yaml")
    assert "try: check the name; `photoperiod new FILE` writes a first schedule" in err


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
