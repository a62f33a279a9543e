"""Is the dose right? A bracket on a scale of mol: the band, the plan, the table, and who gives it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from photoperiod.page.figure import LEFT, RIGHT, Figure, Numbers, Shape, Words, line
from photoperiod.page.hatches import by_hatch
from photoperiod.page.scales import Scale, place_text, ticks, top_of
from photoperiod.page.shown import dates_text
from photoperiod.page.trace import box_path
from photoperiod.program.channel_day import ZoneDay
from photoperiod.program.model import Program
from photoperiod.report.summary import dose_words
from photoperiod.schedule.guards import unknown_in
from photoperiod.schedule.model import Zone
from photoperiod.text import and_list, number_text, range_text, safe

#: Heights on the picture. [user units]
BRACKET_TOP, BRACKET_BOTTOM = 15.0, 61.0
PLAN_Y, TABLE_Y, SHARES_Y, SHARES_HEIGHT, AXIS_Y = 21.0, 34.0, 45.0, 12.0, 66.0
HEIGHT = 92.0

#: Half the width of a tick of the plan or the table. [user units]
TICK = 4.0

#: A channel's name stands in its share where that is so wide for each letter. [user units]
LETTER = 6.0

#: Verdicts on doses below their band on dates for which the file asks for less: all dates, or some.
LOWER, SOMETIMES_LOWER = "lower as planned", "OK, on some dates lower as planned"


@dataclass(frozen=True, slots=True)
class ZoneDose:
    """The doses of a zone over the dates: its name, words, whether they are right, and the picture.

    ``verdict`` is ``OK``, one of `LOWER` and `SOMETIMES_LOWER`, ``low``, ``high``, ``low and high``,
    ``no band``, or ``not known``.
    """

    name: str
    verdict: str
    words: str
    figure: Figure

    @property
    def is_right(self) -> bool:
        """True if nothing is wrong with it, as far as a band tells."""
        return self.verdict in ("OK", "no band") or self.is_lowered

    @property
    def is_lowered(self) -> bool:
        """True if it is below its band on dates for which the file asks for less, and right on others."""
        return self.verdict in (LOWER, SOMETIMES_LOWER)


def zone_doses(program: Program, hatches: Mapping[str, int]) -> tuple[ZoneDose, ...]:
    """Return the doses of all zones, in the order of the file."""
    return tuple(_zone_dose(program, zone, hatches) for zone in program.schedule.zones.values())


def _zone_dose(program: Program, zone: Zone, hatches: Mapping[str, int]) -> ZoneDose:
    days = [table.zones[zone.id] for table in program.tables]
    doses = [dose for z in days for dose in (z.dli.replay, z.dli_at_end)]
    darkest = min(dose for z in days for dose in (z.dli_least, z.dli_least_at_end))
    unknown = unknown_in(zone, program.schedule.channels.values())
    told = f"{range_text(min(doses), max(doses))} mol m⁻² d⁻¹"
    plans = [z.dli.plan for z in days]
    words = f"The table gives {told}, the plan {range_text(min(plans), max(plans))}:"
    words += f" {dose_words(zone, min(doses), max(doses), darkest)}."
    if unknown:
        words += f" What {and_list(unknown)} gives here is not known, so the dose is greater."
    return ZoneDose(
        name=safe(zone.label),
        verdict=_verdict(program, zone, is_known=not unknown),
        words=words,
        figure=_figure(program, zone, days, hatches),
    )


def _verdict(program: Program, zone: Zone, *, is_known: bool) -> str:
    """Return whether doses are right, in words; on dates that ask for less, less is as planned."""
    tables = program.tables
    least = {
        n: min(table.zones[zone.id].dli_least, table.zones[zone.id].dli_least_at_end)
        for n, table in enumerate(tables)
    }
    most = max(
        dose
        for table in tables
        for dose in (table.zones[zone.id].dli.replay, table.zones[zone.id].dli_at_end)
    )
    usual = [n for n, table in enumerate(tables) if not program.is_lowered(table, zone.id)]
    usual_least = min((least[n] for n in usual), default=math.inf)
    found = verdict(zone, usual_least, most, is_known=is_known)
    if found != "OK" or zone.dli_band is None or min(least.values()) >= zone.dli_band[0]:
        return found
    return SOMETIMES_LOWER if max(least.values()) >= zone.dli_band[0] else LOWER


def verdict(zone: Zone, least: float, most: float, *, is_known: bool) -> str:
    """Return whether doses are right, in a word or two.

    Parameters
    ----------
    zone : Zone
        With its band, if it has one.
    least, most : float
        Doses of its darkest place and of its usual one. [mol m⁻² d⁻¹]
    is_known : bool
        False where the light of some channel is not known: the dose is then at least the one told.
    """
    if zone.dli_band is None:
        return "no band"
    low, high = zone.dli_band
    found = [word for word, holds in (("low", least < low), ("high", most > high)) if holds]
    if not is_known:
        return "high" if "high" in found else "not known"
    return " and ".join(found) or "OK"


def _figure(
    program: Program, zone: Zone, days: Sequence[ZoneDay], hatches: Mapping[str, int]
) -> Figure:
    doses = [dose for z in days for dose in (z.dli.replay, z.dli_at_end)]
    plans = [z.dli.plan for z in days]
    band = zone.dli_band or (0.0, 0.0)
    x = Scale(0.0, top_of(*doses, *plans, band[1]), LEFT, RIGHT)
    shapes, words = _shares(days[0], x, hatches)
    if zone.dli_band is not None:
        shapes += [_bracket(x.at(band[0]), 5.0), _bracket(x.at(band[1]), -5.0)]
        words += [
            Words(x.at(band[0]), BRACKET_TOP - 4, number_text(band[0]), "middle"),
            Words(x.at(band[1]), BRACKET_TOP - 4, number_text(band[1]), "middle"),
        ]
    shapes += [*_ticks(plans, x, PLAN_Y, "hollow"), *_ticks(doses, x, TABLE_Y, "filled")]
    words.append(Words(LEFT - 4, PLAN_Y + 3.5, "plan", "end"))
    words.append(Words(LEFT - 4, TABLE_Y + 3.5, "table", "end"))
    words.append(Words(LEFT - 4, SHARES_Y + 9.5, "shares", "end"))
    shapes.append(line(LEFT, AXIS_Y, RIGHT, AXIS_Y, "axis"))
    for value in ticks(x.high, 6):
        shapes.append(line(x.at(value), AXIS_Y, x.at(value), AXIS_Y + 3, "axis"))
        words.append(Words(x.at(value), AXIS_Y + 13, number_text(value), "middle"))
    words.append(Words(RIGHT, AXIS_Y + 24, "mol m⁻² d⁻¹", "end"))
    return Figure(
        id=f"dose-{zone.id}",
        title=f"{safe(zone.label)}: dose of a day beside its band",
        about=f"A scale of mol with the band as a bracket, the plan as a hollow tick and the table as a"
        f" filled one, and the shares of the channels by {dates_text(program.tables[0].span)}.",
        height=HEIGHT,
        shapes=tuple(shapes),
        words=tuple(words),
        caption=_caption(program),
        numbers=(_numbers(days[0], zone),),
    )


def _caption(program: Program) -> str:
    """Return whose shares are drawn, where there are several tables."""
    if len(program.tables) == 1:
        return ""
    return f"Shares: those of the first table, {dates_text(program.tables[0].span)}."


def _bracket(x: float, arm: float) -> Shape:
    """Return one end of a band; ``arm`` is how far its arms reach, to the left if negative."""
    ends = f"h{place_text(arm)}"
    return Shape(
        f"M{place_text(x)} {place_text(BRACKET_TOP)}{ends}M{place_text(x)} {place_text(BRACKET_TOP)}"
        f"V{place_text(BRACKET_BOTTOM)}{ends}",
        "bracket",
    )


def _ticks(values: Sequence[float], x: Scale, y: float, look: str) -> list[Shape]:
    """Return a tick at the least and at the most of some values, with a line between them."""
    shapes = []
    least, most = x.at(min(values)), x.at(max(values))
    if most - least > 1:
        shapes.append(line(least, y, most, y, "axis"))
    for place in (least, most) if most - least > 1 else (least,):
        diamond = (
            f"M{place_text(place)} {place_text(y - 5)}L{place_text(place + TICK)} {place_text(y)}"
            f"L{place_text(place)} {place_text(y + 5)}L{place_text(place - TICK)} {place_text(y)}Z"
        )
        shapes.append(Shape(diamond, look))
    return shapes


def _shares(day: ZoneDay, x: Scale, hatches: Mapping[str, int]) -> tuple[list[Shape], list[Words]]:
    """Return what each channel gives of a dose, as hatches in a row."""
    shapes, words, begin = [], [], 0.0
    for hatch, name, channels in by_hatch((c for c, _ in day.sources), hatches, 14):
        share = sum(c.dli[day.zone.id].replay for c in channels)
        left, right = x.at(begin), x.at(begin + share)
        begin += share
        if right - left < 0.2:
            continue
        look = f"hatch-{hatch} edge"
        shapes.append(Shape(box_path(left, SHARES_Y, right - left, SHARES_HEIGHT), look))
        if right - left >= LETTER * len(name):
            words.append(Words((left + right) / 2, SHARES_Y + 9.5, name, "middle halo"))
    return shapes, words


def _numbers(day: ZoneDay, zone: Zone) -> Numbers:
    """Return the dose by channel, as planned, as the ballast reaches, and as the table gives it."""
    rows = [(safe(c.channel.label), c.dli[zone.id]) for c, _ in day.sources]
    rows.append(("all channels", day.dli))
    return Numbers(
        caption=f"{safe(zone.label)}: dose of a day, in mol m⁻² d⁻¹",
        head=("channel", "plan", "within reach of the ballast", "table"),
        rows=tuple(
            (name, f"{dli.plan:.3f}", f"{dli.reachable:.3f}", f"{dli.replay:.3f}")
            for name, dli in rows
        ),
        note="By the first table.",
    )
