"""The ballast's floor changes the dose."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO409"
TITLE = "snapping to floor or dark costs no dose worth speaking of"
NEEDS_DATES = False

#: A change of dose from which it is reported [fraction]. Our choice, no source.
WORTH_DOSE = 0.02


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose dose the floor changes."""
    for id, c in program.channels.items():
        if c.role != "plan" or id in program.moon_nights:
            continue  # what a moon by phase loses to the floor is another finding
        plan, reachable = c.full_light_hours.plan, c.full_light_hours.reachable
        if abs(reachable - plan) <= WORTH_DOSE * plan + 1e-6 or not c.path.can_be_dark:
            continue  # what never goes dark is another finding
        change = f"{(reachable / plan - 1) * 100:+.1f} %" if plan else "from nothing"
        yield Diagnostic(
            code=CODE,
            path=c.channel.origin,
            on_key=True,
            message=f"the floor of '{c.channel.ballast.id}' and the port's top change the day of '{id}'"
            f" from {number_text(plan)} to {number_text(reachable)} full-light hours ({change})",
            help="plan light at or above the floor, or choose another `below_floor`",
        )
