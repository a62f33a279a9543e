"""The table that an export holds, read back: the image to play, and the light path beside it.

A file is used only if its checksum fits. Nothing here knows the schedule that it was made from.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Mapping
from dataclasses import dataclass

from photoperiod.drive.light_path import LightPath
from photoperiod.errors import OutsideWorldError
from photoperiod.formats import records_csv, table_csv, table_image, table_json
from photoperiod.formats.about import About
from photoperiod.formats.contents import Contents
from photoperiod.formats.image import MAGIC, Image, encode, refuse_unplayable
from photoperiod.formats.integrity import FileFault
from photoperiod.sky.clock import Clock, ClockKind
from photoperiod.text import no_utf8_text, short

#: No export is larger; more is not read. [bytes]
MAX_BYTES = 256 * 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayableTable:
    """A table that was read back.

    Parameters
    ----------
    about : About
        What the file tells beside its rows.
    image : Image
        What is played.
    paths : mapping of str to LightPath
        From counts to light, by channel.
    """

    about: About
    image: Image
    paths: Mapping[str, LightPath]

    @property
    def channels(self) -> tuple[str, ...]:
        """The ids of the channels, in the order of the image."""
        return tuple(self.paths)

    def full_ppfd(self, zone: str) -> dict[str, float]:
        """Return what each channel that lights a zone gives it alone at full. [µmol m⁻² s⁻¹]"""
        return {
            id: channel.full_ppfd[zone]
            for id, channel in self.about.channels.items()
            if channel.full_ppfd.get(zone)
        }

    def clock(self, time_zone: str | None = None) -> Clock:
        """Return the controller's clock; ``time_zone`` stands in where the export names none.

        Raises
        ------
        ValueError
            If there is no zone, or no such one.
        """
        kind = self.about.clock
        if kind == ClockKind.UTC:
            return Clock.utc()
        zone = self.about.time_zone or time_zone
        if zone is None:
            raise ValueError(
                f"the table is in {kind} time, but does not say in which time zone the tank stands"
            )
        return Clock(kind, zone)


def read_table(name: str, raw: bytes) -> PlayableTable:
    """Return the table that a JSON, CSV or binary export holds.

    Parameters
    ----------
    name : str
        What to call the file in messages.
    raw : bytes
        The whole file.

    Raises
    ------
    OutsideWorldError
        PHO505 if the file is no table, was changed or cut off, or is of another version.
    """
    try:
        about, image = _read(raw)
        return PlayableTable(about=about, image=image, paths=about.light_paths())
    except Exception as fault:  # a player must refuse whatever a file may hold, not end by it
        why = fault if isinstance(fault, FileFault) else "it holds values that no table can hold"
        raise OutsideWorldError(
            "PHO505",
            f"can't use '{short(name)}' as a table: {why}",
            "compile it into a table first: `photoperiod export json SCHEDULE -o table.json`"
            if _is_schedule(raw)
            else "nothing of it was used; copy it again from where it was made, or make it anew with"
            " `photoperiod export`",
        ) from fault


def _read(raw: bytes) -> tuple[About, Image]:
    if len(raw) > MAX_BYTES:
        raise FileFault(f"it is larger than {MAX_BYTES:,} bytes")
    if raw.startswith(MAGIC):
        return table_image.read(raw)
    if raw.lstrip()[:1] == b"{":
        return _playable(table_json.read(raw))
    if raw.startswith(records_csv.COLUMNS[0].encode()):
        return _playable(records_csv.read(raw))
    if _is_schedule(raw):
        raise FileFault("it is a schedule; `photoperiod export` makes a table of it")
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise FileFault(f"it can't be read: {'; '.join(no_utf8_text(raw, 0))}")
    if raw.startswith(",".join(table_csv.COLUMNS).encode()):
        raise FileFault(
            "it holds rows alone, as `compile` writes them for people; play the table.json beside it"
        )
    if b"time" in raw[:4096].lower().partition(b"\n")[0]:
        raise FileFault(
            "it looks like a log, and no export of a table; `compare` wants the table first, then the log"
        )
    raise FileFault("it is no JSON, CSV or binary export of a table")


def _is_schedule(raw: bytes) -> bool:
    return re.search(rb"^schedule:", raw[:4096], re.MULTILINE) is not None


def _playable(contents: Contents) -> tuple[About, Image]:
    channels = list(contents.about.channels)
    if any(list(table.channels) != channels for table in contents.tables):
        raise FileFault("its rows and its description have different channels")
    image = table_image.image_of(contents)
    encode(image)  # refuses what is too large for a player
    refuse_unplayable(image)
    return contents.about, image
