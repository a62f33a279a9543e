"""Exported sketches do on their boards what docs/sketch.md says, on good days and on bad ones."""

from __future__ import annotations

import functools
import itertools
import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from photoperiod.formats.image import encode
from photoperiod.formats.wiring import Wiring
from photoperiod.player.reference import Output, play
from tests.targets.sketches import (
    DAY,
    Ran,
    State,
    at,
    bits_of,
    built_avr,
    on_avr,
    on_world,
    put,
    simulator,
    table,
    wide,
    wiring,
)
from tests.targets.tools import WARNINGS, run, tool

AVR = wiring("atmega328p", "ds3231", "mcp4728")
PYTHON = wiring("rp2040", "ds3231", "mcp4728")

#: Every way to wire a board that a sketch is written for.
ALL = [
    *(
        wiring("atmega328p", t, v)
        for t in ("ds3231", "pcf8523")
        for v in ("pwm", "mcp4725", "mcp4728")
    ),
    *(
        wiring(board, t, v)
        for board in ("esp32", "rp2040")
        for t in ("ds3231", "pcf8523", "network")
        for v in ("pwm", "mcp4725", "mcp4728")
    ),
]

#: Hours at which something happens in the table, on its first and second date.
WINDOWS = [6, 8, 11.999, 12, 20.999, 24 - 1 / 240, 24 + 9, 24 + 23]

#: From when on outputs follow the clock: one reading alone is not believed.
CONFIRMED_S = 1

Run = Callable[..., Ran]

#: The pins file with a stop switch, where the worlds have theirs.
STOP_SWITCH_C = (("/* #define STOP_SWITCH PIN(C, 3) */", "#define STOP_SWITCH PIN(C, 3)"),)
STOP_SWITCH_PYTHON = (("STOP_SWITCH = None", "STOP_SWITCH = 22"),)


