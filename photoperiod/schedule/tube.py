"""One tube, as a frozen value."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from photoperiod.diagnostics.model import Path
from photoperiod.drive.depreciation import Depreciation


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """One tube, with the hours that it had when it was fitted.

    ``place`` tells which tubes of a channel follow each other: those with the same one. By default
    each has its own. A tube without ``removed`` leaves when the next in its place is fitted.
    ``light_share`` is its part of the channel's light beside the other tubes', in any unit; 0, the
    default, stands for its watts. ``replace_after_hours`` [h] and ``replace_after_months`` tell when it
    is due: with the first of the two; so does ``replace_below``, a share of its declared light, where its
    loss was measured. ``price`` is in the currency of the schedule's costs.
    """

    id: str
    watts: float
    label: str = ""
    fitted: dt.datetime | None = None
    removed: dt.datetime | None = None
    place: str = ""
    lit_hours: float = 0.0
    burn_in_full_hours: float = 0.0
    replace_after_hours: float | None = None
    replace_after_months: float | None = None
    replace_below: float | None = None
    depreciation: Depreciation | None = None
    light_share: float = 0.0
    price: float | None = None

    def __post_init__(self) -> None:
        self._default("label", self.id)
        self._default("light_share", self.watts)
        self._default("place", self.id)

    def _default(self, name: str, default: Any) -> None:
        if not getattr(self, name):
            object.__setattr__(self, name, default)

    @property
    def path(self) -> Path:
        """Its place in the file."""
        return ("tubes", self.id)
