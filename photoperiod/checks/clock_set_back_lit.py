"""The plan changes its light in the hour that comes twice when the clock is set back."""

import datetime as dt
from collections.abc import Iterator

from photoperiod.checks.finding import on_key, others
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

#: A difference is reported if it is larger than this fraction of full, or than this share of the channel's
#: peak if that is less: the whole light of a moon may be 2 %. Our choice, no source.
WORTH_LIGHT, WORTH_SHARE = 0.02, 1 / 3


def clock_set_back_lit(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that can't follow its plan in that hour, for the first such date."""
    found: dict[str, list[tuple[dt.date, float]]] = {}
    peaks = {
        id: max(table.channels[id].reachable_peak for table in program.tables)
        for id in {id for _, id, _ in program.set_back}
    }
    for date, id, difference in program.set_back:
        if peaks[id] > 0 and difference > min(WORTH_LIGHT, WORTH_SHARE * peaks[id]):
            found.setdefault(id, []).append((date, difference))
    for id, dates in found.items():
        date, difference = dates[0]
        yield on_key(
            "PHO425",
            program.schedule.channels[id].path,
            f"on {date} the controller's clock is set back while the light of '{id}' changes:"
            f" in the time that comes twice its light is wrong by up to"
            f" {number_text(difference * 100)} % of full{others([str(each) for each, _ in dates[1:]])}",
            help="set the controller to standard time, or plan steady light for those hours",
        )
