"""A table gives a zone less light than its plan, so that the zone keeps its `ppfd_max`."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_value
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.zone_light import PPFD_SLACK
from photoperiod.program.channel_day import Role, ZoneDay
from photoperiod.program.model import Program
from photoperiod.text import number_text

#: Doses that differ by less are the same [mol m⁻² d⁻¹].
DOSE_SLACK = 1e-9


def trimmed_to_limit(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each zone that keeps its limit only because its table gives less.

    Either the plan itself is above the limit, and the table is not; or the table that is nearest to
    the plan would be above it. On days of burn-in the plan is another one, which is told elsewhere.
    """
    for id, z in program.zones.items():
        limit, wanted = z.zone.ppfd_max, z.wanted_peak_ppfd
        if limit is None or wanted is None or z.peak_ppfd > limit + PPFD_SLACK:
            continue
        lighting = [program.channels[c.channel.id] for c, _ in z.sources]
        if any(c.role != Role.PLAN for c in lighting):
            continue
        if wanted <= limit + PPFD_SLACK and not any(id in c.fit.kept_for for c in lighting):
            continue
        yield on_value(
            "PHO428",
            (*z.zone.path, "ppfd_max"),
            f"zone '{id}' is kept to its limit of {number_text(limit)}: the plan's peak is"
            f" {number_text(wanted, 1)} µmol m⁻² s⁻¹, the table's {number_text(z.peak_ppfd, 1)}, and the"
            f" dose is {number_text(z.dli.replay)} instead of {number_text(z.dli.reachable)} mol m⁻² d⁻¹"
            f"{_given_up(z)}",
            gravity=z.dli.reachable - z.dli.replay,
        )


def _given_up(z: ZoneDay) -> str:
    """Return in words which channels give less than planned, the one that gives up most first."""
    shares = {c.channel.id: c.dli[z.zone.id] for c, _ in z.sources}
    less = {
        name: share.reachable - share.replay
        for name, share in shares.items()
        if share.reachable - share.replay > DOSE_SLACK
    }
    listed = ", ".join(
        f"{name} {number_text(shares[name].replay)} instead of {number_text(shares[name].reachable)}"
        for name in sorted(less, key=lambda name: -less[name])
    )
    return f" (less from: {listed})" if listed else ""
