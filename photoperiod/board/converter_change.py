"""Whether a newer table is for the converters of the last good one, if nobody has said what they are."""

from __future__ import annotations

import numpy as np

from photoperiod.board.config import SCALE_SLACK_VOLTS, BoardConfig, OutputConfig, OutputKind
from photoperiod.drive.converter import Converter
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.table import PlayableTable


def check_converters(config: BoardConfig, before: PlayableTable, after: PlayableTable) -> None:
    """Refuse a table whose converters are others than those of the table before it.

    What the board file says of a converter is checked elsewhere, and settles it.

    Raises
    ------
    OutsideWorldError
        PHO507 if a converter has other bits or other volts, and the board file does not say which is right.
    """
    for id, path in after.paths.items():
        devices = config.devices(id)
        if devices is None or id not in before.paths:
            continue
        change = _change(devices[0], before.paths[id].converter, path.converter)
        if change:
            raise OutsideWorldError(
                "PHO507",
                f"the table is for another converter of '{id}' than the last good one: {change}; if that"
                f" is right, write `bits` and `full_scale_volts` of its output into '{config.name}' and"
                " start the player again",
            )


def _change(config: OutputConfig, before: Converter, after: Converter) -> str:
    """Return what differs between two converters that the board file leaves open; empty if nothing."""
    shares_duty = config.kind is OutputKind.PWM  # its bits only say how fine codes are
    if config.bits is None and not shares_duty and before.bits != after.bits:
        return f"{after.bits} bits, not {before.bits}"
    was, now = _top_volts(before), _top_volts(after)
    if config.full_scale_volts is None and abs(now - was) > SCALE_SLACK_VOLTS:
        return f"{now:.2f} V at its top code, not {was:.2f} V"
    return ""


def _top_volts(converter: Converter) -> float:
    return float(converter.volts(np.array([converter.full_code]))[0])
