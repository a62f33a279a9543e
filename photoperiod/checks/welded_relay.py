"""A welded relay would light a channel in planned darkness, and no row is left to prevent it."""

from collections.abc import Iterator

from photoperiod.checks.finding import on_key
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.drive.welded_relay import WeldedLight, welded_light
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.guard_rows import adds_too_much
from photoperiod.program.model import Program
from photoperiod.text import clock_text, number_text
from photoperiod.units import SECONDS_PER_HOUR


def welded_relay(program: Program) -> Iterator[Diagnostic]:
    """Yield a finding for each channel that a welded relay would light too much in the dark."""
    doses = _plan_doses(program)
    for id, c in program.channels.items():
        welded = welded_light(c.fit.rows, c.fit.times, c.path)
        if welded is None or not adds_too_much(welded, c.channel.full_ppfd, doses):
            continue
        yield on_key(
            "PHO429",
            c.channel.path,
            f"if the relay of '{id}' were welded, the lamp would give up to"
            f" {number_text(welded.most_light * 100)} % light in planned darkness, at"
            f" {clock_text(welded.second)}{_added(c, welded, doses)}",
            help="our own players put out level 0 while the relay is open; with another one, leave the"
            " table a row more, or let the lamp light at its floor",
            gravity=welded.most_light,
        )


def _plan_doses(program: Program) -> dict[str, float]:
    """Return the dose of each zone by the reachable plan, light as measured. [µmol m⁻²]"""
    doses: dict[str, float] = {}
    for c in program.channels.values():
        light_s = c.full_light_hours.reachable * SECONDS_PER_HOUR
        for zone, ppfd in c.channel.full_ppfd.items():
            doses[zone] = doses.get(zone, 0.0) + ppfd * light_s
    return doses


def _added(c: ChannelDay, welded: WeldedLight, doses: dict[str, float]) -> str:
    """Return in words what it would add to the zone to which it adds the largest share."""
    shares = {
        zone: welded.extra_s * ppfd / doses[zone]
        for zone, ppfd in c.channel.full_ppfd.items()
        if doses.get(zone, 0.0) > 0
    }
    if not shares:
        return ""
    zone = max(shares, key=lambda each: shares[each])
    return f", and add {number_text(shares[zone] * 100)} % to the dose of zone '{zone}'"
