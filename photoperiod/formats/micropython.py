"""A MicroPython module: the tables and the player that plays them, for boards that run Python."""

from __future__ import annotations

from collections.abc import Iterator

from photoperiod.formats.about import About
from photoperiod.formats.image import Image
from photoperiod.formats.source_text import (
    bare_image,
    cautions,
    constant_of,
    player_source,
    story,
    wrapped,
)

FILE_NAME = "photoperiod_table.py"

#: No module holds more: a board compiles it, which takes several times its size. [bytes]
MOST_BYTES = 2**16

_WIDTH = 96

#: Bytes of the image in one line of the module. A small board compiles short pieces in what is left
#: between others; one long literal would need room in one piece.
_LINE_BYTES = 48

_USE = """\
How to use it. The player keeps no state: call it every second, or after a reset.

    from photoperiod_table import SAFE, load
    play = load()    (a table that is damaged, or was refused, plays as the safe state)
    status, outputs = play(day, second, clock_valid, stopped, since_start_s)
    for count, code, relay in outputs: if relay is False, open the relay; then set the
        converter to code; then, if relay is True, close the relay.
    outputs[CHANNEL_BLUE] is the one of a channel with the id blue; OUTPUTS says how many there are.

day counts from 2000-01-01, second from midnight, both on the controller's clock; clock_valid is
False until that clock was set; since_start_s are the seconds since the lamps came from the dark by
a start, a safe state or a stop, None for long ago. Early and expired are alarms to show, never a
reason to go dark."""


def render(image: Image, about: About, *, loads: bool = False) -> bytes:
    """Return a module with tables, player, and what people must know of both.

    Parameters
    ----------
    image : Image
        The tables. Its text for people stays out: memory is scarce.
    about : About
        What a table file tells beside its rows.
    loads : bool
        The player may be given images that come from elsewhere, and looks through each. That takes
        more heap than the smallest boards have; without it, only this image is played, which was
        looked through here, if its checksum fits.

    Raises
    ------
    ImageFault
        If the tables do not fit, or ``about`` is of others.
    """
    raw = bare_image(image, about, MOST_BYTES)
    told = [*story(image, about), "", *cautions(about), ""]
    lines = [f"# {line}".rstrip() for line in (*wrapped(told, _WIDTH), *_USE.split("\n"))]
    lines += ["", player_source("player_micropython.py").rstrip("\n"), "", ""]
    if loads:
        lines += [player_source("player_micropython_check.py").rstrip("\n"), "", ""]
    lines += [
        f"OUTPUTS = {len(about.channels)}",
        *(f"CHANNEL_{constant_of(id)} = {at}" for at, id in enumerate(about.channels)),
        f"CHANNELS = {tuple(about.channels)!r}",
        "",
        "IMAGE = b''.join((",
        *_literal(raw),
        "))",
        "",
        "",
        *(_LOAD_ANY if loads else _LOAD_OWN),
    ]
    return ("\n".join(lines) + "\n").encode()


_LOAD_OWN = ["def load():", "    return player(IMAGE, len(CHANNELS))"]
_LOAD_ANY = [
    "def load(image=IMAGE):",
    "    return player(image, len(CHANNELS), is_playable)",
]


def _literal(raw: bytes) -> Iterator[str]:
    for at in range(0, len(raw), _LINE_BYTES):
        yield f"    {raw[at : at + _LINE_BYTES]!r},"
