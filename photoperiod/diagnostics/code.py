"""What a finding code is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How bad a diagnostic is; ``ACCEPTED`` is a hard finding that the schedule accepts by name."""

    ERROR = "error"
    WARNING = "warning"
    ACCEPTED = "accepted"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Code:
    """A finding code: its readable name, its severity, and what ``photoperiod explain`` says.

    ``is_hard`` marks a check that stops ``compile`` unless the schedule accepts it by name.
    """

    code: str
    name: str
    severity: Severity
    title: str
    explanation: str
    is_hard: bool = False
