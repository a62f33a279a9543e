"""The plan changes its light in the hour that comes twice when the clock is set back."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

#: A larger difference is reported [fraction of full]. Our choice, no source.
WORTH_LIGHT = 0.02


def clock_set_back_lit(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that can't follow its plan in that hour, for the first such date."""
    seen = set()
    for date, id, difference in program.set_back:
        if difference > WORTH_LIGHT and id not in seen:
            seen.add(id)
            yield on_key(
                "PHO425",
                program.schedule.channels[id].path,
                f"on {date} the controller's clock is set back while the light of '{id}' changes:"
                f" in the time that comes twice its light is wrong by up to"
                f" {number_text(difference * 100)} % of full",
                help="set the controller to standard time, or plan steady light for those hours",
            )
