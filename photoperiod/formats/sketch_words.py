"""What sketches in C and in MicroPython say in the same words."""

from __future__ import annotations

from photoperiod.formats.wiring import LevelOutput

#: Columns of text in a comment.
WIDTH = 92

WHOSE = (
    "The pins of your board. This file is yours: a later export leaves it alone.",
    "Pins here are examples: look whether your board has them, and whether something else is on them."
    " Measure each one with a meter before anything is connected: a wrong pin can light a lamp.",
)

OF_RELAYS = (
    "Relays: open without power, and while the pin floats. RELAY_CLOSED is 1 if a high pin closes them; one"
    " that a low pin closes may close while the board starts, so don't take that."
)

OF_TIMES = (
    "How long a relay needs until it has opened, and a level until it has settled behind its filter:"
    " milliseconds, our choice."
)

OF_STOP = (
    "A switch to ground that lets the lamps go on; open, or with a broken wire, they are stopped. It is no"
    " isolation: unplug before you touch lamps or their wires."
)

OF_LEVELS = {
    LevelOutput.PWM: "Levels: the pin of the pulses.",
    LevelOutput.MCP4725: "Levels: the address of each converter on the bus.",
    LevelOutput.MCP4728: "Levels: the converter's output, 0 to 3 for A to D.",
}


def sentence(text: str) -> str:
    """Return a line for the terminal as a sentence for a comment."""
    return text[0].upper() + text[1:] + "."
