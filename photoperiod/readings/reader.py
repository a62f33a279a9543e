"""The bytes of a CSV file → readings, and every fault of its cells with row and column."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from photoperiod.arrays import Floats, np
from photoperiod.readings.columns import COLUMNS, MOST_PPFD, Column, Quantity, columns_of, require
from photoperiod.readings.dialect import CsvText, decimal_mark, read_csv
from photoperiod.readings.faults import Faults, TooManyFaults
from photoperiod.readings.model import LightUnit, Readings
from photoperiod.text import counted, no_date_text, number_text, short

#: What every number of a file is made of.
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")

#: A number with words behind it, such as ``12 cm``.
_WITH_UNIT = re.compile(r"[+-]?[\d.,]+\s*[^\d\s.,].*")

#: A channel's id, as in the schedule.
_ID = re.compile(r"[a-z][a-z0-9-]*")

#: What stands between channels that were on together.
TOGETHER = "+"

_YES_NO = {"yes": True, "no": False}

#: What each use of a file needs, beside light.
NEEDS: Mapping[str, tuple[Quantity, ...]] = {
    "map": (Quantity.CHANNEL, Quantity.LEVEL, Quantity.IMMERSION_APPLIED),
    "sweep": (Quantity.LEVEL,),
    "series": (Quantity.LIT_HOURS,),
}


def read_readings(name: str, raw: bytes, use: str) -> tuple[Readings | None, Faults]:
    """Return the readings in the bytes of a file, None if there are faults, and what was found.

    Parameters
    ----------
    name : str
        What to call the file in messages.
    raw : bytes
        The whole file.
    use : str
        What they are for, one of `NEEDS`: it decides which columns must be there.
    """
    table, faults = read_csv(name, raw, COLUMNS)
    if table is None:
        return None, faults
    try:
        columns = columns_of(table, faults)
        require(table, columns, (*NEEDS[use], Quantity.LIGHT), f"a {use}", faults)
        if faults.has_errors:
            return None, faults
        found = _Cells(table, columns, faults).readings(copies_count=use != "map")
    except TooManyFaults:
        return None, faults
    return (None if faults.has_errors else found), faults


@dataclass(slots=True)
class _Cells:
    """Reads the cells of a file column by column."""

    table: CsvText
    columns: Mapping[Quantity, Column]
    faults: Faults
    rows: tuple[int, ...] = ()
    mark: str = "."

    def readings(self, *, copies_count: bool) -> Readings | None:
        """Return the readings; None if that makes no sense.

        ``copies_count`` is True where a reading that comes again is an ordinary thing.
        """
        self.rows = self._whole_rows()
        numbers = [column.index for column in self.columns.values() if column.kind.is_number]
        mark = decimal_mark(self.table, numbers, self.faults)
        if mark is None or not self.rows:
            return None
        self.mark = mark
        self.rows = self._rows_in_use()
        size = len(self.rows)
        if not size:
            self.faults.add("PHO903", None, "every row is left out", "leave one in")
            return None
        if not copies_count:
            self._report_copies()
        has_ppfd = Quantity.LIGHT in self.columns
        if has_ppfd and Quantity.LUX in self.columns:
            self.faults.add(
                "PHO909",
                self.table.place(-1, self.columns[Quantity.LUX].index),
                "the column `lux` is not used: the file has PPFD",
            )
        return Readings(
            table=self.table,
            columns=self.columns,
            rows=self.rows,
            channels=self._channels(),
            zones=self._words(Quantity.ZONE, is_id=True),
            points=self._words(Quantity.POINT),
            ballasts=self._words(Quantity.BALLAST),
            dates=self._dates(),
            x_cm=self._numbers(Quantity.X),
            y_cm=self._numbers(Quantity.Y),
            depth_cm=self._numbers(Quantity.DEPTH),
            volts=self._numbers(Quantity.LEVEL, needed=True),
            lit_hours=self._numbers(Quantity.LIT_HOURS, needed=True),
            unit=LightUnit.PPFD if has_ppfd else LightUnit.LUX,
            light=self._light(Quantity.LIGHT if has_ppfd else Quantity.LUX),
        )

    def _whole_rows(self) -> tuple[int, ...]:
        """Return the records that have a cell for each column; a finding for each other one."""
        size, rows = len(self.table.header), []
        if set(map(len, self.table.records)) == {size}:
            return tuple(range(len(self.table.records)))
        for record, cells in enumerate(self.table.records):
            if len(cells) == size:
                rows.append(record)
                continue
            self.faults.add(
                "PHO904",
                self.table.place(record, min(len(cells), size)),
                f"this row has {counted(len(cells), 'cell')}, the header {size}",
                "give each column a cell, an empty one where nothing is known; a decimal comma stands"
                " in quotes where commas separate cells",
            )
        return tuple(rows)

    def _rows_in_use(self) -> tuple[int, ...]:
        """Return the records without those that the file leaves out; each of those is named."""
        column = self.columns.get(Quantity.LEAVE_OUT)
        if column is None:
            return self.rows
        for record in self.rows:
            why = self.table.records[record][column.index].strip()
            if why:
                self.faults.add(
                    "PHO909",
                    self.table.place(record, column.index),
                    f"this row is left out: {short(why)}",
                )
        return tuple(
            record for record in self.rows if not self.table.records[record][column.index].strip()
        )

    def _report_copies(self) -> None:
        """Report rows that repeat another one cell by cell."""
        records = self.table.records
        if len({tuple(records[record]) for record in self.rows}) == len(self.rows):
            return
        first: dict[tuple[str, ...], int] = {}
        for record in self.rows:
            earlier = first.setdefault(tuple(records[record]), record)
            if earlier != record:
                self.faults.add(
                    "PHO905",
                    self.table.place(record, 0),
                    f"this row repeats line {self.table.line(earlier)} cell by cell",
                    "two readings, or one that was copied? A copy counts twice: remove it",
                )

    def _cells(self, quantity: Quantity) -> list[str]:
        index, records = self.columns[quantity].index, self.table.records
        if len(self.rows) == len(records):
            found = [cells[index] for cells in records]
        else:
            found = [records[record][index] for record in self.rows]
        has_blanks = len(f"x{''.join(found)}x".split(None, 1)) > 1  # few files have any
        return [cell.strip() for cell in found] if has_blanks else found

    def _fault(self, at: int, quantity: Quantity, message: str, help: str = "") -> None:
        place = self.table.place(self.rows[at], self.columns[quantity].index)
        self.faults.add("PHO904", place, message, help)

    def _numbers(self, quantity: Quantity, *, needed: bool = False) -> Floats:
        """Return a column of numbers in its base unit, NaN where it is empty or faulty."""
        column = self.columns.get(quantity)
        if column is None:
            return np.full(len(self.rows), np.nan)
        cells = self._cells(quantity)
        values = self._parsed(quantity, cells)
        kind = column.kind
        for at in np.flatnonzero((values < kind.least) | (values > kind.most)):
            self._out_of_range(int(at), quantity, cells[at].replace(self.mark, "."))
        if needed:
            for at in np.flatnonzero(np.isnan(values)):
                if not cells[at]:
                    self._fault(
                        int(at),
                        quantity,
                        f"`{column.name}` is empty",
                        "write the number, or remove the row",
                    )
        return np.asarray(values * kind.factor)

    def _parsed(self, quantity: Quantity, cells: Sequence[str]) -> Floats:
        """Return the numbers of cells; all at once where all are probably well-formed."""
        joined = "\n".join(cells).replace(self.mark, ".")
        if all(cells) and set(joined) <= set("0123456789.+-\n"):
            try:
                return np.array(list(map(float, joined.split("\n"))))
            except ValueError:
                pass
        return np.array(
            [
                self._number(at, quantity, cell.replace(self.mark, "."))
                for at, cell in enumerate(cells)
            ]
        )

    def _number(self, at: int, quantity: Quantity, cell: str) -> float:
        if not cell:
            return math.nan
        if _NUMBER.fullmatch(cell):
            return float(cell)
        name, help = self.columns[quantity].name, "write the number alone"
        if _WITH_UNIT.fullmatch(cell):
            help = f"write the number alone: the unit is that of the column's name, `{name}`"
        self._fault(at, quantity, f"'{short(cell)}' is not a number", help)
        return math.nan

    def _out_of_range(self, at: int, quantity: Quantity, cell: str) -> None:
        column = self.columns[quantity]
        kind, help = column.kind, "correct it, or say in `leave_out` why it is not used"
        if column.name == LightUnit.PPFD and float(cell) > MOST_PPFD:
            help = "full sun is about 2,000: is it lux? Then name the column `lux`"
        self._fault(
            at,
            quantity,
            f"{cell} is not from {number_text(kind.least, 4)} to {number_text(kind.most, 4)}",
            help,
        )

    def _words(self, quantity: Quantity, *, is_id: bool = False) -> tuple[str, ...]:
        """Return a column of words, empty texts if there is none."""
        if quantity not in self.columns:
            return ("",) * len(self.rows)
        cells = self._cells(quantity)
        if is_id:
            for cell in set(cells) - {""}:
                if not _ID.fullmatch(cell):
                    self._not_an_id(quantity, cells.index(cell), cell)
        return tuple(cells)

    def _not_an_id(self, quantity: Quantity, at: int, cell: str) -> None:
        self._fault(
            at,
            quantity,
            f"'{short(cell)}' is no id of a {quantity}",
            "write it as in the schedule: small letters, digits and hyphens",
        )

    def _channels(self) -> tuple[tuple[str, ...], ...]:
        """Return the channels that were on for each reading."""
        if Quantity.CHANNEL not in self.columns:
            return ((),) * len(self.rows)
        cells = self._cells(Quantity.CHANNEL)
        meant: dict[str, tuple[str, ...]] = {}
        for at, cell in enumerate(cells):
            if cell in meant:
                continue
            ids = tuple(id.strip() for id in cell.split(TOGETHER))
            meant[cell] = ids
            wrong = [id for id in ids if not _ID.fullmatch(id)]
            if not cell:
                self._fault(at, Quantity.CHANNEL, "`channel` is empty", "name what was lit")
            elif wrong or len(set(ids)) < len(ids):
                self._not_an_id(Quantity.CHANNEL, at, wrong[0] if wrong else cell)
        return tuple(meant[cell] for cell in cells)

    def _dates(self) -> tuple[dt.date | None, ...]:
        if Quantity.DATE not in self.columns:
            return (None,) * len(self.rows)
        cells = self._cells(Quantity.DATE)
        read: dict[str, dt.date | None] = {"": None}
        for at, cell in enumerate(cells):
            if cell not in read:
                read[cell] = None
                try:
                    if len(cell) != len("2027-03-02"):
                        raise ValueError
                    read[cell] = dt.date.fromisoformat(cell)
                except ValueError:
                    self._fault(
                        at,
                        Quantity.DATE,
                        *no_date_text(cell),
                    )
        return tuple(read[cell] for cell in cells)

    def _light(self, quantity: Quantity) -> Floats:
        """Return what fell on the sensor: readings under water, corrected where that is not yet done."""
        light = self._numbers(quantity, needed=True)
        if Quantity.IMMERSION_APPLIED not in self.columns:
            return light
        cells = self._cells(Quantity.IMMERSION_APPLIED)
        for cell in set(cells) - set(_YES_NO):
            self._fault(
                cells.index(cell),
                Quantity.IMMERSION_APPLIED,
                f"'{short(cell)}' is neither yes nor no",
                "yes: the meter, or whoever wrote the file, has applied the factor; no: it is still to be"
                " applied",
            )
        factor = self._numbers(Quantity.IMMERSION_FACTOR)
        is_owed = np.array([_YES_NO.get(cell) is False for cell in cells])
        for at in np.flatnonzero(is_owed & np.isnan(factor)):
            self._fault(
                int(at),
                Quantity.IMMERSION_APPLIED,
                "a correction is still to be applied, but no factor is given",
                "write `immersion_factor`: the maker of the sensor tells it; 1 in air",
            )
        if is_owed.any() and not self.faults.has_errors:
            self._report_correction(is_owed, factor)
        return np.where(is_owed, light * factor, light)

    def _report_correction(self, is_owed: Floats, factor: Floats) -> None:
        for value in np.unique(factor[is_owed]):
            owed = np.flatnonzero(is_owed & (factor == value))
            if value == 1.0:
                continue
            self.faults.add(
                "PHO909",
                self.table.place(
                    self.rows[int(owed[0])], self.columns[Quantity.IMMERSION_APPLIED].index
                ),
                f"{counted(owed.size, 'reading')} from here on multiplied by the immersion factor"
                f" {number_text(float(value), 4)}",
            )
