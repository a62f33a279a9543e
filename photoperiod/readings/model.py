"""Readings as values: one array for each quantity, one entry for each row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from photoperiod.arrays import Bools, Floats, np
from photoperiod.diagnostics.model import SourceRange
from photoperiod.readings.columns import Column, Quantity
from photoperiod.readings.dialect import CsvText


class LightUnit(StrEnum):
    """What a meter told: PPFD [µmol m⁻² s⁻¹] or lux; the values are the names of columns."""

    PPFD = "ppfd_umol_m2_s"
    LUX = "lux"


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """The rows of a file, without those that it leaves out.

    Parameters
    ----------
    table : CsvText
        The file as cells.
    columns : mapping of Quantity to Column
        What its columns hold.
    rows : tuple of int
        For each reading the record of the file that it stands in.
    channels : tuple of tuple of str
        For each reading the channels that were on, by id; empty if the file has no such column.
    zones, points, ballasts : tuple of str
        For each reading; empty text where the file does not say.
    dates : tuple of date or None
        For each reading.
    x_cm, y_cm, depth_cm : ndarray, shape (readings,)
        Where the sensor was, NaN where the file does not say. [cm]
    volts : ndarray, shape (readings,)
        At which the channels were, NaN where the file does not say. [V]
    lit_hours : ndarray, shape (readings,)
        Of the tubes, NaN where the file does not say. [h]
    unit : LightUnit
        Of the light.
    light : ndarray, shape (readings,)
        As it fell on the sensor: corrected for immersion. [µmol m⁻² s⁻¹ or lux]
    """

    table: CsvText
    columns: Mapping[Quantity, Column] = field(repr=False)
    rows: tuple[int, ...] = field(repr=False)
    channels: tuple[tuple[str, ...], ...] = field(repr=False)
    zones: tuple[str, ...] = field(repr=False)
    points: tuple[str, ...] = field(repr=False)
    ballasts: tuple[str, ...] = field(repr=False)
    dates: tuple[dt.date | None, ...] = field(repr=False)
    x_cm: Floats = field(repr=False)
    y_cm: Floats = field(repr=False)
    depth_cm: Floats = field(repr=False)
    volts: Floats = field(repr=False)
    lit_hours: Floats = field(repr=False)
    unit: LightUnit
    light: Floats = field(repr=False)

    @property
    def light_quantity(self) -> Quantity:
        """The column that the light is from."""
        return Quantity.LIGHT if self.unit is LightUnit.PPFD else Quantity.LUX

    @property
    def name(self) -> str:
        """What the file is called in messages."""
        return self.table.name

    def __len__(self) -> int:
        return len(self.rows)

    def place(self, reading: int, quantity: Quantity) -> SourceRange:
        """Return where a value of a reading stands; its row if the file has no such column."""
        column = self.columns.get(quantity)
        return self.table.place(self.rows[reading], column.index if column else 0)

    def line(self, reading: int) -> int:
        """Return the line of a reading."""
        return self.table.line(self.rows[reading])

    def dates_of(self, channel: str) -> list[dt.date]:
        """Return the dates on which a channel was read, in their order, each once."""
        return sorted({day for at in self.with_channel(channel) if (day := self.dates[at])})

    def with_channel(self, id: str) -> list[int]:
        """Return the readings for which a channel was on."""
        return [index for index, on in enumerate(self.channels) if id in on]

    @property
    def has_position(self) -> Bools:
        """True for the readings whose three coordinates are known."""
        return np.isfinite(self.x_cm) & np.isfinite(self.y_cm) & np.isfinite(self.depth_cm)
