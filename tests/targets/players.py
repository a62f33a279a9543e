"""Every target's player behind the same call, so that all are asked the same."""

from __future__ import annotations

import os
import re
import select
import struct
import subprocess
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photoperiod.formats import c_header, micropython
from photoperiod.formats.image import Image
from tests.targets.tools import HARNESS, TIMEOUT_S, compile_avr, run, tool

SECONDS_PER_DAY = 86_400

#: As the header has it for a soft start that is long over.
SOFT_START_OVER = 2**32 - 1

FIRMWARE = "/usr/share/firmware-microbit-micropython/firmware.hex"


@dataclass(frozen=True, slots=True)
class Moment:
    """What a player is told."""

    day: int
    second: int
    clock_valid: bool = True
    stopped: bool = False
    since_start_s: int | None = None


def output_dtype(outputs: int) -> np.dtype[np.void]:
    """Return how a harness writes a moment: the status, then each output without gaps."""
    one = np.dtype([("count", "<u2"), ("code", "<u2"), ("relay", "u1")])
    return np.dtype([("status", "u1"), ("outputs", one, (outputs,))])


def since(moment: Moment) -> int:
    return SOFT_START_OVER if moment.since_start_s is None else moment.since_start_s


# The host


def load_order(raw: bytes) -> bytes:
    return b"L" + struct.pack("<I", len(raw)) + raw


def play_order(moment: Moment, outputs: int, order: bytes = b"P") -> bytes:
    return order + struct.pack(
        "<IiIIII",
        outputs,
        moment.day,
        moment.second,
        since(moment),
        moment.clock_valid,
        moment.stopped,
    )


def on_host(
    program: Path,
    load: bytes,
    outputs: int,
    moments: Sequence[Moment] = (),
    days: Sequence[int] = (),
) -> tuple[int, int, NDArray[np.void]]:
    """Return the verdict on an image, how many outputs it has, and what is played."""
    orders = [play_order(moment, outputs) for moment in moments]
    orders += [play_order(Moment(day, 0), outputs, b"D") for day in days]
    raw = run([program], stdin=b"".join([load, *orders]))
    return raw[0], raw[1], np.frombuffer(raw[2:], dtype=output_dtype(outputs))


# ATmega328P

COLOURS = re.compile(rb"\x1b\[[0-9;]*m")


def on_avr(
    folder: Path,
    image: Image,
    about: Mapping[str, Any],
    moments: Sequence[Moment],
    day: int,
    day_step_s: int,
) -> tuple[int, int, NDArray[np.void], int]:
    """Return verdict, outputs, what is played at moments, and the hash of a day."""
    rows = ",\n".join(
        f"    {{{m.day & 0xFFFFFFFF}ul, {m.second}ul, {since(m)}ul, {m.clock_valid:d}, {m.stopped:d}}}"
        for m in moments
    )
    text = (
        f"#define DAY {day}l\n#define DAY_STEP_S {day_step_s}ul\n"
        f"static const uint32_t moments[][5] PROGMEM = {{\n{rows}\n}};\n"
    )
    program = compile_avr(folder, c_header.render(image, about), text)
    lines = simulated(program)
    outputs = len(image.channels)
    played = np.zeros(len(moments), dtype=output_dtype(outputs))
    for at, line in enumerate(lines[1:-1]):
        numbers = [int(line[2 + 10 * k :][:10], 16) for k in range(outputs)]
        played[at] = (
            int(line[:2], 16),
            [(n >> 24, n >> 8 & 0xFFFF, n & 0xFF) for n in numbers],
        )
    assert len(lines) == len(moments) + 2, lines
    return int(lines[0][:2], 16), int(lines[0][2:], 16), played, int(lines[-1], 16)


def simulated(program: Path) -> list[str]:
    """Return what an ATmega328P writes to its UART: the simulator colours lines and ends them so."""
    done = subprocess.run(
        [tool("simavr"), "-m", "atmega328p", "-f", "16000000", str(program)],
        capture_output=True,
        timeout=TIMEOUT_S,
        check=False,
    )
    text = COLOURS.sub(b"", done.stdout + done.stderr).decode(errors="replace")
    lines = [line.strip().rstrip(".") for line in text.splitlines()]
    return [line for line in lines if re.fullmatch(r"[0-9a-f]+", line)]


# MicroPython


