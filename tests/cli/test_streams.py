"""What strangers can name or write, and what reaches a terminal or a pipe of it."""

from __future__ import annotations

import io
import sys
import unicodedata
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from photoperiod.cli import main
from photoperiod.cli.streams import SafeStream, safe_streams, show_wrong_use, write_bytes
from tests.conftest import SCHEDULE, changed

#: Clears a screen, sets a title, hides text, goes to the start of the line, turns text around, and begins
#: a line that looks like a message.
EVIL = "a\x1b[2J\x1b]0;x\x07\x1b[8m\x9b1m\r\u202e\u2066\nerror PHO999: x"


class Terminal(io.TextIOWrapper):
    """A stream that says it is a terminal, so that nothing strips escapes from it."""

    def __init__(self, is_terminal: bool) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8", errors="backslashreplace", newline="")
        self.is_terminal = is_terminal

    def isatty(self) -> bool:
        return self.is_terminal

    def text(self) -> str:
        self.flush()
        return self.buffer.getvalue().decode()  # type: ignore[attr-defined,no-any-return]


def printed(
    monkeypatch: pytest.MonkeyPatch, is_terminal: bool, *arguments: object, stdin: bytes = b""
) -> str:
    """Everything that a command prints."""
    out, err = Terminal(is_terminal), Terminal(is_terminal)
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin), encoding="utf-8"))
    monkeypatch.setattr(sys, "argv", ["photoperiod", *map(str, arguments)])
    monkeypatch.setenv("NO_COLOR", "1")
    with pytest.raises(SystemExit):
        main()
    assert sys.stdout is out and sys.stderr is err
    return out.text() + err.text()


def assert_safe(text: str) -> None:
    assert text
    for character in set(text) - {"\n"}:
        assert unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Zl", "Zp"), repr(text)
    assert not any(line.startswith("error PHO999") for line in text.splitlines()), text


def quoted(text: str) -> str:
    """A text as YAML's double quotes take it."""
    return '"' + "".join(f"\\U{ord(character):08x}" for character in text) + '"'


#: The schedule with a text of strangers in one place each.
DAMAGED = {
    "title": ("title: Test bench", f"title: {quoted(EVIL)}"),
    "key": ("title: Test bench", f"title: x\n{quoted(EVIL)}: 1"),
    "id": ("tank: bench", f"tank: {quoted(EVIL)}"),
    "channel": ("  blue:\n", f"  {quoted(EVIL)}:\n"),
    "zone": ("zones: {crest: 130}", f"zones: {{{quoted(EVIL)}: 130}}"),
    "value": ("between: line", f"between: {quoted(EVIL)}"),
    "raw": ("title: Test bench", f"title: {EVIL.splitlines()[0]}"),
    "place": ("controller:\n", f"place: {{latitude: 38, longitude: -29, time_zone: {quoted(EVIL)}}}\n"
              "controller:\n"),
}  # fmt: skip


@pytest.mark.parametrize("is_terminal", [True, False])
@pytest.mark.parametrize("where", DAMAGED)
def test_what_a_schedule_holds(
    monkeypatch: pytest.MonkeyPatch,
    write: Callable[..., Path],
    where: str,
    is_terminal: bool,
) -> None:
    path = write(changed(DAMAGED[where]))
    for form in ("text", "json", "sarif"):
        assert_safe(printed(monkeypatch, is_terminal, "check", path, "--format", form))
    if where == "title":
        assert_safe(printed(monkeypatch, is_terminal, "compile", path, "-o", path.parent / "out"))


@pytest.mark.parametrize("is_terminal", [True, False])
def test_names_of_files(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, is_terminal: bool) -> None:
    missing = tmp_path / EVIL.replace("/", "")
    there = tmp_path / ("there" + EVIL)
    there.write_text(SCHEDULE, encoding="utf-8")
    target = tmp_path / ("out" + EVIL)
    for arguments in (
        ("check", missing),
        ("check", there),
        ("compile", there, "-o", target),
        ("compile", there, "-o", there),
        ("compile", there, "--date", "2027-03-02", "--ledger", there, "-o", target),
        ("export", "json", there, "-o", there),
        ("export", "json", there, "-o", tmp_path / ("table" + EVIL)),
        ("replay", there),
        ("replay", missing, "--at", "12:00"),
        ("compare", there, there),
        ("sky", there, "--date", "2027-03-02"),
        ("new", there),
        ("publish", there, "--broker", "localhost", "--topic", "t"),
        ("explain", EVIL),
        ("schema", EVIL),
        (EVIL,),
        ("check", "--" + EVIL),
        ("check", there, there, EVIL),
        ("check", there, "--format", EVIL),
        ("replay", there, "--at", EVIL),
    ):
        assert_safe(printed(monkeypatch, is_terminal, *arguments))


