"""More rows or channels than the controller holds."""

from collections.abc import Iterator

from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import ChannelDay, strays_far
from photoperiod.program.model import Program
from photoperiod.text import number_text

CODE = "PHO404"
TITLE = "the controller holds the rows and channels that the plan needs"
NEEDS_DATES = False


def check(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that does not fit, and for too many channels."""
    controller = program.schedule.controller
    if controller.channels is not None and len(program.channels) > controller.channels:
        yield Diagnostic(
            code=CODE,
            path=(*controller.origin, "channels"),
            message=f"the plan has {len(program.channels)} channels, the controller drives"
            f" {controller.channels}",
            help="join channels, or use a second controller with a file of its own",
        )
    for id, c in program.channels.items():
        peak = c.reachable_peak
        held = controller.setpoints_per_channel
        if len(c.fit.rows) <= held and strays_far(c.fit, peak):
            yield Diagnostic(
                code=CODE,
                path=c.channel.origin,
                on_key=True,
                message=f"{held} rows do not hold the day of '{id}': its light would be wrong by"
                f" {number_text(c.fit.worst_light_error * 100)} % of full where the peak is"
                f" {number_text(peak * 100)} %",
                help=f"give it more rows ({_better(c)}), or a simpler day",
            )
        if len(c.fit.rows) > controller.setpoints_per_channel:
            yield Diagnostic(
                code=CODE,
                path=c.channel.origin,
                on_key=True,
                message=f"'{id}' needs {c.fit.rows_needed} rows to light and go dark as planned, the"
                f" controller holds {controller.setpoints_per_channel}",
                help="use fewer dark and lit stretches a day"
                + (", or times of their own for each channel" if controller.shared_times else ""),
            )


def _better(c: ChannelDay) -> str:
    rows = c.fit.certificate.floor_rows
    return f"more than {rows} buy nothing" if rows else "the switchings alone take most of them"
