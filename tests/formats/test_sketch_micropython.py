"""Sketches in MicroPython: the offsets of a clock that the network sets."""

from __future__ import annotations

import ast
import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

from photoperiod.formats.sketch import render
from tests.formats.sketching import many, text, wiring


def offsets(clock: str, zone: str, dates: tuple[dt.date, dt.date] | None) -> list[tuple[int, int]]:
    made, told = many(1, clock=clock)
    told = replace(told, time_zone=zone, dates=dates)
    main = text(render(wiring("esp32", "network"), made, told))
    found: list[tuple[int, int]] = list(
        ast.literal_eval(main.partition("OFFSETS = ")[2].partition("\n)")[0] + ")")
    )
    return found


def test_offsets_are_those_of_the_zone() -> None:
    """Against Python's zoneinfo, hour by hour around each change and far from it."""
    found = offsets("civil", "Atlantic/Azores", (dt.date(2027, 3, 1), dt.date(2027, 12, 31)))
    assert len(found) == 41  # two changes a year for twenty years
    epoch, zone = dt.datetime(2000, 1, 1, tzinfo=dt.UTC), ZoneInfo("Atlantic/Azores")
    for begin_s, _ in found[1:]:
        for by_s in (-1, 0, 3600, 90 * 86_400):
            moment = epoch + dt.timedelta(seconds=begin_s + by_s)
            wanted = moment.astimezone(zone).utcoffset()
            assert wanted is not None
            shown = [after for at, after in found if at <= begin_s + by_s][-1]
            assert shown == wanted.total_seconds(), moment


def test_offsets_of_other_clocks() -> None:
    assert [after for _, after in offsets("standard", "Atlantic/Azores", None)] == [-3600]
    assert [after for _, after in offsets("utc", "Atlantic/Azores", None)] == [0]


def test_each_channel_has_its_pins() -> None:
    pins = render(wiring("rp2040"), *many(2)).pins[1].decode()
    values = {
        node.targets[0].id: ast.literal_eval(node.value)
        for node in ast.parse(pins).body
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
    }
    assert values["RELAYS"] == {"lamp-0": 10, "lamp-1": 11}
    assert values["LEVELS"] == {"lamp-0": 0, "lamp-1": 1}
    assert (values["CONVERTER_ADDRESS"], values["SDA"], values["SCL"]) == (0x60, 4, 5)
    assert "WIFI_NAME" not in values and values["STOP_SWITCH"] is None
    network = render(wiring("rp2040", "network", "pwm"), *many(2)).pins[1].decode()
    assert 'ALARM_LED = "LED"\n' in network and "SDA" not in network
    assert 'TIME_SERVER = "192.168.1.1"\n' in network
