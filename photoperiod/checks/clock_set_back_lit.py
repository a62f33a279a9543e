"""Light that differs in the hour that comes twice when the controller's clock is set back."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO425"
TITLE = "the plan gives the same light twice where the controller's clock is set back"
NEEDS_DATES = True
OF_ALL_TABLES = True

#: A difference from which it is reported [fraction of full]. Our choice.
WORTH_LIGHT = 0.02


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that can't follow its plan through such an hour."""
    told = set()
    for date, id, difference in program.set_back:
        if difference > WORTH_LIGHT and id not in told:
            told.add(id)
            yield Diagnostic(
                code=CODE,
                path=program.schedule.channels[id].origin,
                on_key=True,
                message=f"on {date} the controller's clock is set back while the light of '{id}' changes:"
                f" the repeated time gives light that is off by up to {number_text(difference * 100)} %"
                " of full",
                help="let the controller keep standard time, or plan steady light for those hours",
            )
