"""The loss of light of a tube from a file of readings, a series."""

from __future__ import annotations

from photoperiod.drive.depreciation import Depreciation, DepreciationKind
from photoperiod.schedule.cursor import Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.readings_files import ReadingsFiles, found_in

#: The kind of a depreciation that a file tells.
SERIES = "series"


def faded(given: Cursor, files: ReadingsFiles, findings: Findings) -> Depreciation:
    """Return the loss that a series of readings tells, an exponential one.

    Parameters
    ----------
    given : Cursor
        The depreciation in the file.
    files : ReadingsFiles
        The files that the schedule names.
    findings : Findings
        Findings are added here.

    Raises
    ------
    AlreadyReported
        If the file tells no loss.
    """
    from photoperiod.readings.fade import MOST_REACH, fade_of

    fade = found_in(given, "series", fade_of, files, findings)
    is_shown = fade.alpha.low > 0
    reach_h = fade.first_hours + MOST_REACH * (fade.last_hours - fade.first_hours)
    return Depreciation(
        kind=DepreciationKind.EXPONENTIAL,
        loss_per_1000_h=max(fade.loss, 0.0),
        measured_to_h=reach_h if is_shown else 0.0,
    )