class Bench:
    """Builds each sketch once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.built: dict[object, Run] = {}
        self.undisturbed: dict[object, Ran] = {}

    @functools.cached_property
    def board(self) -> Path:
        """The simulated board, for sketches in C."""
        return simulator(self.folder)

    def program(
        self,
        to: Wiring,
        pins: tuple[tuple[str, str], ...] = (),
        main: tuple[tuple[str, str], ...] = (),
    ) -> Run:
        key = to, pins, main
        if key not in self.built:
            folder = self.folder / str(len(self.built))
            folder.mkdir()
            put(folder, to, pins, main)
            if to.is_c:
                self.built[key] = functools.partial(on_avr, built_avr(folder), self.board, to)
            else:
                self.built[key] = functools.partial(on_world, folder, to)
        return self.built[key]

    def window(self, to: Wiring, hours: float) -> Ran:
        """Return 45 undisturbed seconds, of which the 20th is at an hour."""
        key = to, hours
        if key not in self.undisturbed:
            self.undisturbed[key] = self.program(to)(at(hours) - 20, 45)
        return self.undisturbed[key]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return Bench(tmp_path_factory.mktemp("sketches"))


def wanted(to: Wiring, moment_s: int, since_start_s: int | None, *, safe: bool = False) -> State:
    """Return what the reference gives."""
    _, outputs = play(
        table(bits_of(to.levels)),
        moment_s // 86_400,
        moment_s % 86_400,
        clock_valid=not safe,
        since_start_s=since_start_s,
    )
    return state_of(outputs)


def state_of(outputs: tuple[Output, ...]) -> State:
    blue, moon = outputs
    return State((blue.code, moon.code), (blue.relay, moon.relay))


NAMED = pytest.mark.parametrize("to", [AVR, PYTHON], ids=lambda to: str(to.board))


def seldom(to: Wiring) -> bool:
    """Return whether a wiring waits for the long sweeps: each of its pieces is in one that does not."""
    return to.is_c and (to.time == "pcf8523") != (to.levels == "pwm")


@pytest.mark.parametrize(
    "to",
    [
        pytest.param(
            to,
            marks=pytest.mark.slow if seldom(to) else (),
            id=f"{to.board}-{to.time}-{to.levels}",
        )
        for to in ALL
    ],
)
def test_each_second_is_that_of_the_reference(to: Wiring, bench: Bench) -> None:
    # On a network, the question for the server's address takes 12 s, from the second round on.
    first = 14 if to.time == "network" else CONFIRMED_S
    windows = WINDOWS if to in (AVR, PYTHON) else WINDOWS[2:5:2]
    for hours in windows:
        begin_s = at(hours) - 20
        ran = bench.window(to, hours)
        for second, state in enumerate(ran.seconds(45)):
            if second < first:
                assert state == wanted(to, 0, None, safe=True), (hours, second)
            else:
                moment_s, since_s = begin_s + second, second - first
                assert state == wanted(to, moment_s, since_s), (hours, second)
        faults = [text for _, text in ran.other if not text.startswith("pulses")]
        assert not faults


@pytest.mark.slow
@pytest.mark.parametrize(
    ("to", "begin", "hours"), [(AVR, 18.5, 6), (PYTHON, 0, 24)], ids=["atmega328p", "rp2040"]
)
def test_many_hours_are_those_of_the_reference(
    to: Wiring, begin: float, hours: int, bench: Bench
) -> None:
    """A whole day in MicroPython; in the slow simulator of the other its dusk and its midnight."""
    begin_s, seconds = at(begin), 3600 * hours
    ran = bench.program(to)(begin_s, seconds)
    for second, state in enumerate(ran.seconds(seconds)):
        if second >= CONFIRMED_S:
            assert state == wanted(to, begin_s + second, second - CONFIRMED_S), second


@NAMED
def test_relays_open_before_a_level_changes_and_close_after(to: Wiring, bench: Bench) -> None:
    """As pins.h has it: 50 ms after a relay has opened, 200 ms before one closes."""
    opened = closed = 0
    for hours in WINDOWS:
        changes = bench.window(to, hours).changes
        for which in (0, 1):
            code_s = relay_s = -1.0
            for (_, before), (when, state) in itertools.pairwise(changes):
                if state.codes[which] != before.codes[which]:
                    assert when - relay_s > 0.0499 or state.relays[which] or relay_s < 0
                    code_s = when
                if state.relays[which] and not before.relays[which]:
                    assert when - code_s > 0.1999
                    closed += 1
                if before.relays[which] and not state.relays[which]:
                    assert code_s < when
                    relay_s = when
                    opened += 1
    assert opened >= 3 and closed >= 3


@NAMED
def test_relays_are_dark_before_anything_else(to: Wiring, bench: Bench) -> None:
    ran = bench.program(to)(at(12.5), 1)
    assert ran.changes[0][1] == State((0, 0), (False, False))
    if to.is_c:
        assert ran.changes[0][0] < 1e-3
    first_safe = next(when for when, state in ran.changes if state.relays[1])
    assert first_safe >= 0.2  # the safe state of one channel is lit: its relay closes last


@NAMED
def test_a_clock_that_is_silent_is_bridged_and_then_not_trusted(to: Wiring, bench: Bench) -> None:
    begin_s = at(13)
    safe = wanted(to, 0, None, safe=True)
    states = bench.program(to)(begin_s, 60, "5:silent", "12:answers").seconds(60)
    for second in range(CONFIRMED_S, 60):
        assert states[second] == wanted(to, begin_s + second, second - CONFIRMED_S)
    states = bench.program(to)(begin_s, 60, "5:silent", "25:answers").seconds(60)
    assert states[15] == wanted(to, begin_s + 15, 15 - CONFIRMED_S)  # readings 6 to 15 are bridged
    assert states[16] == safe == states[26]
    for second in range(27, 60):  # readings 26 and 27 agree
        assert states[second] == wanted(to, begin_s + second, second - 27)


@pytest.mark.parametrize("event", ["stopped", "12-hours"])
@pytest.mark.parametrize("time", ["ds3231", "pcf8523"])
@pytest.mark.parametrize("board", ["atmega328p", "rp2040"])
def test_a_chip_that_does_not_know_the_time_is_not_trusted_until_it_is_set(
    board: str, time: str, event: str, bench: Bench
) -> None:
    to = wiring(board, time, "mcp4728")
    begin_s = at(13, DAY - 400)
    ran = bench.program(to)(
        begin_s, 60, f"0:{event}", "20:type=set 2027-03-28 13:60:00/",
        "24:type=nonsense/", "30:type=set 2027-03-28 14:00:00/",
    )  # fmt: skip
    states, safe = ran.seconds(60), wanted(to, 0, None, safe=True)
    assert states[2:31] == [safe] * 29
    said = [text for _, text in ran.texts if "set" in text]
    assert said == ["not set; write: set 2027-03-02 12:00:00"] * 2 + ["the clock is set"]
    (set_s,) = [when for when, text in ran.texts if text == "the clock is set"]
    first = int(set_s) + 2  # the next reading and the one that confirms it
    for second in range(first + 1, 60):
        since_s = second - first
        shown = [wanted(to, at(14) + second - int(set_s) + drift, since_s) for drift in (-1, 0, 1)]
        assert states[second] in shown, second
    # Of the PCF8523: its battery is used from now on, and what its crystal needs stays.
    chip = [text for _, text in ran.other if text.startswith("chip")]
    assert chip == (["chip 80 00"] if time == "pcf8523" else [])


@NAMED
def test_a_disturbed_reading_moves_nothing(to: Wiring, bench: Bench) -> None:
    begin_s = at(9)
    states = bench.program(to)(begin_s, 40, "20:glitch", "21:calm").seconds(40)
    for second in range(CONFIRMED_S, 40):
        assert states[second] == wanted(to, begin_s + second, second - CONFIRMED_S)


@NAMED
@pytest.mark.parametrize("by_s, rises_softly", [(7200, True), (-7200, True), (60, False)])
def test_a_clock_that_was_set(to: Wiring, by_s: int, rises_softly: bool, bench: Bench) -> None:
    begin_s = at(13)
    states = bench.program(to)(begin_s, 150, f"80:jump={by_s}").seconds(150)
    assert states[81] == wanted(to, begin_s + 81, None)  # one reading is not believed
    for second in range(82, 150):
        since_s = second - 82 if rises_softly else None
        assert states[second] == wanted(to, begin_s + by_s + second, since_s), second


@NAMED
def test_a_converter_that_is_silent_is_borne_for_ten_seconds(to: Wiring, bench: Bench) -> None:
    begin_s = at(13)

    def lit(second: int) -> State:
        return wanted(to, begin_s + second, None)

    program = bench.program(to)
    states = program(begin_s, 110, "80:converter-silent", "90:converter-answers").seconds(110)
    for second in (*range(70, 81), *range(91, 110)):
        assert states[second] == lit(second), second
    ran = program(begin_s, 140, "80:converter-silent", "100:converter-answers")
    states = ran.seconds(140)
    assert [state.relays for state in states[81:91]] == [(True, True)] * 10
    assert [state.relays for state in states[91:102]] == [(False, False)] * 11
    assert any("its converter does not answer" in text for _, text in ran.texts)
    # It answers in second 101; the relays close a second later, from the floor.
    for second in range(102, 140):
        assert states[second] == wanted(to, begin_s + second, second - 102), second


@NAMED
def test_a_person_stops_the_lamps(to: Wiring, bench: Bench) -> None:
    pins = STOP_SWITCH_C if to.is_c else STOP_SWITCH_PYTHON
    begin_s = at(13)
    states = bench.program(to, pins)(
        begin_s, 60, "0:switch-closed", "20:switch-open", "30:switch-closed"
    ).seconds(60)
    safe = wanted(to, 0, None, safe=True)
    assert states[20] == wanted(to, begin_s + 20, 20 - CONFIRMED_S)
    assert states[21:31] == [safe] * 10
    for second in range(31, 60):
        assert states[second] == wanted(to, begin_s + second, second - 31), second


@NAMED
def test_a_watchdog_that_is_not_reset_opens_the_relays(to: Wiring, bench: Bench) -> None:
    main = (("        wdt_reset();\n", ""),) if to.is_c else (("watchdog.feed()", "pass"),)
    ran = bench.program(to, (), main)(at(13), 20)
    if to.is_c:  # a reset makes inputs of all pins; then the program begins anew
        restarts = [when for when, state in ran.changes if state.relays == (False, False)]
        assert any(7 < when < 9.5 for when in restarts)
        assert sum("no clock" in text for _, text in ran.texts) >= 2
    else:
        assert ran.other == [(pytest.approx(8.0, abs=1.1), "bitten ")]


@NAMED
def test_two_channels_on_one_pin_play_nothing(to: Wiring, bench: Bench) -> None:
    pins = (("PIN(D, 5)", "PIN(D, 4)"),) if to.is_c else (('"moon": 11', '"moon": 10'),)
    ran = bench.program(to, pins)(at(13), 8)
    assert {state for _, state in ran.changes} == {State((0, 0), (False, False))}
    told = [text for _, text in [*ran.texts, *ran.other] if "two channels have one pin" in text]
    assert len(told) == 1


@NAMED
def test_relays_that_a_low_pin_closes(to: Wiring, bench: Bench) -> None:
    old = "RELAY_CLOSED 1" if to.is_c else "RELAY_CLOSED = 1"
    low = bench.program(to, ((old, old[:-1] + "0"),))
    begin_s = at(12) - 20
    for second, state in enumerate(low(begin_s, 45).seconds(45)):
        if second >= CONFIRMED_S:
            due = wanted(to, begin_s + second, second - CONFIRMED_S)
            is_high = tuple(not closed for closed in due.relays)
            assert (state.codes, state.relays) == (due.codes, is_high), second


@pytest.mark.parametrize("levels", ["pwm", "mcp4725", "mcp4728"])
def test_flash_and_memory_of_an_atmega328p(levels: str, tmp_path: Path) -> None:
    """docs/sketch.md: some 8 KB beside the tables. Wide tables need the most."""
    to = wiring("atmega328p", "pcf8523", levels)
    for name, made in (("narrow", table(bits_of(levels))), ("wide", wide(bits_of(levels)))):
        folder = tmp_path / name
        folder.mkdir()
        put(folder, to, made=made)
        printed = run([tool("avr-size"), built_avr(folder)]).decode().splitlines()[1].split()
        text_bytes, data_bytes, bss_bytes = (int(word) for word in printed[:3])
        beside = text_bytes + data_bytes - len(encode(made))
        assert 7000 < beside <= (8_000 if name == "narrow" else 9_700), name
        assert data_bytes + bss_bytes < 100


def test_other_beats_of_the_clock(tmp_path: Path) -> None:
    put(tmp_path, AVR)
    for hertz in (8_000_000, 20_000_000):
        command = [tool("avr-gcc"), "-mmcu=atmega328p", f"-DF_CPU={hertz}UL", "-std=c99", "-Os"]
        command += [*WARNINGS, "main.c", "-o", "other.elf"]
        if hertz == 8_000_000:
            run(command, cwd=tmp_path)
        else:
            with pytest.raises(AssertionError, match="F_CPU must be 16000000UL or 8000000UL"):
                run(command, cwd=tmp_path)


def test_a_damaged_table_plays_nothing(tmp_path: Path, bench: Bench) -> None:
    put(tmp_path, AVR)
    header = tmp_path / "photoperiod.h"
    text = header.read_text(encoding="utf-8")
    begin, _, rest = text.partition("photoperiod_image[] PHOTOPERIOD_KEPT = {")
    rest = re.sub(r"0x0A, 0x00, 0x64", "0x0A, 0x00, 0x65", rest, count=1)
    assert "0x50, 0x48, 0x54, 0x50" in rest
    rest = rest.replace("0x10,", "0x11,", 1)
    header.write_text(f"{begin}photoperiod_image[] PHOTOPERIOD_KEPT = {{{rest}", encoding="utf-8")
    ran = on_avr(built_avr(tmp_path), bench.board, AVR, at(13), 6)
    assert {state for _, state in ran.changes} == {State((0, 0), (False, False))}
    assert ran.texts[0][1] == "the table is damaged: it is not played"


def test_an_update_leaves_the_lamps_off_without_a_watchdog(tmp_path: Path) -> None:
    put(tmp_path, PYTHON)
    ran = on_world(tmp_path, PYTHON, at(13), 60, "20:type=update/")
    assert ran.changes[-1][1] == State((0, 0), (False, False))
    assert ran.other == [(pytest.approx(20.4, abs=0.1), "reset ")]
    ran = on_world(tmp_path, PYTHON, at(13), 60)
    assert [text for _, text in ran.texts] == [
        "lamps off, no watchdog: copy your files, then start the board again"
    ]
    assert ran.other == [(pytest.approx(0.05), "ended ")]
    ran = on_world(tmp_path, PYTHON, at(13), 60)
    assert ran.at(50).relays == (True, True)


#: What may happen in any second, and what ends it.
FAULTS = {
    "silent": "answers",
    "glitch": "calm",
    "converter-silent": "converter-answers",
    "switch-open": "switch-closed",
    "stopped": "type=set 2027-03-28 14:00:00/",
    "12-hours": "type=set 2027-03-28 21:00:00/",
    "jump=7200": "jump=-3600",
    "jump=2": "jump=-2",
    "jump=-400": "jump=90000",
}


def disturbed(seed: int, seconds: int) -> list[str]:
    """Return events at random: each fault lasts for a second up to half a minute, and several overlap."""
    draw = random.Random(seed)
    events = [(0, "switch-closed")]
    at_s = 5
    while at_s < seconds - 10:
        fault = draw.choice(sorted(FAULTS))
        lasts_s = draw.choice((1, 2, 5, 9, 10, 11, 12, 30))
        events += [(at_s, fault), (at_s + lasts_s, FAULTS[fault])]
        at_s += draw.choice((1, 3, 15, 40))
    kept = {}
    for second, what in events:  # a keeper types one line at a time
        kept.setdefault((second, "type" if what.startswith("type=") else what), (second, what))
    return [
        f"{second}:{what}" for second, what in sorted(kept.values(), key=lambda event: event[0])
    ]


@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(s, marks=pytest.mark.slow) for s in range(2, 16))]
)
def test_two_boards_that_are_written_apart_do_the_same(seed: int, bench: Bench) -> None:
    """The sketch in C on an ATmega328P and the one in MicroPython, each with a world of its own."""
    seconds, events = 300, disturbed(seed, 300)
    begin_s = at(random.Random(-seed).choice((6, 8, 11.99, 13, 20.98, 23.99)))
    time = ("ds3231", "pcf8523")[seed % 2]
    found = []
    for board in ("atmega328p", "rp2040"):
        to = wiring(board, time, "mcp4728")
        pins = STOP_SWITCH_C if to.is_c else STOP_SWITCH_PYTHON
        found.append(bench.program(to, pins)(begin_s, seconds, *events))
    in_c, in_python = (ran.seconds(seconds) for ran in found)
    for second in range(CONFIRMED_S, seconds):
        assert in_c[second] == in_python[second], (second, events)
    assert len(set(in_c)) > 20
    for ran in found:
        assert not [text for _, text in ran.other if not text.startswith("chip")]
        for (_, before), (_, state) in itertools.pairwise(ran.changes):
            for which in (0, 1):  # never lit at once at more than the floor of a soft start allows
                if state.relays[which] and not before.relays[which]:
                    assert state.codes[which] <= (614, 736)[which] or not before.relays[which]


class TestNetwork:
    TO = wiring("esp32", "network", "pwm")

    def test_without_an_answer_the_safe_state_applies(self, bench: Bench) -> None:
        safe = wanted(self.TO, 0, None, safe=True)
        for event in ("net-away", "glitch", "stopped"):
            ran = bench.program(self.TO)(at(13), 60, f"0:{event}")
            assert ran.seconds(60)[14:] == [safe] * 46, event

    def test_a_network_that_is_lost_for_hours_changes_nothing(self, bench: Bench) -> None:
        begin_s = at(13)
        states = bench.program(self.TO)(begin_s, 7300, "100:net-away", "7000:net-back").seconds(
            7300
        )
        for second in range(100, 7300):
            assert states[second] == wanted(self.TO, begin_s + second, None)

    def test_it_is_never_asked_where_it_may_wait(self, bench: Bench) -> None:
        """The world refuses to look up a name while the watchdog runs; here it would have to."""
        ran = bench.program(self.TO)(at(13), 3000, "0:net-away", "40:net-back")
        assert not [text for _, text in ran.other if "raised" in text or "bitten" in text]
        assert ran.at(2999) == wanted(self.TO, at(13) + 2999, None)
