"""Doses, peaks, nights, energy and hours of tubes are those of the rows, played and added up anew."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from photoperiod.arrays import Floats
from tests.drawn import readers
from tests.drawn.case import BRIGHTNESS_HALF_DIGIT, HALF_DIGIT, PPFD_HALF_DIGIT, SHARE, Case, differ
from tests.drawn.plain_light import longest_run, passing_seconds

#: The schedule calls it night below this. [µmol m⁻² s⁻¹]
NIGHT_PPFD = 0.15

#: Hours of tubes are written with three decimals, before and after. [h]
TUBE_HOURS_DIGITS = 1.2e-3


def doses_are_those_of_the_rows(case: Case) -> Iterator[str]:
    """Doses, hours, peaks and nights of the summary are those of the rows, played and added up anew."""
    for table in case.summary["tables"]:
        date = table["from_date"]
        passing = passing_seconds(case.data, date)
        length_h = (86_400 if passing is None else passing.size) / 3600
        if abs(table["date_length_hours"] - length_h) > HALF_DIGIT:
            yield f"{date} has {table['date_length_hours']} h, not {length_h}"
        light = {id: case.played(id, date)[2] for id in case.ids}
        given = light if passing is None else {id: each[passing] for id, each in light.items()}
        for id, told in table["channels"].items():
            hours = float(given[id].sum()) / 3600
            if differ(told["full_light_hours"]["replay"], hours):
                yield f"{id} on {date}: {told['full_light_hours']['replay']} h at full, not {hours:.5f}"
            lit = float((given[id] > 0).sum()) / 3600
            if abs(told["photoperiod_hours"] - lit) > HALF_DIGIT:
                yield f"{id} on {date}: lit {told['photoperiod_hours']} h, not {lit:.5f}"
            brightness = told["brightness_percent"]["from"] / 100
            for zone, dose in told["dli_mol_m2_d"].items():
                full = case.about["channels"][id]["full_ppfd"][zone]
                most = hours * 0.0036 * full
                own = most * brightness
                if differ(dose["replay"], own, most * BRIGHTNESS_HALF_DIGIT):
                    yield f"{id} on {date}: {dose['replay']} mol in {zone}, not {own:.5f}"
        for zone, told in table["zones"].items():
            yield from (
                f"{zone} on {date}: {fault}"
                for fault in _zone_faults(case, zone, told, table, light, given)
            )


def _zone_faults(
    case: Case,
    zone: str,
    told: Mapping[str, Any],
    table: Mapping[str, Any],
    light: Mapping[str, Floats],
    given: Mapping[str, Floats],
) -> Iterator[str]:
    measured = {
        id: case.about["channels"][id]["full_ppfd"][zone]
        for id in case.ids
        if zone in case.about["channels"][id]["full_ppfd"]
    }
    full = {
        id: each * table["channels"][id]["brightness_percent"]["from"] / 100
        for id, each in measured.items()
    }
    dose = sum(float(given[id].sum()) * ppfd for id, ppfd in full.items()) / 1e6
    most = sum(float(given[id].sum()) * ppfd for id, ppfd in measured.items()) / 1e6
    if differ(told["dli_mol_m2_d"]["replay"], dose, most * BRIGHTNESS_HALF_DIGIT):
        yield f"{told['dli_mol_m2_d']['replay']} mol, not {dose:.5f}"
    if "dli_mol_m2_d_least" in told:
        return  # readings differ within the zone: its limits are of other numbers
    ppfd = sum((light[id] * each for id, each in full.items()), np.zeros(86_400))
    at_full = sum((light[id] * each for id, each in measured.items()), np.zeros(86_400))
    unsure = BRIGHTNESS_HALF_DIGIT * at_full + SHARE * ppfd
    slack = PPFD_HALF_DIGIT + unsure.max()
    if abs(told["peak_ppfd_umol_m2_s"] - ppfd.max()) > slack:
        yield f"a peak of {told['peak_ppfd_umol_m2_s']}, not {ppfd.max():.4f}"
    if (np.abs(ppfd - NIGHT_PPFD) < np.maximum(unsure, 1e-4)).any():
        return  # by the digits of the brightness it may be day or night
    night = longest_run(ppfd < NIGHT_PPFD) / 3600
    if abs(told["longest_night_hours"] - night) > HALF_DIGIT:
        yield f"a night of {told['longest_night_hours']} h, not {night:.5f}"
    limit = case.data["zones"][zone].get("ppfd_max")
    if limit is not None and ppfd.max() > limit + slack and not case.accepts("ppfd-above-most"):
        yield f"{ppfd.max():.3f} is above the limit of {limit}, and it was written"


def energy_is_that_of_the_light(case: Case) -> Iterator[str]:
    """Energy is a straight line from floor to full, and that of the dark while the mains is on."""
    for table in case.summary["tables"]:
        date = table["from_date"]
        passing = passing_seconds(case.data, date)
        for id, told in table["channels"].items():
            path = case.paths[id]
            watts = path.ballast.get("watts")
            if id in _of_parts_out(case):
                continue
            if watts is None:
                if told["energy_kwh_per_day"] is not None:
                    yield f"{id} on {date} takes energy, and no watts are told"
                continue
            counts, closed, light = case.played(id, date)
            low = (
                float(path.burning.min())
                if path.points
                else path.ballast["floor"]["light_percent"] / 100
            )
            own = watts["floor"] + (watts["full"] - watts["floor"]) * (light - low) / (1 - low)
            dark = np.where(path.has_mains(counts, closed), watts.get("dark", 0), 0)
            own = np.where(light > 0, own, dark) * path.channel.get("ballast_count", 1)
            kwh = float((own if passing is None else own[passing]).sum()) / 3.6e6
            if differ(told["energy_kwh_per_day"], kwh):
                yield f"{id} on {date}: {told['energy_kwh_per_day']} kWh, not {kwh:.5f}"


def tubes_burn_as_long_as_their_channel(case: Case) -> Iterator[str]:
    """From ledger to ledger a tube that stays has burned as long as its channel was lit, date by date."""
    if case.written.before is None or case.written.dates is None:
        return
    entry = readers.ledger(case.written.before)["entries"][-1]["tubes"]
    first, last = case.written.dates
    lit: dict[str, float] = dict.fromkeys(case.ids, 0.0)
    for day in range((last - first).days + 1):
        date = (first + dt.timedelta(days=day)).isoformat()
        passing = passing_seconds(case.data, date)
        for id in case.ids:
            light = case.played(id, date)[2]
            lit[id] += float(((light if passing is None else light[passing]) > 0).sum()) / 3600
    out = _of_parts_out(case)
    for id, told in case.summary["tubes"].items():
        tube = case.data["tubes"][id]
        if id not in entry or "place" in tube or told["channel"] in out:
            continue
        own = entry[id]["lit_hours"] + lit[told["channel"]]
        if abs(told["lit_hours"] - own) > TUBE_HOURS_DIGITS:
            yield f"tube {id} has burned {told['lit_hours']} h, not {own:.4f}"


def _of_parts_out(case: Case) -> set[str]:
    """Return the channels of which a tube or ballast is out at some time."""
    out = [each for each in case.data.get("changes", ()) if each["kind"] == "part-out"]
    return {
        id
        for id, channel in case.data["channels"].items()
        for each in out
        if each.get("channel") == id or each.get("tube") in channel.get("tubes", ())
    }
