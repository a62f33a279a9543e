"""A complete program for a named board: the table with its player, the sketch that calls it, and its pins.

The sketch is put together from pieces that stand in ``players/sketches``; docs/sketch.md says what it does.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Mapping
from dataclasses import dataclass

from photoperiod.formats import c_header, micropython, sketch_c, sketch_micropython
from photoperiod.formats.about import About
from photoperiod.formats.image import Image
from photoperiod.formats.wiring import Wiring, refuse_what_does_not_fit, what_to_know


@dataclass(frozen=True, slots=True)
class Sketch:
    """The files of a program, by name.

    Parameters
    ----------
    made : mapping of str to bytes
        What each export writes anew.
    main : str
        The one of them that a person may have changed: it is replaced only if `is_untouched` says so.
    pins : (str, bytes)
        The file that belongs to the keeper: it is written once, and then left alone.
    told : tuple of str
        What people must know, one line each.
    """

    made: Mapping[str, bytes]
    main: str
    pins: tuple[str, bytes]
    told: tuple[str, ...]


def render(wiring: Wiring, image: Image, about: About) -> Sketch:
    """Return the program of a board that plays a table.

    Parameters
    ----------
    wiring : Wiring
        The board, its clock and its converters.
    image : Image
        The tables.
    about : About
        What a table file tells beside its rows.

    Raises
    ------
    SketchFault
        If the board has too few outputs or too little flash, or counts other steps than the table.
    ImageFault
        If the tables do not fit.
    """
    refuse_what_does_not_fit(wiring, image, about)
    told = tuple(what_to_know(wiring, image, about))
    if wiring.is_c:
        sketch_c.refuse_what_flash_does_not_hold(image)
        made = {c_header.FILE_NAME: c_header.render(image, about)}
        main, text = "main.c", sketch_c.main_text(wiring, image, about, told)
        pins = "pins.h", sketch_c.pins_text(wiring, image, about)
    else:
        made = {micropython.FILE_NAME: micropython.render(image, about)}
        main, text = "main.py", sketch_micropython.main_text(wiring, image, about, told)
        pins = "pins.py", sketch_micropython.pins_text(wiring, image, about)
    made[main] = _sealed(text, "/* {} */" if wiring.is_c else "# {}")
    return Sketch(made, main, (pins[0], pins[1].encode()), told)


#: The first line of a sketch: with the checksum of the rest, so that one that a person changed is seen.
_SEAL = "photoperiod sketch {:08X}: settings belong into the pins file; if you change this one, it stays"


def _sealed(text: str, form: str) -> bytes:
    body = text.encode()
    return (form.format(_SEAL.format(zlib.crc32(body))) + "\n").encode() + body


def is_untouched(raw: bytes) -> bool:
    """Return True if bytes are a sketch as it was written here, by this version or another."""
    first, _, body = raw.partition(b"\n")
    found = re.search(rb"photoperiod sketch ([0-9A-F]{8}):", first)
    return found is not None and int(found[1], 16) == zlib.crc32(body)
