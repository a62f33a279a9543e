"""A sketch in MicroPython: its main file, and its first pins."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from photoperiod.drive.grid import RelayKind
from photoperiod.formats.about import About
from photoperiod.formats.image import FIRST_DAY, Image
from photoperiod.formats.sketch_words import (
    OF_LEVELS,
    OF_RELAYS,
    OF_STOP,
    OF_TIMES,
    WHOSE,
    WIDTH,
    sentence,
)
from photoperiod.formats.source_text import cautions, player_source, story, wrapped
from photoperiod.formats.wiring import (
    BOARD_PINS,
    MCP4728_ADDRESS,
    Board,
    LevelOutput,
    TimeSource,
    Wiring,
    levels_of,
    pulse_rate_hz,
)
from photoperiod.sky.clock import Clock, ClockKind
from photoperiod.units import SECONDS_PER_DAY

#: Offsets of a clock are written for so long. Laws change clocks earlier than that. [days]
_OFFSET_DAYS = 7305

#: Without dates, offsets begin here.
_OFFSETS_FROM = dt.date(2026, 1, 1)

_UNIX_OF_FIRST_DAY = (FIRST_DAY - dt.date(1970, 1, 1)).days * SECONDS_PER_DAY


def main_text(wiring: Wiring, image: Image, about: About, told: tuple[str, ...]) -> str:
    """Return main.py; ``told`` are lines that people must know."""
    head = wrapped(
        [
            *story(image, about),
            "",
            *cautions(about),
            "",
            *_use(wiring),
            "",
            *map(sentence, told),
        ],
        WIDTH,
    )
    parts = ["begin"]
    if wiring.time != TimeSource.NETWORK or wiring.levels != LevelOutput.PWM:
        parts.append("i2c")
    parts += [wiring.levels, "calendar", wiring.time, "main"]
    pieces = {part: player_source(f"sketches/python_{part}.py").rstrip("\n") for part in parts}
    pieces["begin"] += "\n\n" + "\n".join(_constants(wiring, image, about))
    text = "\n\n\n".join(piece.strip("\n") for piece in pieces.values())
    return "\n".join([*(f"# {line}".rstrip() for line in head), "", text]) + "\n"


def _use(wiring: Wiring) -> Iterator[str]:
    yield (
        "A program for MicroPython that plays photoperiod_table.py. Write your pins into pins.py; then copy"
        " the three files to the board, and start it again."
    )
    if wiring.time == TimeSource.NETWORK:
        yield "Name and key of your network, and a time server in it, stand in pins.py, too."
    else:
        yield "Set the time of its clock in the serial console: set 2027-03-02 12:00:00"
    yield "To copy files later, type there: update"
    yield "Lamps then stay off, and no watchdog starts the board anew, until its next start."
    yield "docs/sketch.md says the rest: what it does when something fails, and what is proven."
    yield ""
    yield (
        "While the board starts its pins float: each relay input needs a resistor to ground that keeps it"
        " open (10 kΩ; common practice, no source)."
    )


def _constants(wiring: Wiring, image: Image, about: About) -> Iterator[str]:
    bits = about.controller.converter.bits
    yield f"HAS_RELAYS = {image.relay != RelayKind.NONE}"
    if wiring.levels == LevelOutput.PWM:
        yield f"LEVEL_BITS = {bits}"
        yield f"PULSES_HZ = {pulse_rate_hz(wiring, bits)}"
    is_network = wiring.time == TimeSource.NETWORK
    yield f"CLOCK_MAY_WAIT = {is_network}"
    if is_network:
        clock = Clock.utc() if about.clock == ClockKind.UTC else _clock(about)
        yield "# From when on (UTC, seconds since 2000-01-01) the controller's clock is ahead of UTC, and by"
        yield "# how many seconds. If the law changes, export again."
        yield "OFFSETS = ("
        for begin_s, offset_s in _offsets(clock, about):
            yield f"    ({begin_s}, {offset_s}),"
        yield ")"


def _clock(about: About) -> Clock:
    assert about.time_zone is not None, "a table without its zone was refused before"
    return Clock(about.clock, about.time_zone)


def _offsets(clock: Clock, about: About) -> Iterator[tuple[int, int]]:
    """Yield from when on a clock has which offset from UTC. [s from 2000-01-01 in UTC, s]"""
    first = _OFFSETS_FROM if about.dates is None else about.dates[0]
    begin = (first - dt.date(1970, 1, 1)).days * SECONDS_PER_DAY - SECONDS_PER_DAY
    yield begin - _UNIX_OF_FIRST_DAY, clock.offset_s(begin)
    for change in clock.changes(begin + 1, begin + _OFFSET_DAYS * SECONDS_PER_DAY):
        yield change.at_unix_s - _UNIX_OF_FIRST_DAY, change.after_s


def pins_text(wiring: Wiring, image: Image, about: About) -> str:
    """Return a first pins.py, with pins that such boards often have free."""
    pins = BOARD_PINS[wiring.board]

    def note(*texts: str) -> list[str]:
        return ["", *(f"# {line}".rstrip() for line in wrapped(texts, WIDTH))]

    def listed(name: str, pairs: list[tuple[str, str]]) -> list[str]:
        return [f"{name} = {{", *(f'    "{id}": {value},' for id, value in pairs), "}"]

    channels = list(zip(about.channels, pins.relays, levels_of(wiring), strict=False))
    has_relays = image.relay != RelayKind.NONE
    lines = note(*WHOSE, *cautions(about))[1:]
    lines += [*note(OF_RELAYS), "RELAY_CLOSED = 1"]
    lines += listed("RELAYS", [(id, relay) for id, relay, _ in channels] if has_relays else [])
    lines += note(OF_LEVELS[wiring.levels])
    lines += listed("LEVELS", [(id, level) for id, _, level in channels])
    if wiring.levels == LevelOutput.MCP4728:
        lines += [f"CONVERTER_ADDRESS = 0x{MCP4728_ADDRESS:02X}"]
    if wiring.time != TimeSource.NETWORK or wiring.levels != LevelOutput.PWM:
        lines += [
            *note("The bus of clock and converter."),
            f"SDA = {pins.sda}",
            f"SCL = {pins.scl}",
        ]
    if wiring.time == TimeSource.NETWORK:
        lines += note("The network, and a time server in it: many routers are one.")
        lines += ['WIFI_NAME = ""', 'WIFI_KEY = ""', 'TIME_SERVER = "192.168.1.1"']
    lines += [*note(OF_TIMES), "RELAY_MS = 50", "LEVEL_MS = 200"]
    lines += [*note("The alarm light; None for none."), f"ALARM_LED = {_led(wiring)}"]
    lines += [*note(OF_STOP), f"STOP_SWITCH = None  # such as {pins.stop}"]
    return "\n".join(lines) + "\n"


def _led(wiring: Wiring) -> str:
    """Return the pin of the board's own light; boards with a network chip keep it behind that."""
    if wiring == Wiring(Board.RP2040, TimeSource.NETWORK, wiring.levels):
        return '"LED"'
    return BOARD_PINS[wiring.board].led
