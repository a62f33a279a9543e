"""The plan needs more rows or more channels than the controller holds."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key, on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program
from photoperiod.text import number_text


def more_than_controller_holds(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for too many channels, and one for each channel whose day does not fit."""
    controller = program.schedule.controller
    if controller.channels is not None and len(program.channels) > controller.channels:
        yield on_value(
            "PHO404",
            (*controller.path, "channels"),
            f"the plan has {len(program.channels)} channels, the controller drives"
            f" {controller.channels}",
            help="join channels, or use a second controller with a file of its own",
        )
    for id, c in program.channels.items():
        peak = c.reachable_peak
        held = controller.setpoints_per_channel
        if len(c.fit.rows) <= held and c.fit.strays_far(peak):
            yield on_key(
                "PHO404",
                c.channel.path,
                f"{held} rows are too few for the day of '{id}': its light would be wrong by"
                f" {number_text(c.fit.worst_light_error * 100)} % of full where the peak is"
                f" {number_text(peak * 100)} %",
                help=f"give it more rows ({_better(c)}), or a simpler day",
                gravity=c.fit.worst_light_error,
            )
        if len(c.fit.rows) > controller.setpoints_per_channel:
            yield on_key(
                "PHO404",
                c.channel.path,
                f"'{id}' needs {c.fit.rows_needed} rows to light and go dark as planned, the"
                f" controller holds {controller.setpoints_per_channel}",
                help="use fewer dark and lit stretches a day"
                + (
                    ", or a controller with separate times for each channel"
                    if controller.shared_times
                    else ""
                ),
                gravity=c.fit.rows_needed,
            )


def _better(c: ChannelDay) -> str:
    rows = c.fit.certificate.floor_rows
    return f"more than {rows} do not help" if rows else "going dark and lighting takes most of them"
