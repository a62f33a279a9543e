"""Levels that are not as the table has them: lit in darkness, wrong, stuck, or above all that is possible."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from photoperiod.arrays import Bools
from photoperiod.compare.deviations import Deviations
from photoperiod.compare.expected import Expected, LoggedLight
from photoperiod.compare.log_model import Log, Quantity, Series
from photoperiod.compare.model import Finding, Limits
from photoperiod.compare.noise import scatter_of
from photoperiod.formats.table import PlayableTable
from photoperiod.text import hours_text, number_text
from photoperiod.units import SECONDS_PER_HOUR

#: An output is stuck if it stays still for this long while the table moves by this much [fraction of
#: full]. Our choice.
STUCK_S = SECONDS_PER_HOUR
STUCK_LIGHT = 0.10

#: Readings that scatter by more than this hide what the light does [fraction of full]. ±0.3 V of noise is
#: 0.03 to 0.05 near full light of a square law. Our choice.
MOST_NOISE = 0.06

#: What is said of readings that are off for too short a time to be sure.
BRIEF = "only, which may be a slip of the meter"

#: Volts further than this above the most that the converter gives come from an open pair [V]. Our choice.
OPEN_PAIR_VOLTS = 0.3


def level_findings(
    expected: Expected, light: LoggedLight, limits: Limits, found: Deviations
) -> Iterator[Finding]:
    """Yield PHO615 for light in planned darkness, PHO606 for a stuck output, else PHO601 for wrong light.

    PHO616 says where noise hides what the light does.
    """
    dark, lit = found.is_dark, ~found.is_dark
    if (found.wrong & dark).any():
        yield _lit_in_darkness(expected, light, found, found.wrong & dark, "in all")
    stuck = _stuck(expected, light, limits, found)
    if stuck is not None:
        yield stuck
    elif (found.wrong & lit).any():
        yield _off(expected, light, found, found.wrong & lit, "in all")
    if (found.brief & dark).any():
        note = _lit_in_darkness(expected, light, found, found.brief & dark, BRIEF)
        yield replace(note, is_warning=False)
    if (found.brief & lit).any():
        note = _off(expected, light, found, found.brief & lit, BRIEF)
        yield replace(note, is_warning=False)
    noise = float(found.noise.max())
    if noise > MOST_NOISE:
        yield Finding(
            "PHO616",
            light.subject,
            f"readings scatter by ±{noise * 100:.0f} % of full from one to the next, so it can't be told"
            " whether the light is that of the table",
        )


def _lit_in_darkness(
    expected: Expected, light: LoggedLight, found: Deviations, here: Bools, how_long: str
) -> Finding:
    most = float(light.values[here].max())
    return Finding(
        "PHO615",
        light.subject,
        f"light where the table is dark, for {hours_text(float(found.seconds[here].sum()))} {how_long}:"
        f" up to {_amount(light, most)}, first at"
        f" {expected.time_text(light.unix_s[int(here.argmax())])}",
    )


def _off(
    expected: Expected,
    light: LoggedLight,
    found: Deviations,
    here: Bools,
    how_long: str,
) -> Finding:
    worst = int(np.where(here, found.away, -1.0).argmax())
    return Finding(
        "PHO601",
        light.subject,
        f"off by up to {found.away[worst] * 100:.1f} % of full, at"
        f" {expected.time_text(light.unix_s[worst])}: {_amount(light, light.values[worst])} where the table"
        f" has {_amount(light, found.nearest[worst])}; beyond its"
        f" tolerance for {hours_text(float(found.seconds[here].sum()))} {how_long}",
    )


def _stuck(
    expected: Expected, light: LoggedLight, limits: Limits, found: Deviations
) -> Finding | None:
    """Return PHO606 if an output stays still for long while the table moves away from it.

    The records at both ends of the still stretch may be early or late, so they are left out.
    """
    planned, away = found.planned, found.away
    worst: tuple[float, int, int] | None = None
    begin = 0
    values, instants = light.values.tolist(), light.unix_s.tolist()
    for at in range(1, len(values) + 1):
        if at < len(values) and abs(values[at] - values[begin]) <= limits.light * light.scale:
            continue
        length = instants[at - 1] - instants[begin]
        if length >= STUCK_S and (worst is None or length > worst[0]):
            inner = (light.unix_s[begin:at] >= instants[begin] + limits.time_s) & (
                light.unix_s[begin:at] <= instants[at - 1] - limits.time_s
            )
            part = planned[begin:at][inner]
            moves = part.size > 1 and np.ptp(part) > STUCK_LIGHT * light.scale
            if moves and (away[begin:at][inner] > limits.light).any():
                worst = length, begin, at - 1
        begin = at
    if worst is None:
        return None
    length, begin, end = worst
    part = planned[begin : end + 1]
    return Finding(
        "PHO606",
        light.subject,
        f"stuck at {_amount(light, values[begin])} for {hours_text(length)} from"
        f" {expected.time_text(instants[begin])}, while the table goes from"
        f" {_amount(light, float(part.min()))} to {_amount(light, float(part.max()))}",
    )


def _amount(light: LoggedLight, value: float) -> str:
    return f"{value:.1f} µmol m⁻² s⁻¹" if light.is_zone else f"{value * 100:.1f} % light"


def open_pair_findings(table: PlayableTable, log: Log, expected: Expected) -> Iterator[Finding]:
    """Yield PHO612 where volts, counts or codes are above all that the controller can give."""
    for id, path in table.paths.items():
        most = {
            Quantity.VOLTS: float(path.volts[-1]) + OPEN_PAIR_VOLTS,
            Quantity.MILLIVOLTS: 1000 * (float(path.volts[-1]) + OPEN_PAIR_VOLTS),
            Quantity.COUNT: path.top_count,
            Quantity.CONVERTER_CODE: path.full_code,
        }
        for quantity, limit in most.items():
            series = log.series.get((id, quantity))
            if series is None or series.values.max() <= limit + _noise_of_volts(series):
                continue
            at = int(series.values.argmax())
            yield Finding(
                "PHO612",
                id,
                f"{number_text(float(series.values[at]))} {quantity} at"
                f" {expected.time_text(series.unix_s[at])}, more than the controller can give: is the"
                " pair open (full light), or is it another quantity?",
            )


def _noise_of_volts(series: Series) -> float:
    """Return by how much noise alone can lift a reading of volts, in the unit of the series."""
    if series.quantity not in (Quantity.VOLTS, Quantity.MILLIVOLTS):
        return 0.0
    return scatter_of(series.values)
