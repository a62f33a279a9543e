"""A sketch in its folder: what a person wrote there stays, the rest is written anew."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.atomic import write_file
from photoperiod.formats.sketch import Sketch, is_untouched


@dataclass(frozen=True, slots=True)
class WrittenSketch:
    """Names of the files that were written, and of those that were there and stay as they are."""

    written: tuple[str, ...]
    kept: tuple[str, ...]


def write_sketch(folder: Path, sketch: Sketch) -> WrittenSketch:
    """Write the files of a sketch into a folder that is there.

    The pins belong to the keeper: they are written once. A main file that a person has changed stays.

    Raises
    ------
    OutsideWorldError
        PHO502 if a file can't be read or written.
    """
    pins, pins_text = sketch.pins
    written, kept = [], []
    for name, content in (*sketch.made.items(), (pins, pins_text)):
        path = folder / name
        if _is_theirs(path, name, sketch):
            kept.append(name)
            continue
        write_file(path, content)
        written.append(name)
    return WrittenSketch(tuple(written), tuple(kept))


def _is_theirs(path: Path, name: str, sketch: Sketch) -> bool:
    if not os.path.lexists(path):
        return False
    if name == sketch.pins[0]:
        return True
    if name != sketch.main:
        return False
    try:
        return not is_untouched(path.read_bytes())
    except OSError as error:
        raise OutsideWorldError("PHO502", f"can't read '{path}': {os_reason(error)}") from error
