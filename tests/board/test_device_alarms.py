"""What is said of lamps that should be dark: only what was written and read back."""

from __future__ import annotations

import json
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.board.bench import (
    BOARD,
    DAY,
    HOUR,
    MIDNIGHT,
    MQTT,
    STEADY,
    TWO,
    Bench,
    FakeBroker,
    code,
    table,
)
from tests.board.fake_kernel import IIO
from tests.conftest import Run

RELAY = "class/leds/relay-blue/brightness"

LIT = "its light sensor (lux) says 80: the lamp is lit, and should be dark"


def stick(bench: Bench, name: str) -> None:
    """Have a file take every write, and change nothing: a device that is stuck."""
    really = bench.kernel.write

    def write(file: str, text: str) -> None:
        if file != name:
            really(file, text)

    bench.kernel.write = write  # type: ignore[method-assign]


def lose(bench: Bench, name: str) -> None:
    bench.kernel.gone.add(name)


def light_unseen(bench: Bench) -> None:
    """Light a lamp so that reading back does not tell."""
    bench.kernel.frozen = dict(bench.kernel.held)
    bench.light(4095)
    bench.kernel.writes.clear()


@pytest.mark.parametrize(
    ("end", "words"),
    [
        (lambda bench: signal.SIGTERM, ["stopped: the safe state is set"]),
        (
            lambda bench: bench.store.hold("x"),
            ["held: the lamps are off, until `photoperiod release`"],
        ),
        (lambda bench: signal.SIGHUP, []),
        (lambda bench: setattr(bench.system, "unix", 0.0), ["alarm: safe state: the clock can't"]),
    ],
    ids=["SIGTERM", "hold", "SIGHUP", "safe state"],
)
def test_a_lamp_that_something_else_lit_goes_off(
    tmp_path: Path, end: Callable[[Bench], int | None], words: list[str]
) -> None:
    """At night the player believes that all is dark. It writes all the same."""
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR)
    bench.system.at(15, lambda: light_unseen(bench))
    bench.system.at(25, lambda: end(bench))
    bench.system.at(36, lambda: signal.SIGINT)
    bench.system.stop_s = 99
    written: list[list[str]] = []
    bench.system.at(35, lambda: written.append([name for name, _ in bench.kernel.writes]))
    bench.run()
    assert (bench.code, bench.relay) == (0, False)
    for names in written:  # before the end, which writes again; none if SIGTERM was the end
        assert names == [RELAY, f"{IIO}/out_voltage0_raw"]
    assert written or end(bench) == signal.SIGTERM
    for start in words:
        assert any(text.startswith(start) for text in bench.said)


@pytest.mark.parametrize("second", [2 * HOUR, 12 * HOUR], ids=["night", "plateau"])
def test_what_something_else_set_is_found_on_a_plateau(tmp_path: Path, second: int) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + second)
    is_night = second == 2 * HOUR
    if not is_night:
        bench.light(code(80))
    plan = (0, False) if is_night else (code(80), True)
    bench.system.at(21, lambda: bench.light(4095))
    # Each look is at most ten seconds after the last.
    assert bench.watch([20, 22, 31, 99, 130]) == [plan, (4095, True), plan, plan, plan]
    assert "device-differs" in bench.events()
    (found,) = [r for r in bench.records() if r[3] == "4095"]
    assert found[7] == "on" and float(found[4]) > 9.9  # what it held, not what was wanted
    assert any(
        text.startswith(
            "alarm: PHO512: the output of 'blue' (iio:device0 channel 0) holds code 4095"
        )
        for text in bench.said
    )
    assert any("relay of 'blue'" in text for text in bench.said) is is_night
    over = [text for text in bench.said if text.startswith("alarm over: PHO512")]
    assert len(over) == (2 if is_night else 1)  # a minute after the last time


