"""The image of a program: what a player plays, and with what people want to know in it, a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.image import Image, encode
from photoperiod.formats.table import image_of
from photoperiod.program.model import Program


def program_image(program: Program, about: Mapping[str, Any], *, with_about: bool) -> Image:
    """Return the image of a program's tables.

    Raises
    ------
    ImageFault
        If they are more, or larger, than an image can hold.
    """
    tables = [
        (
            None if table.span is None else table.span.first,
            {id: c.fit.rows for id, c in table.channels.items()},
        )
        for table in program.controller_tables
    ]
    paths = {id: c.path for id, c in program.channels.items()}
    return image_of(about, paths, tables, with_about=with_about)


def render(program: Program, findings: Sequence[Diagnostic]) -> bytes:
    """Return the image as a file that `replay`, `compare` and `run` read, light paths and all."""
    from photoperiod.formats.table_json import about

    return encode(program_image(program, about(program, findings), with_about=True))
