"""The light of the finished table is far from the reachable plan at some second."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text

#: An error is reported if it is larger than this fraction of full, or than this share of the
#: channel's peak if that is less. Our choice, no source.
WORTH_LIGHT = 0.05
WORTH_SHARE = 0.5


def table_strays(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose worst error of light is too large."""
    for id, c in program.channels.items():
        peak = c.reachable_peak
        if c.fit.worst_light_error <= min(WORTH_LIGHT, WORTH_SHARE * peak):
            continue
        second = c.fit.worst_second
        wanted = number_text(float(c.reachable[second]) * 100, 1)
        given = number_text(float(c.replay.light[second]) * 100, 1)
        yield on_key(
            "PHO410",
            c.channel.path,
            f"'{id}' gives {given} % light at {clock_text(second)} where {wanted} % is"
            f" wanted, {number_text(c.fit.worst_light_error * 100, 1)} % more than a tolerance of"
            f" {c.fit.certificate.tolerance_s} s explains",
            help=_way_out(c),
        )


def _way_out(c: ChannelDay) -> str:
    """Return what would bring the table closer to the plan, as far as the certificate proves it."""
    proof = c.fit.certificate
    if c.fit.method != "exact":
        return "slower or fewer ramps, or more rows, bring it closer to the plan"
    if proof.floor_rows is not None and len(c.fit.rows) >= proof.floor_rows:
        return "no number of rows does better on this grid; a finer level step or time step would"
    if proof.half_rows is not None:
        return f"no other table of {len(c.fit.rows)} rows does better; {proof.half_rows} would halve it"
    return f"no other table of {len(c.fit.rows)} rows does better; more rows or slower ramps would"
