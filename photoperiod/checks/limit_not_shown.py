"""A zone's `ppfd_max` can't be shown to be kept: the light of tubes is not known, or was read cold."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.program.model import Program
from photoperiod.schedule.tube_places import Measured, lines_by_what_is_known


def limit_not_shown(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone with a limit that such a channel lights."""
    yield from _by_unknown_tubes(program)
    yield from _by_cold_readings(program)


def _by_cold_readings(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone that is lit by a channel that was measured before it was warm."""
    for zone in program.schedule.zones.values():
        cold = [
            each
            for each in program.schedule.channels.values()
            if each.measured_cold and each.limit_ppfd.get(zone.id)
        ]
        if zone.ppfd_max is None or not cold:
            continue
        names = ", ".join(f"'{each.id}'" for each in cold)
        yield on_value(
            "PHO430",
            (*zone.path, "ppfd_max"),
            f"'ppfd_max' of zone '{zone.id}' is not shown to be kept: {names}"
            f" {'was' if len(cold) == 1 else 'were'} measured cold, and gives more light when warm",
            help="measure again after half an hour at full, with the fans as they will run, and remove"
            " `measured_cold`",
            related=tuple(Related(message="measured cold", path=each.path) for each in cold),
        )


def _by_unknown_tubes(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone that is lit by tubes whose light at the measurement is not known.

    Tubes that were fitted after the measurement may be brighter than those that were measured, by as
    much as those had lost; how much that is, the schedule does not say.
    """
    last = program.span.last if program.span else None
    unknown = lines_by_what_is_known(program.schedule, last)[Measured.UNKNOWN]
    for zone in program.schedule.zones.values():
        lighting = {each.id: each for each, _ in unknown if each.limit_ppfd.get(zone.id)}
        if zone.ppfd_max is None or not lighting:
            continue
        names = ", ".join(f"'{id}'" for id in lighting)
        yield on_value(
            "PHO430",
            (*zone.path, "ppfd_max"),
            f"'ppfd_max' of zone '{zone.id}' is not shown to be kept: it is not declared what the tubes"
            f" of {names} had lost when PPFD was measured",
            help="measure again with the tubes of today and write `measured_on`; or declare the old tubes"
            " with `place` and `depreciation`; or `depreciation` and `replace_after_hours`",
            related=tuple(
                Related(message="lights it", path=each.path) for each in lighting.values()
            ),
        )