@pytest.mark.parametrize("is_terminal", [True, False])
def test_what_a_log_and_a_table_hold(
    monkeypatch: pytest.MonkeyPatch, write: Callable[..., Path], tmp_path: Path, is_terminal: bool
) -> None:
    place = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"
    path = write(changed(DAMAGED["title"], ("controller:\n", place + "controller:\n")))
    table, log = tmp_path / "table.json", tmp_path / "log.csv"
    printed(monkeypatch, False, "export", "json", path, "-o", table)
    assert_safe(printed(monkeypatch, is_terminal, "replay", table))
    evil = '"' + EVIL + '"'
    for text in (
        f"time,{evil}\n1803945600,5\n",
        f"time,blue_volts,{evil}\n1803945600,5,1\n1803945660,5,1\n",
        f'time,blue_volts,{evil[:-1]}blue_volt"\n1803945600,5,1\n1803945660,5,1\n',
        f"time,channel,volts,event\n1803945600,{evil},5,\n1803945660,blue,5,{evil}\n",
        f"time,blue_volts\n{evil},5\n{evil},5\n",
        f"time,blue_relay\n1803945600,{evil}\n1803945660,{evil}\n",
    ):
        log.write_text(text, encoding="utf-8")
        assert_safe(printed(monkeypatch, is_terminal, "compare", table, log))
    assert_safe(printed(monkeypatch, is_terminal, "compare", table, log, "--log-time-zone", EVIL))
    assert_safe(printed(monkeypatch, is_terminal, "compare", table, log, "--channel", EVIL))


def test_a_bug_of_ours_says_nothing_unsafe(
    monkeypatch: pytest.MonkeyPatch, write: Callable[..., Path]
) -> None:
    import photoperiod.program.dated_tables

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError(EVIL)

    monkeypatch.setattr(photoperiod.program.dated_tables, "compile_program", broken)
    path = write(SCHEDULE)
    assert_safe(printed(monkeypatch, True, "compile", path, "-o", path.parent / "out"))


def test_colours_line_ends_and_progress_pass() -> None:
    below = io.StringIO(newline="")
    stream = SafeStream(below)
    stream.writelines(
        ["\x1b[31;1merror\x1b[0m\n", "a,b\r\n", "\rfitting: 1", "x\ry\x1b[8m\x1b[31K"]
    )
    assert below.getvalue() == (
        "\x1b[31;1merror\x1b[0m\na,b\r\n\rfitting: 1x\\x0dy\\x1b[8m\\x1b[31K"
    )
    assert stream.write("\x1b") == 1 and stream.getvalue().endswith("\\x1b")


class Console(io.StringIO):
    """A stream that is a terminal, with bytes below it."""

    buffer = io.BytesIO()

    def isatty(self) -> bool:
        return True


def test_nothing_goes_around_the_stream_to_a_console_of_windows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """click 8 writes to such a console by `stream.buffer`, if it has one (`click/_winconsole.py`)."""
    console = Console()
    assert SafeStream(console).buffer is Console.buffer
    monkeypatch.setattr(sys, "platform", "win32")
    assert not hasattr(SafeStream(console), "buffer")
    assert hasattr(SafeStream(io.TextIOWrapper(io.BytesIO())), "buffer")  # a pipe


def test_bytes_go_out_as_they_are_or_as_text(monkeypatch: pytest.MonkeyPatch) -> None:
    pipe = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    monkeypatch.setattr(sys, "stdout", SafeStream(pipe))
    write_bytes(b"a,\xff\r\n")
    assert pipe.buffer.getvalue() == b"a,\xff\r\n"  # type: ignore[attr-defined]
    console = Console()
    monkeypatch.setattr(sys, "stdout", SafeStream(console))
    monkeypatch.setattr(sys, "platform", "win32")
    write_bytes("µ\n".encode() + b"\xff")
    assert console.getvalue() == "µ\n\\xff"


def test_streams_are_put_back_and_a_closed_one_stays_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    before = sys.stderr
    with pytest.raises(KeyError), safe_streams():
        assert sys.stdout is None and isinstance(sys.stderr, SafeStream)
        raise KeyError
    assert sys.stdout is None and sys.stderr is before


def test_a_message_goes_on_in_indented_lines_only(capsys: pytest.CaptureFixture[str]) -> None:
    show_wrong_use(click.UsageError("one of\n\ta,\n  b\nerror PHO999: x"))
    assert capsys.readouterr().err == "Error: one of\n\ta,\n  b\\x0aerror PHO999: x\n"
