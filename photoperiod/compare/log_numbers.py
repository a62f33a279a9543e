"""Numbers and relay states in the cells of a log.

Half of the world writes 8,93 and the other half 8.93, and 1,234 is two numbers that differ by a
thousand. What a file does not settle is asked for, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from photoperiod.compare.log_model import DecimalMark, LogRefused, Quantity
from photoperiod.readings.dialect import reads_two_ways
from photoperiod.text import short

#: Larger values than these are faults of a meter, or values of another quantity.
MAX_VALUE = {
    Quantity.COUNT: 65_535.0,
    Quantity.CONVERTER_CODE: 65_535.0,
    Quantity.MILLIVOLTS: 12_000.0,
    Quantity.VOLTS: 12.0,
    Quantity.LEVEL_PERCENT: 120.0,
    Quantity.LIGHT_PERCENT: 120.0,
    Quantity.RELAY: 1.0,
    Quantity.PPFD: 5_000.0,
}

#: Words for a closed relay beside their opposites.
_PAIRS = (("on", "off"), ("closed", "open"), ("1", "0"), ("1.0", "0.0"), ("true", "false"))

#: Words for the level of a pin. Many relay boards close at the low one, so they say nothing alone.
_PIN_PAIRS = (("high", "low"), ("h", "l"))

_WITH_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")


class Beyond(ValueError):
    """A number that its quantity cannot be."""

    def __init__(self, value: float) -> None:
        super().__init__(value)
        self.value = value


class Numbers:
    """Reads numbers and relay states of one log.

    Parameters
    ----------
    name : str
        The name of the file, for messages.
    decimal : DecimalMark or None
        What stands before decimals; None if the file has to show it.
    relay_words : mapping of str to bool
        Words, in lower case, and whether the relay is closed then.
    """

    def __init__(
        self, name: str, decimal: DecimalMark | None, relay_words: Mapping[str, bool]
    ) -> None:
        self.name, self.decimal = name, decimal
        self._relay = _relay_states(relay_words)
        self._point = self._comma = self._in_doubt = ""

    def value(self, quantity: Quantity, cell: str) -> float:
        """Return the number in a cell; 1 or 0 for a relay.

        Raises
        ------
        ValueError
            If there is none; `Beyond` if the quantity can't have it.
        LogRefused
            If a relay column holds the level of a pin.
        """
        if quantity is Quantity.RELAY:
            return self._relay_state(cell)
        value = self._number(cell)
        if not -0.05 * MAX_VALUE[quantity] <= value <= MAX_VALUE[quantity]:
            raise Beyond(value)
        return value

    def _number(self, cell: str) -> float:
        if "," not in cell:
            if "." in cell:
                self._point = self._point or cell
                if self.decimal is DecimalMark.COMMA:
                    raise ValueError
            return float(cell)
        if self.decimal is DecimalMark.POINT or not _WITH_COMMA.fullmatch(cell):
            raise ValueError
        if reads_two_ways(cell):
            self._in_doubt = self._in_doubt or cell
        else:
            self._comma = self._comma or cell
        return float(cell.replace(",", "."))

    def _relay_state(self, cell: str) -> float:
        word = cell.lower()
        if word in self._relay:
            return float(self._relay[word])
        if any(word in pair for pair in _PIN_PAIRS):
            raise LogRefused(
                self.name,
                f"a relay is '{short(cell)}', and whether it is closed then depends on the relay board",
                f"say it with --relay-word {cell.upper()}=closed or --relay-word {cell.upper()}=open",
            )
        raise ValueError

    def refuse_doubt(self) -> None:
        """Raise `LogRefused` if the file does not settle what its commas mean."""
        if self.decimal is not None or not (self._comma or self._in_doubt):
            return
        if self._comma and not self._point:
            return
        shown = self._comma or self._in_doubt
        beside = f" beside '{short(self._point)}'" if self._point else ""
        raise LogRefused(
            self.name,
            f"'{short(shown)}'{beside} may have a decimal comma, or a comma between thousands",
            "say it with --decimal comma or --decimal point",
        )


def _relay_states(told: Mapping[str, bool]) -> dict[str, bool]:
    """Return what each word means; the opposite of a word that was told means the opposite."""
    states = {
        word: is_on for pair in _PAIRS for word, is_on in zip(pair, (True, False), strict=True)
    }
    for word, is_closed in told.items():
        for pair in (*_PAIRS, *_PIN_PAIRS):
            if word in pair:
                other = pair[1 - pair.index(word)]
                states[other] = told.get(other, not is_closed)
        states[word] = is_closed
    return states
