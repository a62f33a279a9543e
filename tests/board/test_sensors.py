"""What is measured behind relay and converter: recorded, and held against what was put out."""

from __future__ import annotations

import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.board.bench import BOARD, DAY, HOUR, MIDNIGHT, STEADY, Bench, code
from tests.board.fake_kernel import IIO

CONTACT, VOLTS, LIGHT = "contact", "pair", "lamp"

SENSE = (
    BOARD
    + f"""\
    sense:
      contact: {{file: {CONTACT}}}
      volts: {{file: {VOLTS}, volts_per_unit: 0.01}}
      light: {{file: {LIGHT}, lit_above: 40}}
"""
)


def sensed(bench: Bench, contact: int, volts: float, light: int) -> None:
    """Have the sensors say something."""
    bench.kernel.held |= {CONTACT: str(contact), VOLTS: str(round(volts * 100)), LIGHT: str(light)}


def bench_with(folder: Path, raw: bytes, **system: float) -> Bench:
    bench = Bench(folder, raw, SENSE, **system)
    bench.system.stop_s = 200
    return bench


def alarms(bench: Bench) -> list[str]:
    return [text for text in bench.said if text.startswith("alarm: PHO513")]


def test_what_agrees_is_recorded_and_no_alarm(tmp_path: Path) -> None:
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)
    bench.system.at(150, lambda: sensed(bench, 0, 0.8, 3))  # as the stop finds it
    bench.system.at(151, lambda: signal.SIGTERM)
    assert bench.run() == 0
    assert alarms(bench) == []
    (file,) = (tmp_path / "log").glob("sensed-*.csv")
    lines = file.read_text().splitlines()
    assert lines[0] == "time,channel,sensor,raw,says,difference"
    assert lines[1:4] == [
        "2027-03-02T12:00:00Z,blue,contact,1,closed,",
        "2027-03-02T12:00:00Z,blue,volts,800,8,",
        "2027-03-02T12:00:00Z,blue,light,900,lit,",
    ]
    assert len(lines) == 1 + 3 * 3  # each minute


@pytest.mark.parametrize(
    ("contact", "volts", "light", "words"),
    [
        (1, 0.8, 3, f"mirror contact ({CONTACT}) of 'blue' is closed, and the relay was opened"),
        (
            0,
            0.8,
            900,
            "light sensor (lamp) of 'blue' says 900: the lamp is lit, and should be dark",
        ),
        (0, 10.8, 3, "pair (pair) of 'blue' has 10.80 V, and 0.00 V were put out"),
    ],
)
def test_a_lamp_that_burns_in_the_dark_is_an_alarm(
    tmp_path: Path, contact: int, volts: float, light: int, words: str
) -> None:
    """A welded contact, a bypass, an open pair: relay and converter say what they were told."""
    bench = bench_with(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR)
    sensed(bench, 0, 0.8, 3)
    bench.system.at(21, lambda: sensed(bench, contact, volts, light))
    bench.system.at(29, lambda: said_before.append(len(alarms(bench))))
    bench.system.at(31, lambda: said_before.append(len(alarms(bench))))
    bench.system.at(99, lambda: sensed(bench, 0, 0.8, 3))
    said_before: list[int] = []
    bench.run()
    assert said_before == [0, 0] and alarms(bench) == [f"alarm: PHO513: the {words}"]
    assert any(text.startswith("alarm over: PHO513") for text in bench.said)
    assert bench.events() == ["start", "sense-differs", "stop"]


def test_a_lamp_that_does_not_burn_is_an_alarm(tmp_path: Path) -> None:
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 0, 3.0, 3)
    bench.system.at(95, lambda: sensed(bench, 0, 3.01, 4))  # noise is no other alarm
    bench.run()
    assert [text.partition(" of 'blue' ")[2] for text in alarms(bench)] == [
        "is open, and the relay was closed",
        "has 3.00 V, and 8.00 V were put out",
        "says 3: the lamp is dark, and should burn",
    ]


