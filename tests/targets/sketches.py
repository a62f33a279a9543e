"""Exported sketches on their boards: built, run with a clock and converters that can fail, and read back."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from photoperiod.drive.converter import Converter
from photoperiod.formats.about import About
from photoperiod.formats.code_line import CodeLine
from photoperiod.formats.image import ChannelImage, DatedTable, Image
from photoperiod.formats.sketch import render
from photoperiod.formats.wiring import Board, LevelOutput, TimeSource, Wiring
from tests.targets import images
from tests.targets.tools import HARNESS, WARNINGS, run, tool

HZ = 16_000_000

#: 28 March 2027, worked out in test_worked_by_hand.py.
DAY = 9948

#: A codes line for each converter: 2^bits / 1000 a count, rounded; the top is the largest code.
CODES = {
    10: (CodeLine(1049, 512, 10), 1023),
    12: (CodeLine(4194, 512, 10), 4095),
}

#: Outputs are looked at so late in each second: relays and filters have had their time. [s]
LOOK_S = 0.9


#: A whole day in a simulator takes a minute or two. [s]
LONG_S = 600


def hour(hours: float) -> int:
    return round(3600 * hours)


def at(hours: float, day: int = DAY) -> int:
    """Return an hour of a date. [s since 1970]"""
    return 86_400 * day + hour(hours)


def table(bits: int) -> Image:
    """Return two dated tables of two channels: ramps, a relay that opens at noon, a lit safe state."""
    codes, full = CODES[bits]
    return images.image(
        [(hour(6), 100), (hour(10), 850), (hour(19.5), 850), (hour(21), 100), (hour(21) + 9, 0, 0)],
        [
            (hour(8), 300),
            (hour(12), 300, 0),
            (hour(12) + 20, 320),
            (hour(20), 999),
            (hour(22), 0, 0),
        ],
        [(hour(9), 500), (hour(23), 40, 0)],
        codes=codes,
        full_code=full,
        soft_start_minutes=1,
        channels=(
            ChannelImage(soft_count=100),
            ChannelImage(soft_count=120, safe_count=150, safe_relay=True),
        ),
        tables=(DatedTable(DAY, (0, 1)), DatedTable(DAY + 1, (2, 1))),
        span=(DAY, DAY + 1),
    )


def wide(bits: int) -> Image:
    """Return a table that needs 64 bits."""
    ramp = [(0, 0), (43_200, 65_535)]
    codes, full = CodeLine(1, 0, 16 - bits), 2**bits - 1
    return images.image(ramp, ramp, top_count=65_535, codes=codes, full_code=full)


def about(made: Image, bits: int) -> About:
    told = images.about(made)
    names = {"blue": images.channel("Blue"), "moon": images.channel("Moon")}
    controller = replace(told.controller, converter=Converter.nominal(bits, 10.0, 10.0))
    return replace(told, channels=names, controller=controller)


def wiring(board: str, time: str, levels: str) -> Wiring:
    return Wiring(Board(board), TimeSource(time), LevelOutput(levels))


def bits_of(levels: str) -> int:
    return 10 if levels == "pwm" else 12


@dataclass(frozen=True, slots=True)
class State:
    """What the outputs are: the code of each converter, and whether each relay is closed."""

    codes: tuple[int, int]
    relays: tuple[bool, bool]


@dataclass
class Ran:
    """What a board did: each change of its outputs with its moment [s], and the lines that it printed."""

    changes: list[tuple[float, State]] = field(default_factory=list)
    texts: list[tuple[float, str]] = field(default_factory=list)
    other: list[tuple[float, str]] = field(default_factory=list)

    def at(self, second: float) -> State:
        return [state for when, state in self.changes if when <= second][-1]

    def seconds(self, how_many: int) -> list[State]:
        """Return what the outputs were in each second."""
        found, at = [], 0
        for second in range(how_many):
            while at + 1 < len(self.changes) and self.changes[at + 1][0] <= second + LOOK_S:
                at += 1
            found.append(self.changes[at][1])
        return found

    def change(self, when: float, codes: list[int], relays: list[bool]) -> None:
        state = State((codes[0], codes[1]), (relays[0], relays[1]))
        if not self.changes or self.changes[-1][1] != state:
            self.changes.append((when, state))


#: A program that was built, which is given the time of its clock, the seconds to run, and events.
Program = Callable[..., Ran]


def put(
    folder: Path,
    to: Wiring,
    pins: Sequence[tuple[str, str]] = (),
    main: Sequence[tuple[str, str]] = (),
    made: Image | None = None,
) -> None:
    """Write the files of a sketch, with replacements in its pins and its main file."""
    bits = bits_of(to.levels)
    made = table(bits) if made is None else made
    sketch = render(to, made, about(made, bits))
    for name, raw in sketch.made.items():
        (folder / name).write_bytes(raw)
    (folder / sketch.pins[0]).write_bytes(sketch.pins[1])
    for name, changes in ((sketch.pins[0], pins), (sketch.main, main)):
        text = (folder / name).read_text(encoding="utf-8")
        for old, new in changes:
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        (folder / name).write_text(text, encoding="utf-8")


# ATmega328P


def built_avr(folder: Path) -> Path:
    """Return the program of a folder, compiled as its own comment says, with more warnings."""
    (command,) = re.findall(
        r"^ \* +(avr-gcc .+)$", (folder / "main.c").read_text(encoding="utf-8"), re.MULTILINE
    )
    compiler, *words = command.split()
    assert words[-3:] == ["main.c", "-o", "main.elf"]
    run([tool(compiler), *WARNINGS, *words], cwd=folder)
    return folder / "main.elf"


def simulator(folder: Path) -> Path:
    """Return the board for it."""
    tool("/usr/include/simavr/sim_avr.h")
    program = folder / "sketch_board"
    command = [tool("gcc"), "-O2", "-Wall", "-Wextra", "-Werror"]
    run([*command, HARNESS / "sketch_board.c", "-o", program, "-lsimavr"])
    return program


def on_avr(elf: Path, board: Path, to: Wiring, begin_s: int, seconds: int, *events: str) -> Ran:
    """Return what the program does on the simulated board."""
    raw = run([board, elf, to.time, str(begin_s), str(seconds), *events], timeout_s=LONG_S)
    found, codes, relays = Ran(), [0, 0], [False, False]
    for line in raw.decode().splitlines():
        if not line[0].isdigit():
            continue  # what the simulator says of the program it loads
        cycle, kind, rest = line.split(" ", 2)
        when, words = int(cycle) / HZ, rest.split()
        match kind:
            case "text":
                found.texts.append((when, rest))
            case "code":
                codes[output_of(to, words[0], int(words[1]))] = int(words[2])
                found.change(when, codes, relays)
            case "ports":
                _, _, port_d, direction_d, control, one, two = (int(word, 16) for word in words)
                relays = [bool(port_d & direction_d & 1 << bit) for bit in (4, 5)]
                if to.levels == "pwm":
                    # ATmega328P, non-inverting fast PWM: high for OCR + 1 counts of TOP + 1, if connected.
                    codes = [one + 1 if control & 0x80 else 0, two + 1 if control & 0x20 else 0]
                found.change(when, codes, relays)
            case _:
                found.other.append((when, f"{kind} {rest}"))
    return found


def output_of(to: Wiring, address: str, output: int) -> int:
    if to.levels == "mcp4728":
        assert address == "60"
        return output
    assert output == 0
    return int(address, 16) - 0x60


# MicroPython


def on_world(folder: Path, to: Wiring, begin_s: int, seconds: int, *events: str) -> Ran:
    """Return what the program does in MicroPython on this machine, in a world of its own."""
    command = [tool("micropython"), HARNESS / "sketch_world.py", to.time]
    raw = run([*command, str(begin_s), str(seconds), *events], cwd=folder, timeout_s=LONG_S)
    relay_pins, level_pins = {"esp32": ((16, 17), (25, 26)), "rp2040": ((10, 11), (2, 3))}[to.board]
    found, codes, relays = Ran(), [0, 0], [False, False]
    for line in raw.decode().splitlines():
        ms, kind, rest = (*line.split(" ", 2), "")[:3]
        when, words = int(ms) / 1000, rest.split()
        match kind:
            case "text":
                found.texts.append((when, rest))
            case "code":
                codes[output_of(to, words[0], int(words[1]))] = int(words[2])
                found.change(when, codes, relays)
            case "duty":
                codes[level_pins.index(int(words[0]))] = int(words[1]) >> 16 - bits_of(to.levels)
                found.change(when, codes, relays)
            case "pin" if words[0].isdigit() and int(words[0]) in relay_pins:
                relays[relay_pins.index(int(words[0]))] = words[1] == "1"
                found.change(when, codes, relays)
            case "pin":
                pass  # the alarm light
            case _:
                found.other.append((when, f"{kind} {rest}"))
    return found
