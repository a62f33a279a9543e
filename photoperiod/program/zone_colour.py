"""The colour of a zone's light over a day: shares of its photons by wavelength, from the replayed table."""

from __future__ import annotations

from dataclasses import dataclass

from photoperiod.program.model import Table


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneColour:
    """What the photons of a zone are on the first date of a table, from 400 to 700 nm.

    Parameters
    ----------
    thirds : (float, float, float) or None
        Shares of them at 400-500, 500-600 and 600-700 nm; None if they are not known, or if it is dark.
    usable : float or None
        What one of them counts for in the mean by the action spectrum of the schedule. [share]
    unknown : tuple of str
        The channels that light the zone and have no spectrum.
    """

    thirds: tuple[float, float, float] | None
    usable: float | None
    unknown: tuple[str, ...]


def zone_colour(table: Table, zone: str) -> ZoneColour | None:
    """Return the colour of a zone's light, None if no channel has a spectrum.

    Doses are photons, so the shares of channels are weighed by their doses.
    """
    if all(c.channel.photon_shares is None for c in table.channels.values()):
        return None
    doses = {id: c.dli[zone].replay for id, c in table.channels.items() if zone in c.dli}
    lit = {id: dose for id, dose in doses.items() if dose > 0}
    shares = {id: table.channels[id].channel.photon_shares for id in lit}
    unknown = tuple(id for id, each in shares.items() if each is None)
    if unknown or not lit:
        return ZoneColour(thirds=None, usable=None, unknown=unknown)
    whole = sum(lit.values())
    known = [(lit[id] / whole, each) for id, each in shares.items() if each is not None]
    blue, green, red = (sum(part * each.thirds[at] for part, each in known) for at in range(3))
    usable = None
    if all(each.usable is not None for _, each in known):
        usable = sum(part * (each.usable or 0.0) for part, each in known)
    return ZoneColour(thirds=(blue, green, red), usable=usable, unknown=())
