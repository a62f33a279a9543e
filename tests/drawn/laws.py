"""What must hold of whatever a schedule is compiled to. Each law yields what is broken."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np

from tests.drawn import readers
from tests.drawn.case import PPFD_HALF_DIGIT, SHARE, Case
from tests.drawn.compiled import Written
from tests.drawn.days import follows_sky, most_percent
from tests.drawn.format_laws import (
    errands_are_those_of_the_loads,
    formats_say_the_same,
    the_ledger_says_the_same,
)
from tests.drawn.light_laws import (
    doses_are_those_of_the_rows,
    energy_is_that_of_the_light,
    tubes_burn_as_long_as_their_channel,
)
from tests.drawn.measured import MAP
from tests.drawn.plain_light import PlainPath
from tests.drawn.readers import PlainRow
from tests.drawn.verified import faults_of
from tests.oracle.second_player import RefusedImage

#: So much light may be missing at the top (docs: finding PHO401). [fraction of full]
TOP_SLACK = 0.005 + 1e-6

#: Volts, levels and per cents are written with four decimals.
FOUR_DECIMALS = 6e-5


def rows_stand_on_the_grid(case: Case) -> Iterator[str]:
    """Rows are as many as the controller holds, on its grid, within its converter and 0–10 V."""
    controller = case.data["controller"]
    has_column = controller["relay"]["kind"] == "column"
    for date, table in case.tables.items():
        if list(table) != case.ids:
            yield f"the table of {date} has channels {list(table)}"
        for id, rows in table.items():
            path, where = case.paths[id], f"{id} on {date}"
            if len(rows) > controller["setpoints_per_channel"] and not case.accepts(
                "more-than-controller-holds"
            ):
                yield f"{where}: {len(rows)} rows"
            if not rows or any(a.second >= b.second for a, b in itertools.pairwise(rows)):
                yield f"{where}: the times do not rise"
            for row in rows:
                yield from (
                    f"{where}, {row}: {fault}"
                    for fault in _row_faults(row, path, has_column=has_column)
                )


def _row_faults(row: PlainRow, path: PlainPath, *, has_column: bool) -> Iterator[str]:
    count = row.count
    if not 0 <= row.second < 86_400 or row.second % path.step_s:
        yield "the time is off the grid"
    if count is None or not 0 <= count <= path.top_count:
        yield f"the count is not within 0 to {path.top_count}"
        return
    if row.code != path.codes[count] or not 0 <= row.code <= path.full_code:
        yield f"the code should be {path.codes[count]}, at most {path.full_code}"
    if row.volts is None or not 0 <= row.volts <= path.most_volts + FOUR_DECIMALS:
        yield f"the volts are not within 0 to {path.most_volts}"
    elif abs(row.volts - path.volts[count]) > FOUR_DECIMALS:
        yield f"the volts should be {path.volts[count]:.5f}"
    if (
        row.level_percent is None
        or abs(row.level_percent - path.level_percents[count]) > FOUR_DECIMALS
    ):
        yield f"the level should be {path.level_percents[count]:.5f} %"
    if row.relay not in (("on", "off") if has_column else ("",)):
        yield "the relay state is none"
    if row.relay == "off" and count:
        yield "a row that is off has a level above 0"
    dark = path.ballast["dark"]
    if row.relay == "off" and (dark["kind"] == "never" or dark.get("keeps_mains")):
        yield "a row is off, and the ballast keeps its mains"


def volts_stay_within_reach(case: Case) -> Iterator[str]:
    """No second of any day has volts outside 0–10 V, or a count outside the converter."""
    for date in case.tables:
        for id in case.ids:
            counts, _, _ = case.played(id, date)
            path = case.paths[id]
            if counts.min() < 0 or counts.max() > path.top_count:
                yield f"{id} on {date}: counts from {counts.min()} to {counts.max()}"
                continue
            volts = path.volts[np.flatnonzero(np.bincount(counts))]
            if not 0 <= volts.min() <= volts.max() <= path.most_volts + 1e-9:
                yield f"{id} on {date}: {volts.max()} V"


def limits_are_kept_or_accepted(case: Case) -> Iterator[str]:
    """What breaks a hard limit is written only if it is accepted by name, and then outputs say so."""
    names = {each["name"] for each in case.summary["accepted"]}
    for name in names:
        if not case.accepts(name):
            yield f"{name} counts as accepted, and the schedule does not accept it"
    if case.about["accepted"] != case.summary["accepted"]:
        yield "table.json and summary.json accept different things"
    sheets = [raw.decode() for name, raw in case.files.items() if name.startswith("typing-sheet")]
    if any(("ACCEPTED:" in text) != bool(names) for text in sheets):
        yield "a typing sheet does not tell what was accepted"
    controller = case.data["controller"]
    if len(case.ids) > controller.get("channels", 64) and "more-than-controller-holds" not in names:
        yield "more channels than the controller drives were written"
    for id in case.ids:
        path = case.paths[id]
        wanted, most = _wanted(case.data, id), path.light_of_code(path.full_code)
        if wanted > most + TOP_SLACK and "volts-out-of-reach" not in names:
            yield f"{id} wants {wanted:.4f} of full and gets {most:.4f}, and it was written"
        if path.ballast["dark"]["kind"] == "never" and "night-not-dark" not in names:
            plan = float(
                case.written.program.channels[id].curve.light(np.arange(0, 86_400, 60)).min()
            )
            if plan <= 0:
                yield f"{id} can't be dark at night, and it was written"
    for zone, about in case.data.get("zones", {}).items():
        full = {id: case.about["channels"][id]["full_ppfd"].get(zone, 0) for id in case.ids}
        safe = sum(
            full[id]
            * float(case.paths[id].burning[case.about["channels"][id]["safe_state"]["count"]])
            for id in case.ids
            if case.data["channels"][id].get("safe_light_percent")
        )
        is_known = not any(
            "readings" in case.data["channels"][id].get("full_ppfd", {}) for id in case.ids
        )
        # Tubes that are brighter than when they were measured give more: at least this is too much.
        most = about.get("ppfd_max", math.inf)
        first = case.summary["tables"][0]["channels"]
        share = min((first[id]["brightness_percent"]["from"] / 100 for id in case.ids), default=1.0)
        if (
            is_known
            and safe * min(share, 1) > most * (1 + SHARE) + PPFD_HALF_DIGIT
            and "safe-state-too-bright" not in names
        ):
            yield f"the safe state gives {safe:.2f} in {zone}, and it was written"
        cold = any(
            c.get("full_ppfd", {}).get("measured_cold") and full[id]
            for id, c in case.data["channels"].items()
        )
        if cold and "ppfd_max" in about and "limit-not-shown" not in names:
            yield f"lamps were measured cold, and the limit of {zone} counts as kept"


def _wanted(data: Mapping[str, Any], id: str) -> float:
    """Return the most light that a day by the clock wants, as far as the file alone tells it. [fraction]"""
    channel = data["channels"][id]
    if "changes" in data or "may_move" in channel or follows_sky(channel):
        return 0.0
    return most_percent(channel) / 100


def certificates_are_true(case: Case) -> Iterator[str]:
    """No bound is above the error, and best means at most 5 % worse than any other table."""
    for table in case.summary["tables"]:
        for id, told in table["channels"].items():
            proof, where = told["fit"]["certificate"], f"{id} on {table['from_date']}"
            error, bound = proof["error_percent"], proof["bound_percent"]
            if proof["joint_error_percent"] is not None:
                error, bound = proof["joint_error_percent"], proof["joint_bound_percent"]
            if bound > error + 1e-4 + 2e-5 * error:
                yield f"{where}: the bound {bound} is above the error {error}"
            if proof["is_best"] and error > 1.05 * bound + 2e-3:
                yield f"{where}: an error of {error} is best, with a bound of {bound}"
            rows = case.rows_on(table["from_date"])[id]
            if told["rows"] != len(rows):
                yield f"{where}: {told['rows']} rows, and there are {len(rows)}"


def readings_count_as_they_stand(case: Case) -> Iterator[str]:
    """What channels give at full is the mean, the least or the most of the readings of a zone."""
    text = case.written.drawn.files.get(MAP, b"").decode()
    if not text.startswith("zone,"):
        return
    records = list(readers.csv.DictReader(text.splitlines()))
    for id, channel in case.data["channels"].items():
        for zone, about in case.data["zones"].items():
            read = [
                float(next(value for key, value in r.items() if key in ("lux", "ppfd_umol_m2_s")))
                for r in records
                if (r["zone"], r["channel"]) == (zone, id)
            ]
            use = about.get("from_readings", {}).get("dose", "mean")
            own = {"mean": sum(read) / len(read), "least": min(read), "most": max(read)}[use]
            own /= channel["full_ppfd"].get("lux_per_umol", 1)
            told = case.about["channels"][id]["full_ppfd"].get(zone, math.nan)
            if not abs(told - own) <= 1e-6 * own:
                yield f"{id} gives {zone} {told}, by the readings {own}"


Law = Callable[[Case], Iterator[str]]

#: What must hold of each schedule.
LAWS: tuple[Law, ...] = (
    rows_stand_on_the_grid,
    volts_stay_within_reach,
    formats_say_the_same,
    doses_are_those_of_the_rows,
    energy_is_that_of_the_light,
    tubes_burn_as_long_as_their_channel,
    limits_are_kept_or_accepted,
    certificates_are_true,
    readings_count_as_they_stand,
    errands_are_those_of_the_loads,
    the_ledger_says_the_same,
)


def broken(written: Written, *, is_thorough: bool) -> list[str]:
    """Return which laws are broken, with their names and what is wrong.

    ``is_thorough`` also verifies the tables without the code of the fit, which takes longer.
    """
    case = Case(written)
    found = []
    for law in LAWS:
        try:
            found += [f"{law.__name__}: {fault}" for fault in law(case)]
        except (AssertionError, RefusedImage) as error:  # a reader refuses a file
            found.append(f"{law.__name__}: {error}")
    if is_thorough:
        found += [f"verified: {fault}" for fault in faults_of(written.program)]
    return found
