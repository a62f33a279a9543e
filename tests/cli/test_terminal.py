"""What a stream can show, tried on pseudo-terminals: widths, characters, and a whole run on one."""

from __future__ import annotations

import fcntl
import io
import os
import re
import select
import struct
import subprocess
import sys
import termios
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

import pytest

from photoperiod.cli.terminal import PLAIN, prepare, room_of
from photoperiod.text import width
from tests.conftest import ROOT, changed

LOCALES = ("LC_ALL", "LC_CTYPE", "LANG")


@contextmanager
def terminal(columns: int) -> Iterator[tuple[int, TextIO]]:
    """Open a pseudo-terminal: the end of a person, and the stream of a program."""
    person, program = os.openpty()
    fcntl.ioctl(program, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    with os.fdopen(program, "w", encoding="utf-8") as stream:
        try:
            yield person, stream
        finally:
            os.close(person)


def shown(text: str, monkeypatch: pytest.MonkeyPatch, **locales: str) -> bytes:
    """Return the bytes that a terminal gets."""
    for name in LOCALES:
        monkeypatch.delenv(name, raising=False)
    for name, value in locales.items():
        monkeypatch.setenv(name, value)
    with terminal(80) as (person, stream):
        prepare(stream)
        stream.write(text)
        stream.flush()
        return os.read(person, 4096)


@pytest.mark.parametrize("text", ["a\nb\n", "a,b\r\nc\r\n"])
def test_line_ends_go_out_as_they_are_written(text: str) -> None:
    """A stream of Windows makes CR LF of each line feed (documentation of `io.TextIOWrapper`)."""
    below = io.BytesIO()
    stream = io.TextIOWrapper(below, encoding="cp1252", newline="\r\n")
    prepare(stream)
    stream.write(text)
    stream.flush()
    assert below.getvalue() == text.encode()


@pytest.mark.parametrize("columns", [60, 80, 200])
def test_a_terminal_has_its_width(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    with terminal(columns) as (_, stream):
        assert room_of(stream) == columns
        monkeypatch.setenv("COLUMNS", "72")
        assert room_of(stream) == 72
        for nonsense in ("0", "-5", "wide", "7.5"):
            monkeypatch.setenv("COLUMNS", nonsense)
            assert room_of(stream) == columns


def test_what_is_no_terminal_has_no_width(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    with (tmp_path / "out").open("w", encoding="utf-8") as file:
        assert room_of(file) is None
    assert room_of(file) is None  # closed
    assert room_of(io.StringIO()) is None
    assert room_of(None) is None  # type: ignore[arg-type]  # sys.stdout of a process without one
    with terminal(0) as (_, stream):
        assert room_of(stream) is None  # a terminal that does not know


@pytest.mark.parametrize(
    ("locales", "is_plain"),
    [
        ({"LC_ALL": "C"}, True), ({"LC_ALL": "POSIX"}, True), ({"LANG": "C"}, True),
        ({"LC_ALL": "C.UTF-8", "LANG": "C"}, False), ({"LC_CTYPE": "pt_PT.UTF-8"}, False),
        ({"LC_CTYPE": "C", "LANG": "pt_PT.UTF-8"}, True), ({}, False),
    ],
)  # fmt: skip
def test_a_terminal_of_plain_c_gets_likenesses(
    locales: dict[str, str], is_plain: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "250 µmol m⁻² s⁻¹, 18.5°, …"
    found = shown(text, monkeypatch, **locales)
    assert found == (b"250 umol m-2 s-1, 18.5d, ..." if is_plain else text.encode())


def test_other_characters_are_escapes_there(monkeypatch: pytest.MonkeyPatch) -> None:
    assert shown("水槽: é", monkeypatch, LC_ALL="C") == rb"\u6c34\u69fd: \xe9"


def test_a_file_is_utf_8_whatever_the_locale(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("LC_ALL", "C")
    with (tmp_path / "out").open("w", encoding="ascii") as file:
        prepare(file)
        file.write("µ")
    assert (tmp_path / "out").read_bytes() == "µ".encode()


def test_likenesses_keep_columns_straight() -> None:
    assert all(len(plain) == width(sign) for sign, plain in PLAIN.items() if sign != "…")
    assert all(plain.isascii() for plain in PLAIN.values())


def run_on_terminal(columns: int, folder: Path, *words: str, **environment: str) -> list[str]:
    """Return the lines that a person sees of a command in a folder."""
    left_out = {*LOCALES, "COLUMNS", "NO_COLOR", "FORCE_COLOR"}
    kept = {name: value for name, value in os.environ.items() if name not in left_out}
    found = b""
    with terminal(columns) as (person, stream):
        process = subprocess.Popen(
            [sys.executable, "-m", "photoperiod", *words],
            stdout=stream, stderr=stream, stdin=subprocess.DEVNULL, cwd=folder,
            env=kept | {"TERM": "xterm", "PYTHONPATH": str(ROOT)} | environment,
        )  # fmt: skip
        is_over = False
        while not is_over:
            is_over = process.poll() is not None  # what it wrote before is still there
            while select.select([person], [], [], 0.05)[0]:
                found += os.read(person, 65_536)
    assert process.returncode == 0
    return found.decode().replace("\r\n", "\n").splitlines()


def test_a_check_on_a_narrow_and_on_a_wide_terminal(tmp_path: Path) -> None:
    text = changed(("dli: [3, 5]", "dli: [9, 14]"))
    (tmp_path / "tank.yaml").write_text(text, encoding="utf-8")

    plain = run_on_terminal(80, tmp_path, "check", "tank.yaml", LC_ALL="C", NO_COLOR="1")
    assert all(line.isascii() and len(line) <= 80 for line in plain)
    assert any("warning PHO405" in line for line in plain)
    assert any(line.startswith("blue |") for line in plain)  # the picture has room
    assert any("mol m-2 d-1" in line for line in plain)

    narrow = run_on_terminal(60, tmp_path, "check", "tank.yaml", LC_ALL="C.UTF-8")
    assert any("\x1b[33;1mwarning PHO405\x1b[0m" in line for line in narrow)
    assert all(width(re.sub(r"\x1b\[[0-9;]*m", "", line)) <= 60 for line in narrow)
    assert not any(line.startswith("blue |") for line in narrow)
    assert "mol m⁻² d⁻¹" in " ".join(line.strip() for line in narrow)
