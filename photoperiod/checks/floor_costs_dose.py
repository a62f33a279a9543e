"""The floor of the ballast, or the top of the port, changes the dose of a channel."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.checks.volts_out_of_reach import TOP_SLACK
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.text import number_text

#: A larger change is reported [fraction of the plan's dose]. Our choice, no source.
WORTH_DOSE = 0.02


def floor_costs_dose(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose reachable dose is not the dose of its plan."""
    for id, c in program.channels.items():
        if c.role != "plan" or id in program.moon_nights:
            continue  # PHO424 is about what a moon by phase loses to the floor
        plan, reachable = c.full_light_hours.plan * c.held, c.full_light_hours.reachable
        if abs(reachable - plan) <= WORTH_DOSE * plan + 1e-6 or not c.path.can_be_dark:
            continue  # PHO403 is about a ballast that never goes dark
        is_cut = c.wanted_peak > c.path.most_light + TOP_SLACK  # PHO401 says what to do then
        change = f"{(reachable / plan - 1) * 100:+.1f} %" if plan else "from nothing"
        yield on_key(
            "PHO409",
            c.channel.path,
            f"the floor of '{c.channel.ballast.id}' and the port's top change the day of '{id}'"
            f" from {number_text(plan)} to {number_text(reachable)} full-light hours ({change})",
            help=""
            if is_cut
            else "plan light at or above the floor, or choose another `below_floor`",
            gravity=abs(reachable - plan),
        )
