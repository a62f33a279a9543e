"""The light of the finished table is far from the reachable plan at some second."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text

#: An error is reported if it is larger than this fraction of full, or than this share of the
#: channel's peak if that is less: a dim light must not be half or double. A moon that waxes is dim on many
#: nights, and PHO424 tells on which it is not shown. Our choice, no source.
WORTH_LIGHT = 0.05
WORTH_SHARE, WORTH_SHARE_OF_MOON = 1 / 3, 0.5

#: Lights that differ by less are the same [fraction of full].
STEP_SLACK = 1e-6


def table_strays(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel whose worst error of light is too large."""
    for id, c in program.channels.items():
        peak = c.reachable_peak
        share = WORTH_SHARE_OF_MOON if id in program.moon_nights else WORTH_SHARE
        if c.fit.worst_light_error <= min(WORTH_LIGHT, share * peak):
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
            gravity=c.fit.worst_light_error,
        )


def _way_out(c: ChannelDay) -> str:
    """Return what would bring the table closer to the plan, as far as the certificate proves it."""
    proof = c.fit.certificate
    if c.fit.method != "exact":
        return "slower or fewer ramps, or more rows, bring it closer to the plan"
    if proof.floor_rows is not None and len(c.fit.rows) >= proof.floor_rows:
        steps = _steps(c)
        return (
            steps
            or "no number of rows does better on this grid; a finer level step or time step would"
        )
    if proof.half_rows is not None:
        return f"no other table of {len(c.fit.rows)} rows does better; {proof.half_rows} would halve it"
    return f"no other table of {len(c.fit.rows)} rows does better; more rows or slower ramps would"


def _steps(c: ChannelDay) -> str:
    """Return the lights of the levels around what is wanted at the worst second, as a way out.

    Empty where none are, or where another light is missed by more than a step: then it is a matter of time.
    """
    wanted = float(c.reachable[c.fit.worst_second])
    lights = c.path.burning_light[c.path.first_lit_count :]
    below, above = lights[lights < wanted], lights[lights > wanted]
    if not (wanted and below.size and above.size):
        return ""
    least, most = float(below.max()), float(above.min())
    if not least - STEP_SLACK <= float(c.replay.light[c.fit.worst_second]) <= most + STEP_SLACK:
        return ""
    low, high = (number_text(light * 100, 2) for light in (least, most))
    return (
        f"its levels give {low} % and {high} % light: plan one of these, or use a finer level step"
    )
