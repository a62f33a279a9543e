"""The cautions that stand in every output meant for people."""

from __future__ import annotations

from photoperiod.schedule.model import Schedule
from photoperiod.text import and_list

CAUTIONS: tuple[str, ...] = (
    "Mains voltage beside salt water can kill. Local electrical codes and licensed practice decide"
    " how this is built; use a residual-current device (GFCI).",
    "An open 0-10 V pair means FULL light on a current-sourcing ballast. Darkness is the relay's"
    " job, not that of 0 V.",
    "The control pair has basic insulation only: wire and treat it like mains.",
    "Lamp ends carry several hundred volts. Software off is no isolation: unplug before relamping.",
    "Tubes hold mercury; a broken or bare tube gives off UV. Do not look into blue light at close"
    " range.",
    "A wrong level can kill animals. Measure PPFD after loading a table, and raise light slowly.",
)


def cautions_of(schedule: Schedule) -> tuple[str, ...]:
    """Return the cautions of a schedule: those of all, and what of its light nobody has read."""
    zones = dict.fromkeys(zone for each in schedule.beyond_readings.values() for zone in each)
    if not zones:
        return CAUTIONS
    beyond = (
        f"Light in {and_list(list(zones))} lies beyond all readings at some points: there it follows the"
        f" fall-off of {and_list(list(schedule.beyond_readings))}. Doses and limits of these zones are no"
        " better than that."
    )
    return (*CAUTIONS[:-1], beyond, CAUTIONS[-1])
