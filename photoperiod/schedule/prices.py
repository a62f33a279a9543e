"""Prices in the file: of power by the hour, and of tubes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from photoperiod.diagnostics.model import Path, Related
from photoperiod.schedule.costs import Costs, Labour, PricedHours, Tariff, TariffKind
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.day_plan import ClockTime
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.place import PLACE_EXAMPLE
from photoperiod.schedule.tube import Tube
from photoperiod.sky.clock import ClockKind
from photoperiod.text import clock_text
from photoperiod.units import SECONDS_PER_DAY


def build_costs(top: Cursor, findings: Findings) -> Costs | None:
    """Return what power costs, None if the file does not say; or raise AlreadyReported."""
    if not top.has("costs"):
        return None
    cursor = top.child("costs")
    tariff = _tariff(cursor.child("tariff"), findings) if cursor.has("tariff") else None
    if tariff is not None:
        controller = top.child("controller").kind("clock", ClockKind)
        if not tariff.is_flat and tariff.clock != controller and not top.has("place"):
            findings.add(
                "PHO329",
                cursor.at("tariff"),
                f"prices by the hours of a {tariff.clock} clock, beside a controller that keeps"
                f" {controller} time, need a time zone",
                PLACE_EXAMPLE,
            )
    labour = None
    if cursor.has("labour"):
        given = cursor.child("labour")
        labour = Labour(each_date=given.number("each_date"), each_tube=given.number("each_tube"))
    return Costs(currency=cursor.text("currency"), tariff=tariff, labour=labour)


def check_prices(costs: Costs | None, tubes: Mapping[str, Tube | None], findings: Findings) -> None:
    """Refuse prices of tubes in no currency, and what schedules built in Python may hold amiss."""
    for tube in tubes.values():
        if tube is None or tube.price is None:
            continue
        if costs is None:
            findings.add(
                "PHO352",
                (*tube.path, "price"),
                f"the price of tube '{tube.id}' has no currency",
                "write it once for all prices: `costs: {currency: EUR}`",
            )
        elif not (math.isfinite(tube.price) and tube.price >= 0):
            findings.add(
                "PHO205", (*tube.path, "price"), f"{tube.price} is out of range: at least 0"
            )


def check_tariff(tariff: Tariff, path: Path, findings: Findings) -> None:
    """Refuse hours of the day without a price, and such with two."""
    spans = sorted(
        (begin, end, index) for index, each in enumerate(tariff.hours) for begin, end in each.spans
    )
    known = len(findings)
    reached, before = 0, 0
    for begin, end, index in spans:
        if begin < reached:
            findings.add(
                "PHO351",
                (*path, "hours", index),
                f"from {clock_text(begin)} to {_end_text(min(reached, end))} power has two prices",
                "let each stretch begin where the one before it ends",
                related=(Related(message="the other one", path=(*path, "hours", before)),),
            )
        if end > reached:
            reached, before = end, index
    if len(findings) == known:
        for begin, end in _gaps(spans):
            findings.add(
                "PHO350",
                (*path, "hours"),
                f"from {clock_text(begin)} to {_end_text(end)} power has no price",
                "give each hour of the day a price; hours may cross midnight, such as 22:00 to 07:00",
                on_key=True,
            )


def _gaps(spans: list[tuple[int, int, int]]) -> Iterator[tuple[int, int]]:
    """Yield the stretches of a day that no span covers. [s]"""
    reached = 0
    for begin, end, _ in [*spans, (SECONDS_PER_DAY, SECONDS_PER_DAY, 0)]:
        if begin > reached:
            yield reached, begin
        reached = max(reached, end)


def _end_text(second: int) -> str:
    return "24:00" if second == SECONDS_PER_DAY else clock_text(second)


def _tariff(cursor: Cursor, findings: Findings) -> Tariff:
    """Return the price of power by the hour, or raise AlreadyReported."""
    if cursor.kind("kind", TariffKind) == TariffKind.FLAT:
        whole = PricedHours(start_s=0, end_s=SECONDS_PER_DAY, per_kwh=cursor.number("per_kwh"))
        return Tariff(hours=(whole,))
    tariff = Tariff(
        clock=cursor.kind("clock", ClockKind, ClockKind.CIVIL),
        hours=tuple(
            PricedHours(
                start_s=ClockTime.of(each.text("start")).second,
                end_s=ClockTime.of(each.text("end")).second,
                per_kwh=each.number("per_kwh"),
            )
            for each in cursor.list("hours")
        ),
    )
    known = len(findings)
    check_tariff(tariff, cursor.path, findings)
    if len(findings) > known:
        raise AlreadyReported
    return tariff
