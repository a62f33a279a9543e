"""The metrics of a player, held against the reader of an independent library."""

from __future__ import annotations

import os
from typing import Any

import pytest

from photoperiod.board.events import PlayerState
from photoperiod.board.metrics import ChannelMetrics, Snapshot, render

NOW = Snapshot(
    state=PlayerState.HELD,
    is_trusted=True,
    unix_s=1_803_988_800.5,
    channels={
        "blue": ChannelMetrics(light=0.64, volts=7.998046875, is_closed=True),
        "white": None,
    },
    alarms=['output of "white"\n\\'],
    raised=3,
    steps=77,
    last_day_unix_s=1_806_537_600.0,
)


def families(raw: bytes) -> dict[str, Any]:
    if not os.environ.get("CI"):
        pytest.importorskip("prometheus_client")
    from prometheus_client.openmetrics.parser import text_string_to_metric_families

    return {family.name: family for family in text_string_to_metric_families(raw.decode())}


def test_the_text_is_openmetrics() -> None:
    found = families(render(NOW))
    assert {name: family.type for name, family in found.items()} == {
        "photoperiod_state": "stateset",
        "photoperiod_clock_trusted": "gauge",
        "photoperiod_written_timestamp_seconds": "gauge",
        "photoperiod_table_end_timestamp_seconds": "gauge",
        "photoperiod_light_ratio": "gauge",
        "photoperiod_pair_volts": "gauge",
        "photoperiod_relay_closed": "gauge",
        "photoperiod_alarm": "gauge",
        "photoperiod_alarms": "counter",
        "photoperiod_steps": "counter",
    }
    assert found["photoperiod_pair_volts"].unit == "volts"
    states = {s.labels["photoperiod_state"]: s.value for s in found["photoperiod_state"].samples}
    assert states == {"running": 0, "held": 1, "safe": 0, "stopped": 0}
    (light,) = found["photoperiod_light_ratio"].samples  # what is not known has no sample
    assert (light.labels, light.value) == ({"channel": "blue"}, 0.64)
    (volts,) = found["photoperiod_pair_volts"].samples
    assert volts.value == 7.998046875
    (alarms,) = found["photoperiod_alarms"].samples
    assert (alarms.name, alarms.value) == ("photoperiod_alarms_total", 3)
    assert found["photoperiod_table_end_timestamp_seconds"].samples[0].value == 1_806_537_600


def test_texts_of_strangers_are_escaped() -> None:
    (alarm,) = families(render(NOW))["photoperiod_alarm"].samples
    assert alarm.labels["alarm"].startswith('output of "white"')
    assert render(NOW).count(b"\n") == len(render(NOW).splitlines())
    assert render(NOW).endswith(b"# EOF\n")


def test_the_bytes() -> None:
    """By hand, from the specification; for those who have no reader."""
    lines = render(NOW).decode().splitlines()
    assert lines[:3] == [
        "# TYPE photoperiod_state stateset",
        "# HELP photoperiod_state What the player does.",
        'photoperiod_state{photoperiod_state="running"} 0',
    ]
    assert 'photoperiod_light_ratio{channel="blue"} 0.64' in lines
    assert "# UNIT photoperiod_pair_volts volts" in lines
    assert "photoperiod_steps_total 77" in lines
