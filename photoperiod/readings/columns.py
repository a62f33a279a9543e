"""The columns that a file of readings can have; units are part of their names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from photoperiod.readings.dialect import CsvText
from photoperiod.readings.faults import Faults
from photoperiod.text import close_match, short


class Quantity(StrEnum):
    """What a column holds."""

    X = "x"
    Y = "y"
    DEPTH = "depth"
    ZONE = "zone"
    POINT = "point"
    CHANNEL = "channel"
    LEVEL = "level"
    LIGHT = "light"
    LUX = "lux"
    DATE = "date"
    IMMERSION_FACTOR = "immersion_factor"
    IMMERSION_APPLIED = "immersion_applied"
    LIT_HOURS = "lit_hours"
    BALLAST = "ballast"
    LEAVE_OUT = "leave_out"


@dataclass(frozen=True, slots=True)
class Kind:
    """A name that a column can have.

    Parameters
    ----------
    quantity : Quantity
        What it holds.
    factor : float
        What a value is multiplied by: lengths to cm, levels to volts.
    least, most : float
        Values outside are slips of the pen, in the unit of the column; NaN for words and dates.
    """

    quantity: Quantity
    factor: float = 1.0
    least: float = float("nan")
    most: float = float("nan")

    @property
    def is_number(self) -> bool:
        """True if the column holds numbers."""
        return self.least == self.least


#: The most PPFD that a reading can have [µmol m⁻² s⁻¹]: twice full sun, as in the schedule.
MOST_PPFD = 5000.0

#: The columns by their names. A tank is shorter than 20 m and shallower than 10 m: our choice.
COLUMNS: Mapping[str, Kind] = {
    **{
        f"{name}_{unit}": Kind(quantity, cm, least / cm, most / cm)
        for name, quantity, least, most in (
            ("x", Quantity.X, -2000.0, 2000.0),
            ("y", Quantity.Y, -2000.0, 2000.0),
            ("depth", Quantity.DEPTH, 0.0, 1000.0),
        )
        for unit, cm in (("mm", 0.1), ("cm", 1.0), ("m", 100.0))
    },
    "zone": Kind(Quantity.ZONE),
    "point": Kind(Quantity.POINT),
    "channel": Kind(Quantity.CHANNEL),
    "level_percent": Kind(Quantity.LEVEL, 0.1, 0.0, 100.0),
    "volts": Kind(Quantity.LEVEL, 1.0, 0.0, 12.0),
    "ppfd_umol_m2_s": Kind(Quantity.LIGHT, 1.0, 0.0, MOST_PPFD),
    "lux": Kind(Quantity.LUX, 1.0, 0.0, 300_000.0),
    "date": Kind(Quantity.DATE),
    "immersion_factor": Kind(Quantity.IMMERSION_FACTOR, 1.0, 0.5, 3.0),
    "immersion_applied": Kind(Quantity.IMMERSION_APPLIED),
    "lit_hours": Kind(Quantity.LIT_HOURS, 1.0, 0.0, 200_000.0),
    "ballast": Kind(Quantity.BALLAST),
    "leave_out": Kind(Quantity.LEAVE_OUT),
}

#: Columns that begin so are for people, and are not read.
NOTE = "note"

#: What to write for a quantity that a file lacks.
_EXAMPLES = {
    Quantity.X: "x_cm",
    Quantity.Y: "y_cm",
    Quantity.DEPTH: "depth_cm",
    Quantity.LEVEL: "level_percent` or `volts",
    Quantity.LIGHT: "ppfd_umol_m2_s` or `lux",
}


#: What to do about some quantities that a file lacks.
_HELPS = {
    Quantity.IMMERSION_APPLIED: "add it: `yes` where the number counts as it stands, read in air or"
    " corrected; `no` where it was read under water and is still to be multiplied by `immersion_factor`",
}


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a file: its index, its name and what it holds."""

    index: int
    name: str
    kind: Kind


def columns_of(table: CsvText, faults: Faults) -> dict[Quantity, Column]:
    """Return the columns of a file by what they hold; a finding for each that is not understood."""
    found: dict[Quantity, Column] = {}
    for index, name in enumerate(table.header):
        kind = COLUMNS.get(name)
        if kind is None:
            if name.startswith(NOTE):
                continue
            faults.add(
                "PHO903",
                table.place(-1, index),
                f"unknown column '{short(name)}'" if name else "a column without a name",
                _meant(name),
            )
            continue
        first = found.setdefault(kind.quantity, Column(index, name, kind))
        if first.index != index:
            what = "stands twice" if first.name == name else f"says the same as '{first.name}'"
            faults.add(
                "PHO903", table.place(-1, index), f"column '{name}' {what}", "keep one of the two"
            )
    return found


def _meant(name: str) -> str:
    """Return help for a name that no column has; a unit is never guessed."""
    units = [known for known, kind in COLUMNS.items() if known.startswith(f"{kind.quantity}_")
             and kind.quantity == name]  # fmt: skip
    if len(units) > 1:
        return f"say its unit: {', '.join(units[:-1])} or {units[-1]}"
    guess = close_match(name, COLUMNS)
    if guess:
        return f"did you mean '{guess}'?"
    return f"the columns are {', '.join(COLUMNS)}; one that begins with `note` is not read"


def require(
    table: CsvText,
    columns: Mapping[Quantity, Column],
    needed: Sequence[Quantity],
    what: str,
    faults: Faults,
) -> None:
    """Add a finding for each quantity that some use of the file needs and no column holds."""
    for quantity in needed:
        if quantity not in columns:
            if quantity is Quantity.LIGHT and Quantity.LUX in columns:
                continue
            name = _EXAMPLES.get(quantity, str(quantity))
            help = _HELPS.get(quantity, "add it")
            if what == "a map" and quantity is Quantity.CHANNEL and Quantity.LEVEL in columns:
                help = (
                    "add it; or is this a sweep of a ballast? `photoperiod measure sweep` reads one"
                )
            faults.add("PHO903", table.place(-1, 0), f"{what} needs a column `{name}`", help)
