"""What a player tells its broker, and what it does while the broker is away."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from tests.board.bench import (
    HOUR,
    MQTT,
    STEADY,
    Bench,
    FakeBroker,
    code,
    table,
)


def test_a_broker_gets_levels_relays_state_and_alarms(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=5)
    broker = bench.broker = FakeBroker()
    bench.run()
    assert broker.said[:2] == [
        ("bench/blue/level", json.dumps({"count": 10, "converter_code": code(10), "volts": 1.001,
                                        "level_percent": 10.0, "relay": "on"})),
        ("switch/3", "ON"),
    ]  # fmt: skip
    assert broker.said[-2][0] == "switch/3" and broker.said[-2][1] == "OFF"
    assert [state for state, _ in broker.states] == ["running", "stopped"]


def test_a_lost_broker_is_told_all_again_and_lamps_rise_softly(tmp_path: Path) -> None:
    raw = table((0, 20), (12 * HOUR, 20), (13 * HOUR, 80), (20 * HOUR, 80))
    bench = Bench(tmp_path, raw, MQTT, stop_s=3 * HOUR)
    broker = bench.broker = FakeBroker()
    marks: list[int] = []
    bench.system.at(1200, broker.leave)
    bench.system.at(7200, lambda: (marks.append(len(broker.said)), broker.come_back()))
    bench.system.at(7231, lambda: marks.append(len(broker.said)))
    bench.run()
    before, after = marks
    counts = [
        json.loads(text)["count"] for topic, text in broker.said if topic == "bench/blue/level"
    ]
    again = [item for item in broker.said[before:after] if item[0] == "bench/blue/level"]
    assert json.loads(broker.said[before - 1][1])["count"] <= 40
    assert json.loads(again[0][1])["count"] <= 41  # not 80 at once
    assert max(counts) == 80
    assert broker.said[before:after].count(("switch/3", "ON")) == 1
    assert bench.events() == ["start", "broker-lost", "broker-back", "stop"]
    gap = [r for r in bench.records() if r[1] and "12:25" < r[0][11:16] < "13:55"]
    assert gap == []  # nobody heard it, so it is not logged


def test_what_expires_is_renewed_as_long_as_the_player_lives(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=HOUR)
    broker = bench.broker = FakeBroker()
    counts: list[int] = []
    bench.system.at(1799, lambda: counts.append(broker.renewals))
    bench.system.at(1800, broker.leave)
    bench.system.at(2700, broker.come_back)
    bench.run()
    assert counts == [5]  # every 300 s
    # None while it is away; then all is published anew, and renewed from there on.
    assert broker.renewals == 5 + 2


def test_an_older_table_from_the_store_of_a_broker_is_an_alarm(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=60)
    broker = bench.broker = FakeBroker()
    bench.system.at(10, lambda: setattr(broker, "has_older_table", True))
    bench.system.at(40, lambda: setattr(broker, "has_older_table", False))
    bench.run()
    assert bench.events() == ["start", "refused", "stop"]
    texts = [alarms for _, alarms in broker.states]
    assert texts[0] == () == texts[-1]
    assert any("publish again what is to be played" in text for one in texts for text in one)


def test_a_table_that_is_too_large_for_a_broker_is_refused(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=30)
    broker = bench.broker = FakeBroker()

    def offer(size: int) -> Callable[[], None]:
        return lambda: setattr(broker, "offered", b"x" * size)

    bench.system.at(10, offer(2**20 + 1))
    bench.run()
    assert bench.events() == ["start", "refused", "stop"]
    assert broker.states[-1][1] == (
        "PHO505: the table that was handed out is larger than 1,048,576 bytes;"
        " the last good table goes on",
    )
    assert bench.table.read_bytes() == STEADY


def test_alarms_reach_the_broker(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), dates=("2027-02-01", "2027-02-02")), MQTT, stop_s=30)
    broker = bench.broker = FakeBroker()
    bench.run()
    assert broker.states[0] == (
        "running",
        ("the table is past its last date; the last one goes on",),
    )
