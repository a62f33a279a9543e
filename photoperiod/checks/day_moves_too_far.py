"""The day of a zone moves too far from one date to the next."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key, others
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.day_before import Boundary, boundaries, is_dark, middle_of, moved_s
from photoperiod.program.model import Program
from photoperiod.text import number_text
from photoperiod.units import SECONDS_PER_MINUTE

#: Times of rows are whole steps: a move that is longer by no more than this is not too far [s].
SLACK_S = 60


def day_moves_too_far(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone whose day moves too far, with every date on which it does.

    The middle of the light counts, so that a day that only gets longer or shorter does not move.
    """
    for id, zone in program.schedule.zones.items():
        found = [
            (each, by_s)
            for each in boundaries(program, id)
            if abs(by_s := _moved_s(each)) > zone.day_moves_max_s + SLACK_S
        ]
        if not found:
            continue
        first, by_s = found[0]
        later = [f"{each.date} ({_words(moved)})" for each, moved in found[1:]]
        most = number_text(zone.day_moves_max_s / SECONDS_PER_MINUTE)
        yield on_key(
            "PHO441",
            zone.path,
            f"the day of zone '{id}' moves on {first.date} by {_words(by_s)}, by more than {most} min"
            f"{others(later)}",
            help="move it by some minutes each day: `changes: [{kind: moved-hours, …}]`; or allow more with"
            " `day_moves_minutes_max`",
        )


def _moved_s(each: Boundary) -> float:
    if each.before is None or each.before.middle_s is None or is_dark(each.zone, each.before):
        return 0.0
    middle = middle_of(each.zone)
    return 0.0 if middle is None else moved_s(each.before.middle_s, middle)


def _words(by_s: float) -> str:
    minutes = number_text(abs(by_s) / SECONDS_PER_MINUTE, 0)
    return f"{minutes} min to {'later' if by_s > 0 else 'earlier'} hours"
