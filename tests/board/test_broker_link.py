"""What a player tells its broker, and what it does while the broker is away."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from pathlib import Path

from photoperiod.board.state_store import State
from tests.board.bench import (
    BOARD,
    FLOOR,
    HOUR,
    MQTT,
    STEADY,
    Bench,
    FakeBroker,
    code,
    soft,
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


def test_an_alarm_says_where_no_broker_was_and_why(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=HOUR)
    broker = bench.broker = FakeBroker()
    broker.is_connected, broker.connections = False, 0
    broker.unreached = "reef:1883: name or service not known"
    bench.system.at(60, lambda: setattr(broker, "unreached", "reef:1883: timed out"))
    bench.run()
    # Another reason each time is no alarm each time.
    told = [line for line in bench.said if line.startswith("alarm: the broker")]
    assert told == [
        "alarm: the broker is away (reef:1883: name or service not known); the player goes on, and publishes"
        " all when it is back"
    ]


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


def test_another_player_on_the_same_topic_is_an_alarm(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=60)
    broker = bench.broker = FakeBroker()
    bench.system.at(10, lambda: setattr(broker, "hears_another", True))
    bench.system.at(40, lambda: setattr(broker, "hears_another", False))
    bench.run()
    texts = [alarms for _, alarms in broker.states]
    assert texts[0] == () == texts[-1]
    assert any("another player publishes" in text for one in texts for text in one)


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


class SilentBroker(FakeBroker):
    """A broker that takes messages and confirms none, as behind a line that loses what goes through it."""

    def __init__(self) -> None:
        super().__init__()
        self.answers = True

    def is_taken(self, topic: str) -> bool:
        return self.answers and super().is_taken(topic)


ONLY_RELAY = BOARD.replace("relay: {kind: led, name: relay-blue}", "relay: {kind: mqtt}").replace(
    "channels:\n", "broker: {host: h, topic: bench}\nchannels:\n"
)


def _counts(said: list[tuple[str, str]]) -> list[int]:
    return [json.loads(text)["count"] for topic, text in said if topic == "bench/blue/level"]


def test_light_goes_on_from_what_the_broker_confirmed(tmp_path: Path) -> None:
    """What was told for minutes, and never arrived, is no level from which a lamp may rise."""
    noon = table((0, 0, "off"), (12 * HOUR + 2400, 80), between="hold")
    bench = Bench(tmp_path, noon, MQTT, stop_s=2 * HOUR)
    broker = bench.broker = SilentBroker()
    marks: list[int] = []

    def silent() -> None:
        broker.answers = False
        marks.append(len(broker.said))

    def back() -> None:
        broker.leave()
        broker.answers = True
        broker.come_back()
        marks.append(len(broker.said))

    bench.system.at(605, silent)
    bench.system.at(3005, back)
    bench.run()
    heard, later = marks

    assert _counts(broker.said[:heard]) == [0]
    assert _counts(broker.said[heard:later]) == [80]
    assert _counts(broker.said[later:])[:2] == [FLOOR, FLOOR + 1]


def test_a_level_rises_step_by_step_behind_a_slow_broker(tmp_path: Path) -> None:
    """A listener must not get at once what it should have got in a minute; what falls is told at once."""
    evening = table((0, 80), (12 * HOUR + 2400, 80), (12 * HOUR + 2460, 60))
    bench = Bench(tmp_path, evening, MQTT, stop_s=2600)
    broker = bench.broker = SilentBroker()
    marks: list[int] = []

    def mark(answers: bool) -> None:
        broker.answers = answers
        marks.append(len(broker.said))

    for second, answers in ((605, False), (1205, True), (2395, False), (2595, True)):
        bench.system.at(second, lambda answers=answers: mark(answers))
    bench.run()
    first, second, third, fourth = marks
    # The soft start of 30 min from 10 to 100 counts reaches 40 after 605 s, and 70 after 1205 s.
    before, during = _counts(broker.said[:first]), _counts(broker.said[first:second])
    assert before[-1] == 40 and during in ([], [41])
    after = _counts(broker.said[second:third])
    rises = [b - a for a, b in itertools.pairwise([*before, *during, *after])]
    assert max(rises[1:]) <= 2 and after[-1] == 80
    assert _counts(broker.said[third:fourth])[-1] == 60


def test_a_state_says_what_the_broker_confirmed(tmp_path: Path) -> None:
    """A player that is started again must not take for lit what was never heard."""
    bench = Bench(tmp_path, STEADY, MQTT, boot=1000.0)
    broker = bench.broker = SilentBroker()
    bench.system.at(605, lambda: setattr(broker, "answers", False))
    held: list[State | None] = []
    bench.system.at(1705, lambda: held.append(bench.store.read_state()))
    bench.system.stop_s = 1710
    bench.run()
    assert held[0] is not None
    assert code(FLOOR) < held[0].outputs["blue"].code <= code(soft(605))


def test_a_relay_of_a_broker_that_was_away_closes_at_the_floor(tmp_path: Path) -> None:
    """The level has risen meanwhile, on a converter of this board."""
    bench = Bench(tmp_path, STEADY, ONLY_RELAY, stop_s=4000)
    broker = bench.broker = FakeBroker()
    broker.is_connected = False
    bench.system.at(3000, broker.come_back)
    seen = bench.watch([2999, 3021, 3600])
    assert [level for level, _ in seen] == [code(80), code(soft(20)), code(soft(590))]
    assert ("bench/blue/relay", "on") in broker.said


def test_a_listener_that_was_told_lit_and_did_not_hear_is_told_again(tmp_path: Path) -> None:
    """Its lamp was dark when the line broke; what is held and logged then is what it is told after that."""
    text = MQTT.replace('{kind: mqtt, topic: switch/3, closed: "ON", open: "OFF"}', "{kind: none}")
    bench = Bench(tmp_path, STEADY, text, stop_s=900)
    broker = bench.broker = SilentBroker()
    bench.store.hold("test")
    bench.system.at(45, lambda: (setattr(broker, "answers", False), bench.store.release()))
    bench.system.at(55, broker.leave)
    bench.system.at(65, lambda: (setattr(broker, "answers", True), broker.come_back()))
    bench.run()
    assert json.loads(broker.said[-2][1])["count"] == soft(900 - 70 - 10)
    records = [r for r in bench.records() if r[1]]
    assert {r[7] for r in records if r[2] not in ("0", "")} == {"on"}