def module_folder(folder: Path, module: bytes, images: Sequence[bytes] = ()) -> Path:
    """Put an exported module, the harness and images where an interpreter finds them."""
    (folder / "photoperiod_table.py").write_bytes(module)
    (folder / "moments.py").write_bytes((HARNESS / "moments.py").read_bytes())
    packed = b"".join(struct.pack("<I", len(raw)) + raw for raw in images)
    (folder / "images").write_bytes(packed)
    return folder


def on_micropython(
    folder: Path, moments: Sequence[Moment] = (), days: Sequence[tuple[int, int]] = ()
) -> bytes:
    """Return the answers of the unix port: moments, days at steps, then verdicts on images."""
    orders = [
        f"play {m.day} {m.second} {m.clock_valid:d} {m.stopped:d}"
        f" {-1 if m.since_start_s is None else m.since_start_s}"
        for m in moments
    ]
    orders += [f"day {day} {step}" for day, step in days]
    orders += ["images"] * ((folder / "images").stat().st_size > 0)
    (folder / "orders").write_text("\n".join(orders) + "\n")
    run([tool("micropython"), "moments.py"], cwd=folder)
    return (folder / "answers").read_bytes()


class Board:
    """A board with a Cortex-M0 and 16 KiB of RAM, its MicroPython driven by the raw REPL.

    Each order is shorter than the 64 bytes that the firmware keeps while it is busy, so that none
    is lost however fast the emulator is.
    """

    MOST_ORDER = 63

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.process, self.unread = process, b""
        self.enter()

    def enter(self) -> None:
        """Go from the prompt of a person to that of a program."""
        self.until(b">>> ")
        self.send(b"\x01")
        self.until(b"raw REPL; CTRL-B to exit\r\n>")

    def restart(self) -> None:
        """Begin anew with an empty heap, as when power comes; files stay."""
        self.send(b"\x02")
        self.until(b">>> ")
        self.send(b"\x04")
        self.enter()

    def send(self, order: bytes) -> None:
        assert len(order) <= self.MOST_ORDER, order
        assert self.process.stdin is not None
        self.process.stdin.write(order)
        self.process.stdin.flush()

    def until(self, mark: bytes) -> bytes:
        assert self.process.stdout is not None
        end = time.monotonic() + TIMEOUT_S
        while mark not in self.unread:
            ready, _, _ = select.select([self.process.stdout], [], [], end - time.monotonic())
            assert ready, f"the board is silent after {self.unread[-200:]!r}"
            more = os.read(self.process.stdout.fileno(), 4096)
            assert more, "the emulator has ended"
            self.unread += more
        found, _, self.unread = self.unread.partition(mark)
        return found

    def run(self, code: str) -> str:
        """Return what code prints; it must not raise."""
        self.send(code.encode() + b"\x04")
        self.until(b"OK")
        out, error = self.until(b"\x04"), self.until(b"\x04")
        self.until(b">")
        assert not error, error.decode()
        return out.decode()

    def put(self, name: str, raw: bytes) -> None:
        """Write a file to the board."""
        self.run(f"f=open({name!r},'wb')")
        self.run("w=f.write")
        at = 0
        while at < len(raw):
            size = 40
            while len(f"w({raw[at : at + size]!r})") >= self.MOST_ORDER:
                size -= 1
            self.run(f"w({raw[at : at + size]!r})")
            at += size
        self.run("f.close()")
        self.run("del f,w")

    def free_bytes(self) -> int:
        self.run("import gc")
        self.run("gc.collect()")
        return int(self.run("print(gc.mem_free())"))

    def play(self, moment: Moment) -> tuple[int, list[tuple[int, int, bool]]]:
        """Return what `play` on the board gives."""
        m = moment
        self.run(f"a=({m.day},{m.second},{m.clock_valid:d},{m.stopped:d},{m.since_start_s})")
        status, outputs = eval(self.run("print(play(*a))"))
        return status, outputs


@contextmanager
def board() -> Iterator[Board]:
    """Start an emulated board and end it."""
    process = subprocess.Popen(
        [
            *(tool("qemu-system-arm"), "-M", "microbit"),
            *("-device", f"loader,file={tool(FIRMWARE)}"),
            *("-serial", "stdio", "-display", "none", "-monitor", "none"),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    try:
        yield Board(process)
    finally:
        process.kill()
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                stream.close()


def module_of(image: Image, about: Mapping[str, Any], *, loads: bool = False) -> bytes:
    return micropython.render(image, about, loads=loads)