def test_a_dark_pair_may_have_the_volts_of_its_own_output_stage(tmp_path: Path) -> None:
    """docs/walk.md: the pair can't go below 0.83 V; the ballast's floor is 1.0 V."""
    bench = bench_with(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR)
    sensed(bench, 0, 1.4, 3)
    bench.run()
    assert alarms(bench) == []


def test_a_hold_waits_for_what_measures_the_lamp(tmp_path: Path) -> None:
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(34, lambda: sensed(bench, 0, 0.8, 3))
    bench.system.at(33, lambda: assert_silent(bench))
    bench.system.at(41, lambda: assert_said(bench))
    assert bench.run() == 0
    assert alarms(bench) == []


def assert_silent(bench: Bench) -> None:
    assert not any("lamps are off" in text or "may burn" in text for text in bench.said)


def assert_said(bench: Bench) -> None:
    assert "held: the lamps are off, until `photoperiod release`" in bench.said


def test_a_welded_contact_is_not_off(tmp_path: Path) -> None:
    """Neither for a hold nor for a stop, which ends with 4."""
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)
    bench.system.at(25, lambda: bench.store.hold("test"))
    assert bench.run() == 4
    assert not any("the lamps are off" in text for text in bench.said)
    why = f"its mirror contact ({CONTACT}) is closed, and the relay was opened"
    assert any(text.startswith(f"alarm: held, but 'blue' may burn: {why}") for text in bench.said)
    assert bench.said[-1].startswith(f"stopped, but not all is safe: 'blue' may burn: {why}")


def test_a_stop_looks_at_what_measures_the_lamp(tmp_path: Path) -> None:
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)  # and so it stays
    bench.system.at(25, lambda: signal.SIGTERM)
    assert bench.run() == 4 and not bench.relay
    assert "'blue' may burn: its mirror contact" in bench.said[-1]


@pytest.mark.parametrize("text", ["", "much", "nan", "inf", None])
def test_a_sensor_that_says_nothing_is_an_alarm_and_nothing_else(
    tmp_path: Path, text: str | None
) -> None:
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)

    def fail() -> None:
        if text is None:
            del bench.kernel.held[LIGHT]
        else:
            bench.kernel.held[LIGHT] = text

    bench.system.at(21, fail)
    bench.system.at(61, lambda: sensed(bench, 1, 8.0, 900))
    bench.system.at(150, lambda: sensed(bench, 0, 0.8, 3))
    bench.system.at(151, lambda: signal.SIGTERM)
    assert bench.run() == 0
    assert bench.events() == ["start", "device-lost", "device-back", "stop"]
    assert any("the light sensor (lamp) of 'blue' can't be read" in said for said in bench.said)


def test_a_contact_is_0_or_1(tmp_path: Path) -> None:
    """Another number would be taken for the state that is not `closed`."""
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)
    bench.system.at(21, lambda: sensed(bench, 312, 8.0, 900))
    bench.system.at(150, lambda: sensed(bench, 0, 0.8, 3))
    bench.system.at(151, lambda: signal.SIGTERM)
    assert bench.run() == 0
    assert alarms(bench) == []
    name = f"the mirror contact ({CONTACT}) of 'blue'"
    assert f"alarm: PHO507: {name} can't be read: there is no 0 or 1 in it" in bench.said


