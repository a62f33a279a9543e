"""Converters: what volts codes give, of the controller and of single channels."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

from photoperiod.drive.converter import Converter, ConverterKind
from photoperiod.schedule.ballasts import check_volts
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import VOLTS_SLACK, Findings
from photoperiod.schedule.model import Channel, Controller
from photoperiod.text import number_text
from photoperiod.units import CONTROL_VOLTS_FULL


def build_converter(converter: Cursor, most_volts: float, findings: Findings) -> Converter:
    """Return a converter, or raise AlreadyReported.

    Parameters
    ----------
    converter : Cursor
        Its mapping in the file.
    most_volts : float
        The top of the port. [V]
    findings : Findings
        Findings are added here.
    """
    kind = converter.kind("kind", ConverterKind)  # first: without it the rest was not checked
    bits = converter.integer("bits")
    if kind == ConverterKind.NOMINAL:
        return Converter.nominal(bits, converter.number("full_scale_volts"), most_volts)
    points = [(point.integer("code"), point.number("volts")) for point in converter.list("points")]
    if kind == ConverterKind.TWO_POINT:
        points.sort()
    two = kind == ConverterKind.TWO_POINT
    fault = _fault_of(points, bits, both=two)
    if fault:
        help = f"measure {'two ' if two else ''}codes well apart, the ballasts connected"
        findings.add("PHO314", converter.at("points"), fault, help)
        raise AlreadyReported
    if two:
        made = Converter.two_point(bits, points[0], points[1], most_volts)
    else:
        made = Converter.measured(bits, points, most_volts)
    if made.offset_volts > min(most_volts, CONTROL_VOLTS_FULL):
        findings.add(
            "PHO314",
            converter.at("points"),
            f"by these points code 0 gives {number_text(made.offset_volts)} V, above the"
            " top of the port",
        )
        raise AlreadyReported
    return made


def _fault_of(points: list[tuple[int, float]], bits: int, *, both: bool) -> str:
    """Return in words why points tell no converter; empty if they do."""
    last = max(code for code, _ in points)
    if last >= 2**bits:
        return f"code {last} does not fit into {bits} bits"
    for (code, volts), (next_code, next_volts) in itertools.pairwise(points):
        if next_code == code:
            return f"{'both' if both else 'two'} points are at code {code}"
        if next_code < code:
            return f"code {next_code} stands behind code {code}: write the points in their order"
        if next_volts - volts < VOLTS_SLACK:
            return f"code {next_code} gives no more volts than code {code}"
    return ""


def check_outputs(controller: Controller, channels: Iterable[Channel], findings: Findings) -> None:
    """Refuse a channel's own converter that is of another kind of code, or does not suit its ballast."""
    for channel in channels:
        own = channel.converter
        if own is None:
            continue
        path = (*channel.path, "converter")
        if own.bits != controller.converter.bits:
            findings.add(
                "PHO314",
                (*path, "bits"),
                f"channel '{channel.id}' has {own.bits} bits, the controller"
                f" {controller.converter.bits}: the same code goes to all outputs",
                f"write `bits: {controller.converter.bits}`",
            )
            continue
        check_volts(own, controller.relay, channel.ballast, path, findings)
