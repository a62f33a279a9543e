"""A zone gets more light than its `ppfd_max`."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value, others
from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.model import Program
from photoperiod.text import clock_text, hours_text, number_text


def ppfd_above_most(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone over its limit, for the table in which it is farthest over it.

    It names the channel that gives most at that peak, and the first dates of other tables that are over it.
    """
    for id, zone in program.schedule.zones.items():
        limit = zone.ppfd_max
        over = [t for t in program.tables if _is_over(t.zones[id].peak_ppfd, limit)]
        if limit is None or not over:
            continue
        table = max(over, key=lambda each: each.zones[id].peak_ppfd)
        z = table.zones[id]
        is_over = z.ppfd > limit + PPFD_SLACK
        shares = z.shares_at(z.peak_second)
        strongest = max(shares, key=lambda name: shares[name])
        is_alike = len(over) == len(program.tables) and all(
            abs(each.zones[id].peak_ppfd - z.peak_ppfd) <= PPFD_SLACK for each in over
        )
        when = "" if table.span is None or is_alike else f" on {table.span.first}"
        also = [str(each.span.first) for each in over if each is not table and each.span]
        yield on_value(
            "PHO402",
            (*zone.path, "ppfd_max"),
            f"zone '{id}' gets {number_text(z.peak_ppfd, 1)} µmol m⁻² s⁻¹{when} at"
            f" {clock_text(z.peak_second)}, over its limit of {number_text(limit)} by"
            f" {number_text(z.peak_ppfd - limit)}, from {clock_text(int(is_over.argmax()))} on, for"
            f" {hours_text(int(is_over.sum()))} a day{'' if is_alike else others(also, 'in')}",
            help=f"lower the peaks of the channels that light it, first that of '{strongest}'",
            related=(
                Related(message="gives most of it", path=table.channels[strongest].channel.path),
            ),
        )


def _is_over(peak_ppfd: float, limit: float | None) -> bool:
    return limit is not None and peak_ppfd > limit + PPFD_SLACK
