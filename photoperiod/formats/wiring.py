"""What a sketch is written for: a board, what tells it the time, what makes its volts; and what fits them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.drive.grid import RelayKind
from photoperiod.formats.about import About
from photoperiod.formats.image import Image, ImageFault
from photoperiod.sky.clock import ClockKind
from photoperiod.text import number_text


class Board(StrEnum):
    """A board, named by its chip."""

    ATMEGA328P = "atmega328p"
    ESP32 = "esp32"
    RP2040 = "rp2040"


class TimeSource(StrEnum):
    """What tells a board the time: a clock chip with a battery, or a time server of the network."""

    DS3231 = "ds3231"
    PCF8523 = "pcf8523"
    NETWORK = "network"


class LevelOutput(StrEnum):
    """What makes volts of a code: pulses of the board into a filter, or a converter on its bus."""

    PWM = "pwm"
    MCP4725 = "mcp4725"
    MCP4728 = "mcp4728"


@dataclass(frozen=True, slots=True)
class Wiring:
    """What a sketch is written for."""

    board: Board
    time: TimeSource
    levels: LevelOutput

    @property
    def is_c(self) -> bool:
        """True if the board is programmed in C, else in MicroPython."""
        return self.board == Board.ATMEGA328P


class SketchFault(ImageFault):
    """The table does not fit the board or its parts; the text says why, and what to do."""


@dataclass(frozen=True, slots=True)
class BoardPins:
    """Pins of a board that sketches take unless told: examples, for a board may have others.

    ``levels`` are outputs of pulses, ``pulses_hz`` is what their counter counts in a second.
    """

    relays: tuple[str, ...]
    levels: tuple[str, ...]
    sda: str
    scl: str
    led: str
    stop: str
    pulses_hz: int
    most_bits: int = 16


BOARD_PINS: Mapping[Board, BoardPins] = {
    Board.ATMEGA328P: BoardPins(
        relays=("D, 4", "D, 5", "D, 6", "D, 7", "D, 3", "B, 0", "B, 3", "B, 4"),
        levels=("1", "2"),
        sda="C4",
        scl="C5",
        led="B, 5",
        stop="C, 3",
        pulses_hz=16_000_000,
    ),
    Board.ESP32: BoardPins(
        relays=("16", "17", "18", "19", "4", "13"),
        levels=("25", "26", "27", "14", "32", "33"),
        sda="21",
        scl="22",
        led="2",
        stop="23",
        pulses_hz=80_000_000,
    ),
    Board.RP2040: BoardPins(
        relays=("10", "11", "12", "13", "14", "15"),
        levels=("2", "3", "6", "7", "8", "9"),
        sda="4",
        scl="5",
        led="25",
        stop="22",
        pulses_hz=125_000_000,
    ),
}

#: Addresses on the bus: of the one MCP4728, and of as many MCP4725 as there can be.
MCP4728_ADDRESS = 0x60
_MCP4725_ADDRESSES = tuple(f"0x{address:02X}" for address in range(0x60, 0x68))
_MCP4728_OUTPUTS = ("0", "1", "2", "3")

#: Bits of the converters on the bus.
_CONVERTER_BITS = 12

#: Pulses are no faster than this if the board can count their parts: an isolator must follow them. It is
#: 16 MHz / 2^10, as in docs/walk.md. [Hz]
_PULSES_HZ = 15_625


def refuse_what_does_not_fit(wiring: Wiring, image: Image, about: About) -> None:
    """Raise if a board and its parts can't play a table.

    Raises
    ------
    SketchFault
        The text says why, and what to do.
    """
    ids, pins = list(about.channels), BOARD_PINS[wiring.board]
    outputs = levels_of(wiring)
    if len(ids) > len(outputs):
        ways = {
            LevelOutput.PWM: "take a converter: --levels mcp4728 has 4 outputs",
            LevelOutput.MCP4728: "take one converter for each channel: --levels mcp4725",
            LevelOutput.MCP4725: "let two boards share the channels",
        }
        raise SketchFault(
            f"it has {len(ids)} channels, and --levels {wiring.levels} on this board has"
            f" {len(outputs)} outputs; {ways[wiring.levels]}"
        )
    if len(ids) > len(pins.relays):
        raise SketchFault(
            f"it has {len(ids)} channels, and this sketch has pins for {len(pins.relays)} relays; let two"
            " boards share the channels"
        )
    bits = about.controller.converter.bits
    if wiring.levels != LevelOutput.PWM and bits != _CONVERTER_BITS:
        raise SketchFault(
            f"its codes have {bits} bits, and an {wiring.levels.upper()} has {_CONVERTER_BITS}; write"
            f" `bits: {_CONVERTER_BITS}` into the schedule's converter"
        )
    if bits > pins.most_bits:
        raise SketchFault(f"its codes have {bits} bits, and pulses have {pins.most_bits} at most")
    if (
        wiring.time == TimeSource.NETWORK
        and about.clock != ClockKind.UTC
        and about.time_zone is None
    ):
        raise SketchFault(
            f"it is in {about.clock} time, and a network tells UTC; write `place` with its time_zone into"
            " the schedule"
        )


def levels_of(wiring: Wiring) -> tuple[str, ...]:
    """Return the outputs for levels that there are, as the pins file names them."""
    return {
        LevelOutput.PWM: BOARD_PINS[wiring.board].levels,
        LevelOutput.MCP4725: _MCP4725_ADDRESSES,
        LevelOutput.MCP4728: _MCP4728_OUTPUTS,
    }[wiring.levels]


def pulse_rate_hz(wiring: Wiring, bits: int) -> int:
    """Return how fast pulses are: so slow that the board counts all steps of a code. [Hz]"""
    return min(_PULSES_HZ, BOARD_PINS[wiring.board].pulses_hz >> bits)


def what_to_know(wiring: Wiring, image: Image, about: About) -> Iterator[str]:
    """Yield what people must know of the levels, and of the pins."""
    bits = about.controller.converter.bits
    steps = f"{2**bits:,} steps"
    if wiring.levels == LevelOutput.PWM:
        hertz = pulse_rate_hz(wiring, bits)
        filter_ms = 1000 * 2**bits / (4 * hertz)
        yield (
            f"levels are pulses of {hertz:,} Hz with {steps} ({bits} bits, as the schedule says); the filter"
            f" needs R·C of at least {number_text(filter_ms, 1)} ms for a ripple of one step (docs/walk.md)"
        )
        if hertz < _PULSES_HZ // 2:
            yield (
                f"pulses so slow need a slow filter: fewer bits, or a converter ({_CONVERTER_BITS} bits)"
            )
    else:
        yield f"levels are those of an {wiring.levels.upper()}: {steps} ({bits} bits)"
    if image.relay == RelayKind.NONE:
        yield "the table switches no relay: an open pair, as without power, means full light"
