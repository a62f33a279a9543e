"""A sketch in C for an ATmega328P: its main file, and its first pins."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from photoperiod.drive.grid import RelayKind
from photoperiod.formats.about import About
from photoperiod.formats.image import Image, encode
from photoperiod.formats.sketch_words import (
    OF_LEVELS,
    OF_RELAYS,
    OF_STOP,
    OF_TIMES,
    WHOSE,
    WIDTH,
    sentence,
)
from photoperiod.formats.source_text import cautions, constant_of, player_source, story, wrapped
from photoperiod.formats.wiring import (
    BOARD_PINS,
    MCP4728_ADDRESS,
    LevelOutput,
    SketchFault,
    Wiring,
    levels_of,
)

#: What an ATmega328P keeps for tables: 32,768 bytes without a boot loader of 2,048, and without sketch and
#: player, which take up to 9,700 (tests/targets/test_sketches.py measures it). [bytes]
MOST_TABLE_BYTES = 21_000


def refuse_what_flash_does_not_hold(image: Image) -> None:
    """Raise if tables are too large for the flash that a sketch leaves.

    Raises
    ------
    SketchFault
        The text says how many bytes there are.
    """
    size = len(encode(replace(image, about=b"")))
    if size > MOST_TABLE_BYTES:
        raise SketchFault(
            f"its tables take {size:,} bytes, and beside the sketch this board has {MOST_TABLE_BYTES:,};"
            f" --flash-bytes {MOST_TABLE_BYTES} takes the best tables that fit"
        )


def main_text(wiring: Wiring, image: Image, about: About, told: tuple[str, ...]) -> str:
    """Return main.c; ``told`` are lines that people must know."""
    text = player_source("sketches/avr_main.c")
    parts = ["avr_twi.c", f"avr_{wiring.time}.c", f"avr_{wiring.levels}.c"]
    source = "\n".join(player_source(f"sketches/{part}").rstrip("\n") for part in parts)
    text = text.replace("/* @CHANNELS@ */", "\n".join(_channels(wiring, image, about)))
    text = text.replace("/* @PARTS@ */", source)
    head = wrapped(
        [*story(image, about), "", *cautions(about), "", *_USE, "", *map(sentence, told)],
        WIDTH,
    )
    return "\n".join(["/*", *(f" * {line}".rstrip() for line in head), " */", "", text])


_USE = (
    "A program for an ATmega328P that plays photoperiod.h. Write your pins into pins.h; then",
    "    avr-gcc -mmcu=atmega328p -DF_CPU=16000000UL -std=c99 -Os main.c -o main.elf",
    "    avr-objcopy -O ihex -R .eeprom main.elf main.hex",
    "    avrdude -p m328p -c PROGRAMMER -P PORT -U flash:w:main.hex:i",
    "Then open the serial port at 9600 baud and set the clock: set 2027-03-02 12:00:00",
    "docs/sketch.md says the rest: what it does when something fails, and what is proven.",
    "",
    "While the board starts, and while a program is loaded, its pins float: each relay input needs a"
    " resistor to ground that keeps it open (10 kΩ; common practice, no source). Let the chip's brown-out"
    " detector be on: without it a sagging supply can leave a relay closed.",
)


#: Addresses that converters on the bus can have, by their data sheets. What is sent to address 0 reaches all
#: chips, which take some of it for a command.
_ADDRESSES = (0x60, 0x67, "0x60 to 0x67")

#: The least and the most that pins.h may say of a level, and the same in words.
_LEVELS = {
    LevelOutput.PWM: (1, 2, "1 (pin B1) or 2 (pin B2)"),
    LevelOutput.MCP4725: (_ADDRESSES[0], _ADDRESSES[1], "an address, 0x60 to 0x67"),
    LevelOutput.MCP4728: (0, 3, "0 to 3, for the outputs A to D"),
}


def _missing(name: str, whose: str) -> Iterator[str]:
    """Yield what stops the compiler if pins.h does not say a name."""
    yield f"#ifndef {name}"
    yield f'#error "pins.h does not say {name}, {whose}"'
    yield "#endif"


def _refused(name: str, least: int, most: int, words: str) -> Iterator[str]:
    """Yield what stops the compiler if pins.h says another number."""
    yield f"#if {name} < {least:#x} || {name} > {most:#x}"
    yield f'#error "pins.h: {name} is {words}"'
    yield "#endif"


def _channels(wiring: Wiring, image: Image, about: About) -> Iterator[str]:
    """Yield what the table and pins.h say of each output."""
    has_relays = image.relay != RelayKind.NONE
    bits = about.controller.converter.bits
    yield "/* The outputs of the table, and what pins.h says of them. */"
    names = [constant_of(id) for id in about.channels]
    for name, id in zip(names, about.channels, strict=True):
        for kind in ("RELAY", "LEVEL") if has_relays else ("LEVEL",):
            yield from _missing(f"{kind}_{name}", f"for the channel {id}")
        yield from _refused(f"LEVEL_{name}", *_LEVELS[wiring.levels])
    if wiring.levels == LevelOutput.MCP4728:
        yield from _missing("CONVERTER_ADDRESS", "of the MCP4728")
        yield from _refused("CONVERTER_ADDRESS", *_ADDRESSES)
    else:  # such pins were written for an MCP4728: its outputs 1 and 2 would be taken for pins
        yield "#ifdef CONVERTER_ADDRESS"
        yield '#error "pins.h: CONVERTER_ADDRESS is of an MCP4728, and this program has none"'
        yield "#endif"
    yield f"#define HAS_RELAYS {int(has_relays)}"
    if wiring.levels == LevelOutput.PWM:
        yield f"#define LEVEL_BITS {bits}"
        yield f"#define TIMER_BITS {max(bits, 10)}"
    if has_relays:
        listed = ", ".join(f"RELAY_{name}" for name in names)
        yield f"static const struct pin relays[PHOTOPERIOD_OUTPUTS] = {{{listed}}};"
    listed = ", ".join(f"LEVEL_{name}" for name in names)
    yield f"static const uint8_t levels[PHOTOPERIOD_OUTPUTS] = {{{listed}}};"
    for name, id in zip(names, about.channels, strict=True):
        yield f'static const char name_of_{name}[] PROGMEM = "{id}";'
    listed = ", ".join(f"name_of_{name}" for name in names)
    yield f"static const char *const names[PHOTOPERIOD_OUTPUTS] = {{{listed}}};"


def pins_text(wiring: Wiring, image: Image, about: About) -> str:
    """Return a first pins.h, with pins that such boards often have free."""
    pins = BOARD_PINS[wiring.board]

    def note(*texts: str) -> list[str]:
        lines = [f" * {line}".rstrip() for line in wrapped(texts, WIDTH)]
        return ["", "/*", *lines, " */"]

    bus = f"Clock and converter are on the bus: SDA is {pins.sda}, SCL is {pins.scl}."
    form = "PIN(D, 4) is bit 4 of port D."
    lines = note(*WHOSE, form, bus, *cautions(about))[1:]
    channels = list(zip(about.channels, pins.relays, levels_of(wiring), strict=False))
    if image.relay != RelayKind.NONE:
        lines += [*note(OF_RELAYS), "#define RELAY_CLOSED 1"]
        lines += [f"#define RELAY_{constant_of(id)} PIN({relay})" for id, relay, _ in channels]
    else:
        lines += ["", "#define RELAY_CLOSED 1"]
    extra = " 1 is B1, 2 is B2." if wiring.levels == LevelOutput.PWM else ""
    lines += note(OF_LEVELS[wiring.levels] + extra)
    lines += [f"#define LEVEL_{constant_of(id)} {level}" for id, _, level in channels]
    if wiring.levels == LevelOutput.MCP4728:
        lines += [f"#define CONVERTER_ADDRESS 0x{MCP4728_ADDRESS:02X}"]
    lines += [*note(OF_TIMES), "#define RELAY_MS 50", "#define LEVEL_MS 200"]
    lines += [*note("The alarm light."), f"#define ALARM_LED PIN({pins.led})"]
    lines += [*note(OF_STOP), f"/* #define STOP_SWITCH PIN({pins.stop}) */"]
    return "\n".join(lines) + "\n"
