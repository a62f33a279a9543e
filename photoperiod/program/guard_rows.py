"""Tables whose level stays at 0 behind an open relay, in case that its contact is welded.

Our own players put out level 0 while a relay is open. Another controller follows the rows, so a guard
row keeps the level at 0 where a welded relay would do harm, and wherever a row is unused.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from photoperiod.drive.welded_relay import WeldedLight, guard_seconds, welded_light, with_guard_rows
from photoperiod.schedule.model import Controller
from photoperiod.setpoints.fit import Fit, Target, fit

#: Light from a welded relay that is worth a row [fraction of full]. Our choice, no source.
WORTH_LIGHT = 0.05

#: What a welded relay may add to a zone's dose before that is worth a row [share]. Our choice, no source.
WORTH_DOSE = 0.02


def adds_too_much(
    welded: WeldedLight | None, full_ppfd: Mapping[str, float], zone_dose: Mapping[str, float]
) -> bool:
    """Return whether the light that a welded relay adds is worth a row.

    Parameters
    ----------
    welded : WeldedLight or None
        What it adds.
    full_ppfd : mapping of zone to float
        PPFD of the channel at full. [µmol m⁻² s⁻¹]
    zone_dose : mapping of zone to float
        Dose of a day from all channels. [µmol m⁻²]
    """
    if welded is None:
        return False
    if welded.most_light > WORTH_LIGHT:
        return True
    return any(
        welded.extra_s * ppfd > WORTH_DOSE * zone_dose.get(zone, 0.0)
        for zone, ppfd in full_ppfd.items()
        if ppfd > 0
    )


def plan_doses(
    targets: Mapping[str, Target], full_ppfd: Mapping[str, Mapping[str, float]]
) -> dict[str, float]:
    """Return the dose that the reachable plans of some channels give each zone. [µmol m⁻²]"""
    doses: dict[str, float] = {}
    for id, target in targets.items():
        light_s = float(target.reachable.sum())
        for zone, ppfd in full_ppfd[id].items():
            doses[zone] = doses.get(zone, 0.0) + ppfd * light_s
    return doses


def fit_with_guard_rows(
    controller: Controller,
    targets: Mapping[str, Target],
    full_ppfd: Mapping[str, Mapping[str, float]],
    zone_dose: Mapping[str, float],
) -> dict[str, Fit]:
    """Return the tables of channels that share one column of times, or of one channel.

    A channel that would give too much light through a welded relay gets guard rows, if the controller
    holds the day with them. Any other channel with times of its own gets them if rows are left over.

    Parameters
    ----------
    controller : Controller
        How it plays, and how many rows it holds.
    targets : mapping of channel to Target
        The channels.
    full_ppfd : mapping of channel to mapping of zone to float
        PPFD of each channel at full. [µmol m⁻² s⁻¹]
    zone_dose : mapping of zone to float
        Dose of a day from all channels. [µmol m⁻²]
    """
    plain = _fitted(controller, targets)
    at_risk = {
        id
        for id, found in plain.items()
        if adds_too_much(
            welded_light(found.rows, found.times, found.path), full_ppfd[id], zone_dose
        )
    }
    if not at_risk:
        return plain if len(plain) > 1 else {id: _filled(controller, f) for id, f in plain.items()}
    guarded = _fitted(
        controller, {id: replace(t, is_guarded=id in at_risk) for id, t in targets.items()}
    )
    peaks = {id: float(target.reachable.max()) for id, target in targets.items()}
    rows_held = controller.setpoints_per_channel
    if all(found.is_held(rows_held, peaks[id]) for id, found in guarded.items()):
        return {
            id: replace(
                found, error_without_guard=plain[id].certificate.error, has_guard_rows=id in at_risk
            )
            for id, found in guarded.items()
        }
    return plain


def _fitted(controller: Controller, targets: Mapping[str, Target]) -> dict[str, Fit]:
    fits = fit(list(targets.values()), controller.times, controller.setpoints_per_channel)
    return dict(zip(targets, fits, strict=True))


def _filled(controller: Controller, found: Fit) -> Fit:
    """Return a table with guard rows in rows that are left over; its light and its proof stay."""
    missing = guard_seconds(found.rows, found.times, found.path)
    if not missing or len(found.rows) + len(missing) > controller.setpoints_per_channel:
        return found
    rows = with_guard_rows(found.rows, found.times, found.path)
    return replace(found, rows=rows)
