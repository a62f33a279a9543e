"""A zone's `ppfd_max` can't be shown to be kept: the light of the tubes that were measured is not known."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic, Related
from photoperiod.program.model import Program
from photoperiod.schedule.tube_places import Measured, lines_by_what_is_known


def limit_not_shown(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone with a limit that such a channel lights.

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