def test_a_contact_on_a_line_is_held_against_its_relay(tmp_path: Path) -> None:
    text = BOARD + "    sense:\n      contact: {line: mirror-blue, bias: pull-up, closed: 0}\n"
    bench = Bench(tmp_path, STEADY, text)
    bench.kernel.add_gpio("mirror-blue")
    bench.light(code(80))
    value = f"{bench.kernel.lines[0].folder}/value"
    bench.system.at(30, lambda: bench.kernel.held.update({value: "1"}))
    bench.system.at(60, lambda: bench.kernel.held.update({value: "0"}))
    bench.system.at(70, lambda: bench.kernel.gone.add("lines/"))
    bench.system.at(90, lambda: bench.kernel.gone.clear())
    bench.system.at(100, lambda: bench.kernel.held.update({value: "1"}))  # as the stop finds it
    bench.system.stop_s = 101
    assert bench.run() == 0
    told = [line for line in bench.said if "mirror-blue" in line or "over" in line]
    name = "the mirror contact (line mirror-blue) of 'blue'"
    assert told[0] == f"alarm: PHO513: {name} is open, and the relay was closed"
    assert "PHO513" in told[1] and "over" in told[1]
    assert told[2].startswith(
        f"alarm: PHO507: {name} can't be read: there is no line 'mirror-blue'"
    )
    assert "PHO507" in told[3] and "over" in told[3] and len(told) == 4


def weld(bench: Bench) -> None:
    """The relay opens, and the lamp burns on."""
    bench.store.hold("test")
    sensed(bench, 1, 0.8, 900)


LOST: list[tuple[str, Callable[[Bench], object]]] = [
    ("converter", lambda bench: bench.kernel.gone.add(IIO)),
    ("sensors", lambda bench: [bench.kernel.held.update({name: "?"}) for name in (CONTACT, LIGHT)]),
]


@pytest.mark.parametrize(("what", "lose"), LOST, ids=[what for what, _ in LOST])
def test_a_lamp_that_was_seen_burning_is_not_called_off_because_something_else_is_lost(
    tmp_path: Path, what: str, lose: Callable[[Bench], object]
) -> None:
    """An open relay should make it dark, whatever its converter holds; silence is no other word."""
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)
    bench.system.at(25, lambda: weld(bench))
    bench.system.at(75, lambda: lose(bench))
    marks: list[int] = []
    bench.system.at(74, lambda: marks.append(len(bench.said)))
    bench.system.at(151, lambda: marks.append(len(bench.said)))
    bench.system.at(155, lambda: signal.SIGTERM)
    assert bench.run() == 4
    before, after = bench.said[: marks[0]], bench.said[marks[0] : marks[1]]
    assert any(text.startswith("alarm: held, but 'blue' may burn") for text in before)
    assert not [text for text in after if "are off" in text or "alarm over: PHO513" in text]


def test_a_difference_is_over_when_the_lamp_should_burn_again(tmp_path: Path) -> None:
    """Though its sensor can't be read by then."""
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)
    bench.system.at(25, lambda: weld(bench))
    bench.system.at(75, lambda: LOST[1][1](bench))
    bench.system.at(95, bench.store.release)
    bench.run()
    assert any(text.startswith("alarm over: PHO513: the light sensor") for text in bench.said)


def test_a_lamp_without_its_converter_is_held_against_its_open_relay(tmp_path: Path) -> None:
    """It is seen burning after the converter was lost: the relay is open, so it should be dark."""
    bench = bench_with(tmp_path, STEADY)
    bench.light(code(80))
    sensed(bench, 1, 8.0, 900)
    bench.system.at(25, lambda: (bench.store.hold("test"), sensed(bench, 0, 0.8, 3)))
    bench.system.at(75, lambda: bench.kernel.gone.add(IIO))
    bench.system.at(95, lambda: sensed(bench, 1, 0.8, 900))
    bench.run()
    assert (
        "alarm: PHO513: the light sensor (lamp) of 'blue' says 900: the lamp is lit, and should be dark"
        in (bench.said)
    )


def test_a_stop_waits_for_the_contactor(tmp_path: Path) -> None:
    text = BOARD + f"    sense:\n      contact: {{file: {CONTACT}}}\n"
    bench = Bench(tmp_path, STEADY, text, stop_s=10)
    bench.light(code(80))
    bench.kernel.held[CONTACT] = "1"
    bench.system.at(10.2, lambda: bench.kernel.held.update({CONTACT: "0"}))  # 0.2 s after the coil
    assert bench.run() == 0
    assert bench.said[-1] == "stopped: the safe state is set"