def test_a_reset_converter_rises_softly_again(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(21, lambda: bench.light(0))
    before, after, later = bench.watch([20, 31, 400])
    assert before == (code(80), True)
    assert after == (code(10), True)  # the floor, where every soft start begins
    assert code(20) < later[0] < code(40)


@pytest.mark.parametrize(
    ("fault", "why"),
    [
        (lambda b: stick(b, RELAY), "its relay (relay relay-blue) is closed, and was opened"),
        (lambda b: lose(b, "class/leds/relay-blue"), "its relay (relay relay-blue) is lost"),
    ],
    ids=["stuck", "missing"],
)
def test_a_stop_that_leaves_a_lamp_lit_says_so(
    tmp_path: Path, fault: Callable[[Bench], None], why: str
) -> None:
    bench = Bench(tmp_path, table((0, 80), channels=("blue", "white")), TWO, stop_s=99)
    bench.kernel.add_converter(device="bus/iio/devices/iio:device1").add_led("relay-white")
    bench.light(code(80))
    bench.system.at(15, lambda: fault(bench))
    bench.system.at(25, lambda: signal.SIGTERM)
    assert bench.run() == 4
    last = bench.said[-1]
    assert last.startswith(f"stopped, but not all is safe: 'blue' may burn: {why}")
    assert "white" not in last
    assert bench.code == 0  # the level went down all the same


def test_an_open_relay_is_dark_without_its_converter(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=99)
    bench.light(code(80))
    bench.system.at(15, lambda: lose(bench, IIO))
    bench.system.at(25, lambda: signal.SIGTERM)
    assert bench.run() == 0
    assert bench.said[-1] == "stopped: the safe state is set" and not bench.relay


def test_a_hold_says_which_lamp_may_burn_and_when_it_is_off(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    really = bench.kernel.write
    bench.system.at(15, lambda: stick(bench, RELAY))
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(65, lambda: setattr(bench.kernel, "write", really))
    stuck, off = bench.watch([60, 75])
    assert stuck == (0, True) and off == (0, False)
    said = [text for text in bench.said if "held" in text]
    assert said[0] == (
        "alarm: held, but 'blue' may burn: its relay (relay relay-blue) is closed, and was opened"
    )
    assert said[1] == "held: the lamps are off, until `photoperiod release`"
    assert said[2].startswith("alarm over: held, but 'blue' may burn")
    wrong = [r for r in bench.records() if r[1] and r[7] == "on" and r[2] == "0"]
    assert wrong  # a closed relay at level 0: the lamp burns at its floor, and the log says so


def test_a_lamp_that_nothing_switches_off_is_named(tmp_path: Path) -> None:
    text = BOARD.replace("{kind: led, name: relay-blue}", "{kind: none}")
    bench = Bench(tmp_path, STEADY, text, stop_s=25)
    bench.light(code(80))
    bench.system.at(15, lambda: bench.store.hold("test"))
    assert bench.run() == 0  # what could be written was written
    assert "alarm: held, but 'blue' burns at 1 % light" in bench.said  # the ballast's floor


def test_a_hold_without_a_broker_is_no_darkness(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT)
    broker = bench.broker = FakeBroker()
    bench.system.at(15, broker.leave)
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(55, broker.come_back)
    bench.system.at(75, broker.leave)
    bench.system.stop_s = 85
    assert bench.run() == 4
    held = next(text for text in bench.said if "held" in text)
    assert held == "alarm: held, but 'blue' may burn: its relay (topic switch/3) could not be told"
    assert "held: the lamps are off, until `photoperiod release`" in bench.said
    assert bench.said[-1].startswith("stopped, but not all is safe: 'blue' may burn")
    assert json.loads(broker.said[-1][1])["count"] == 0


def test_compare_sees_a_stuck_relay_in_the_log(tmp_path: Path, run: Run) -> None:
    """The log says what the relay says that it holds, all night."""
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 20.5 * HOUR, stop_s=3 * HOUR)
    bench.light(code(80))
    bench.system.at(600, lambda: stick(bench, RELAY))
    assert bench.run() == 4
    (log,) = (tmp_path / "log").glob("run-*.csv")
    exit_code, out, _ = run("compare", bench.table, log, "--format", "json")
    assert exit_code == 1
    found = {one["code"]: one["message"] for one in json.loads(out)["findings"]}
    assert "relay closed where the table has it open" in found["PHO607"]
    assert found["PHO609"].endswith(("device-differs", "stop", "start"))


def test_a_renewal_that_the_broker_refuses_is_told_though_nothing_changes(tmp_path: Path) -> None:
    """Its listener goes dark when the last message is over, and the next change may be hours away."""
    bench = Bench(tmp_path, table((0, 80), soft_minutes=0), MQTT, stop_s=120)
    broker = bench.broker = FakeBroker()
    bench.system.at(35, lambda: broker.refusals.update({"bench/blue/level": "not authorized"}))
    bench.system.at(75, broker.refusals.clear)
    alarms: list[list[str]] = []
    for second in (34, 45, 95):
        bench.system.at(second, lambda: alarms.append(bench.player.alarms.texts))
    bench.run()
    lost = (
        "PHO507: the output of 'blue' (topic bench/blue/level) is lost: the broker refuses it: not"
    )
    assert alarms == [[], [f"{lost} authorized"], []]


class SlowBroker(FakeBroker):
    """A broker that takes a message at once, and confirms it when it likes (PUBACK; MQTT 5, 3.4)."""

    confirms = True

    def is_taken(self, topic: str) -> bool:
        return self.confirms and super().is_taken(topic)


def test_a_topic_is_dark_when_the_broker_has_confirmed_it(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=75)
    broker = bench.broker = SlowBroker()
    bench.system.at(15, lambda: setattr(broker, "confirms", False))
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(55, lambda: setattr(broker, "confirms", True))
    marks: list[int] = []
    for second in (51, 61):
        bench.system.at(second, lambda: marks.append(len(bench.said)))
    assert bench.run() == 0
    told = (
        "'blue' may burn: its relay (topic switch/3) was told, and the broker has not taken it yet"
    )
    assert bench.said[: marks[0]] == [f"alarm: held, but {told}"]
    assert bench.said[marks[0] : marks[1]] == [
        "held: the lamps are off, until `photoperiod release`",
        f"alarm over: held, but {told}",
    ]


def test_a_stop_that_the_broker_has_not_confirmed_is_not_safe(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=25)
    broker = bench.broker = SlowBroker()
    bench.system.at(15, lambda: setattr(broker, "confirms", False))
    assert bench.run() == 4
    assert bench.said[-1].endswith("(topic switch/3) was told, and the broker has not taken it yet")
    assert broker.said[-2:][0] == ("switch/3", "OFF")


def test_a_hold_without_a_clock_and_with_a_relay_that_lies(tmp_path: Path) -> None:
    """Its latch says open and is closed: only what measures the lamp knows."""
    text = BOARD + "    sense:\n      light: {file: lux, lit_above: 40}\n"
    bench = Bench(tmp_path, STEADY, text, synchronised=False, stop_s=99)
    bench.light(code(80))
    bench.kernel.held["lux"] = "80"
    bench.kernel.frozen[RELAY] = "0"
    stick(bench, RELAY)
    bench.store.hold("test")
    assert bench.watch([50])[0] == (0, True)
    held = [text for text in bench.said if "held" in text]
    assert held == [f"alarm: held, but 'blue' may burn: {LIT}"]
    assert any("the clock can't be trusted" in text for text in bench.said)
    assert bench.said[-1] == f"stopped, but not all is safe: 'blue' may burn: {LIT}"


def test_a_hold_without_a_clock_says_dark_when_the_lamp_is(tmp_path: Path) -> None:
    text = BOARD + "    sense:\n      light: {file: lux, lit_above: 40}\n"
    bench = Bench(tmp_path, STEADY, text, synchronised=False, stop_s=99)
    bench.light(code(80))
    bench.kernel.held["lux"] = "3"
    bench.store.hold("test")
    assert bench.watch([50])[0] == (0, False)
    assert [text for text in bench.said if "held" in text] == [
        "held: the lamps are off, until `photoperiod release`"
    ]


def test_a_stop_says_whose_line_is_let_go(tmp_path: Path) -> None:
    text = BOARD.replace("{kind: led, name: relay-blue}", "{kind: gpio, line: relay-white}")
    bench = Bench(tmp_path, STEADY, text, stop_s=20)
    bench.kernel.add_gpio()
    assert bench.run() == 0
    assert bench.said[-1] == (
        "stopped: the safe state is set; now the line of 'blue' is let go, and a resistor must keep its"
        " relay open"
    )
