"""The dose of a zone rises too far from one date to the next."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key, others
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.day_before import Boundary, boundaries, peak_jumps_of, way_to_rise
from photoperiod.program.model import Program
from photoperiod.text import number_text

#: A smaller rise is not told, such as that of a moon [mol m⁻² d⁻¹]. Our choice, no source.
LEAST_RISE_MOL = 0.1


def dose_jumps(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose DLI rises too far, with every date on which it does.

    A date on which the peak rises too far has a finding of its own (PHO420), which says the same. The
    first date is compared only with what a ledger has.
    """
    for id, zone in program.schedule.zones.items():
        told = {jump.date for jump in peak_jumps_of(program, zone)}
        found = [
            each
            for each in boundaries(program, id)
            if each.date not in told and _rises(each, zone.dose_rise_max)
        ]
        if not found:
            continue
        later = [f"{each.date} ({_words(each)})" for each in found[1:]]
        yield on_key(
            "PHO440",
            zone.path,
            f"the DLI of zone '{id}' rises on {found[0].date} {_words(found[0])} mol m⁻² d⁻¹, by more than"
            f" {number_text(zone.dose_rise_max * 100)} %{others(later)}",
            help=f"{way_to_rise(program)}; or allow more with `dose_rise_percent_max`",
        )


def _rises(each: Boundary, most: float) -> bool:
    if each.before is None or not each.before.dli:
        return False
    rise = each.zone.dli.replay - each.before.dli
    return rise > max(each.before.dli * most, LEAST_RISE_MOL)


def _words(each: Boundary) -> str:
    assert each.before is not None
    return (
        f"from {number_text(each.before.dli or 0.0, 2)} to {number_text(each.zone.dli.replay, 2)}"
    )
