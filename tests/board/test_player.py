"""What a player does through a day and through everything that goes wrong, in made-up time."""

from __future__ import annotations

import errno
import json
import os
import signal
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from photoperiod.board.state_store import Remembered, State
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.table import read_table
from photoperiod.player.reference import play_day
from tests.board.bench import BOARD, HOUR, IIO, MIDNIGHT, Bench, FakeBroker, code, table
from tests.conftest import Run

#: From 09:00 to 21:00 at a steady 80 %, with an hour's ramps; dark by the relay.
DAY = table((9 * HOUR, 10), (10 * HOUR, 80), (20 * HOUR, 80), (21 * HOUR, 0, "off"))

#: 80 % day and night.
STEADY = table((0, 80))

#: Floor of the ballast, 1.0 V: where a soft start begins.
FLOOR = 10

#: How long a soft start takes from the floor to the top, 30 min. [s]
SOFT_S = 1800


def soft(seconds: float) -> int:
    """Return the most that a soft start allows so long after it began, by rule 6 of docs/player.md."""
    return FLOOR + 90 * int(seconds) // SOFT_S


def test_a_day_is_what_the_player_says_and_compare_agrees(tmp_path: Path, run: Run) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT, stop_s=86_400)
    held = read_table("t", DAY)
    counts, relays = play_day(held.image, 0)
    codes = held.paths["blue"].codes
    wrong = []

    def look(minute: int) -> None:
        second = minute * 60
        wanted = int(codes[counts[0, second]]), bool(relays[0, second])
        if (bench.code, bench.relay) != wanted:
            wrong.append((minute, wanted, bench.code, bench.relay))

    for minute in range(1440):
        bench.world.at(minute * 60 + 1, lambda minute=minute: look(minute))
    began = time.process_time()
    assert bench.run() == 0
    assert time.process_time() - began < 3.0
    assert wrong == []
    assert bench.events() == ["start", "stop"]
    (log,) = [p for p in (tmp_path / "log").iterdir() if "03-02" in p.name]
    exit_code, out, err = run("compare", bench.table, log)
    assert exit_code == 0, out + err
    assert "start" in out


def test_a_player_writes_changes_only_and_wakes_at_whole_seconds(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 12 * HOUR + 0.4, stop_s=HOUR)
    bench.light(code(80))
    bench.run()
    raws = [text for name, text in bench.kernel.writes if name.endswith("_raw")]
    assert raws == [str(code(80)), "0"]  # the beginning and the safe state of the end
    assert bench.world.waits[0] == pytest.approx(9.6, abs=1e-6)
    assert bench.world.waits[1] == pytest.approx(10, abs=1e-6)


def test_every_second_is_a_step_where_outputs_move_every_second(tmp_path: Path) -> None:
    ramp = table((0, 0), (43_200, 100), every_seconds=1)
    bench = Bench(tmp_path, ramp, unix=MIDNIGHT + 6 * HOUR, stop_s=60)
    bench.run()
    assert set(bench.world.waits) == {1.0}


# ---- beginning


def test_power_back_at_midday_rises_softly(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    seen = bench.watch([1, 301, 601, 1301, 1401])
    assert seen == [(code(min(soft(s - s % 10), 80)), True) for s in (1, 301, 601, 1301, 1401)]
    assert seen[-1] == (code(80), True)


def test_a_player_goes_on_from_the_light_that_is_there(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    assert bench.watch([1]) == [(code(80), True)]


def test_it_goes_on_softly_from_less_light(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(40))
    seen = bench.watch([1, 301])
    # 40 % is allowed 600 s after a beginning from the dark: 10 + 90 · 600 / 1800
    assert seen == [(code(40), True), (code(soft(900)), True)]


def test_an_open_relay_is_no_light(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80), relay=False)
    assert bench.watch([1]) == [(code(FLOOR), True)]


def test_more_light_than_planned_goes_at_once(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(100))
    assert bench.watch([1]) == [(code(80), True)]


def test_without_a_soft_start_in_the_table_there_is_none(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), soft_minutes=0))
    assert bench.watch([1]) == [(code(80), True)]


@pytest.mark.parametrize(
    ("boot_id", "ago_s", "count"),
    [("this start", 200, 80), ("this start", 400, FLOOR), ("another", 200, FLOOR)],
    ids=["recent", "long ago", "before the power went"],
)
def test_what_cannot_be_read_back_is_remembered_for_minutes(
    tmp_path: Path, boot_id: str, ago_s: float, count: int
) -> None:
    text = BOARD.replace('{kind: iio, device: "iio:device0", channel: 0}', "{kind: mqtt}")
    text += "broker: {host: h, topic: reef}\n"
    bench = Bench(tmp_path, STEADY, text, boot=1000.0)
    bench.kernel.held["class/leds/relay-blue/brightness"] = "255"
    bench.broker = FakeBroker()
    bench.keep.make()
    bench.keep.write_state(
        State(boot_id=boot_id, boot_s=1000.0 - ago_s, unix_s=bench.world.unix - ago_s,
              is_trusted=True, outputs={"blue": Remembered(code(80), True)})
    )  # fmt: skip
    bench.run()
    first = json.loads(next(text for topic, text in bench.broker.said if topic.endswith("level")))
    assert first["count"] == count


# ---- the order of relay and converter


def test_a_relay_closes_after_and_opens_before_its_converter(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 8.9 * HOUR, stop_s=13 * HOUR)
    bench.run()
    names = [(name.rsplit("/", 1)[-1], text) for name, text in bench.kernel.writes]
    closes = names.index(("brightness", "255"))
    assert names[closes - 1] == ("out_voltage0_raw", str(code(10)))
    opens = names.index(("brightness", "0"), closes)
    assert names[opens + 1] == ("out_voltage0_raw", "0")
    # the table's last lit level stands until the relay is open
    assert names[opens - 1][0] == "out_voltage0_raw" and int(names[opens - 1][1]) > 0


def test_a_lamp_is_not_switched_on_at_an_unknown_level(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 8.9 * HOUR)
    bench.world.at(60, lambda: bench.kernel.gone.add(IIO))
    assert bench.watch([59, 2 * HOUR]) == [(code(10), False), (code(10), False)]


def test_a_lamp_goes_dark_by_its_relay_without_its_converter(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 20 * HOUR)
    bench.light(code(80))
    bench.world.at(60, lambda: bench.kernel.gone.add(IIO))
    (_, before), (_, after) = bench.watch([HOUR - 1, HOUR + 1])
    assert before and not after


# ---- the clock


@pytest.mark.parametrize("counts", [(0, "off"), (20, "on")], ids=["dark", "dim"])
def test_the_safe_state_holds_until_the_clock_is_trusted(
    tmp_path: Path, counts: tuple[int, str]
) -> None:
    bench = Bench(tmp_path, table((0, 80), safe=counts), synchronised=False)
    bench.light(code(80))

    def synchronise() -> None:
        bench.world.synchronised = True

    bench.world.at(100, synchronise)
    first, second, later = bench.watch([1, 111, 900])
    assert first == (code(counts[0]), counts[1] == "on")
    assert second == (code(max(FLOOR, counts[0])), True)
    assert code(counts[0]) < later[0] < code(80)
    assert bench.events() == ["start", "safe", "resumed", "stop"]
    told = [text for text in bench.said if "clock" in text]
    assert [text.split(":")[0] for text in told] == ["alarm", "alarm over"]
    assert "the system has not synchronised it" in told[0]


def test_records_begin_when_the_clock_is_right(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, unix=5000.0, synchronised=False, stop_s=200)

    def synchronise() -> None:
        bench.world.synchronised = True
        bench.world.unix = MIDNIGHT + 12 * HOUR

    bench.world.at(100, synchronise)
    bench.run()
    records = bench.records()
    assert [r[-1] for r in records if r[-1]] == ["start", "safe", "clock-step", "resumed", "stop"]
    # The start was 100 s before the clock was set, and is told by the right clock.
    assert records[0][0] == "2027-03-02T11:58:20Z"
    assert {r[0][:10] for r in records} == {"2027-03-02"}


def test_a_start_of_the_same_machine_needs_no_network(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.run()
    again = Bench(tmp_path, STEADY, unix=bench.world.unix + 5, boot=bench.world.boot + 5,
                  synchronised=False)  # fmt: skip
    assert again.watch([1])[0] == (code(FLOOR), True)
    other = Bench(tmp_path, STEADY, unix=again.world.unix + 60, boot=20.0, boot_id="another start",
                  synchronised=False)  # fmt: skip
    assert other.watch([1])[0] == (0, False)


@pytest.mark.parametrize("by_s", [-2 * HOUR, 3 * HOUR], ids=["back", "forward"])
def test_a_step_of_the_clock_makes_no_flash(tmp_path: Path, by_s: float) -> None:
    """Either way the table then wants 80 % where 25 % were given."""
    at = 9 if by_s > 0 else 12
    rows = table((0, 80), (8 * HOUR, 80), (9 * HOUR, 25), (10 * HOUR, 25), (11 * HOUR, 80)) \
        if by_s > 0 else table((0, 80), (11 * HOUR, 80), (12 * HOUR, 25), (13 * HOUR, 25))  # fmt: skip
    bench = Bench(tmp_path, rows, unix=MIDNIGHT + at * HOUR)
    bench.light(code(25))

    def step() -> None:
        bench.world.unix += by_s

    bench.world.at(101, step)
    seen = bench.watch([100, 112, 412, 2 * HOUR if by_s > 0 else HOUR])
    assert seen[0] == (code(25), True)
    assert seen[1] == (code(25), True)
    assert seen[2] == (code(soft(300 + 300)), True)  # 25 % is allowed after 300 s
    assert seen[3] == (code(80), True)
    assert "clock-step" in bench.events()
    assert any("stepped by" in text for text in bench.said)


def test_a_step_in_the_dark_leaves_the_dawn_alone(tmp_path: Path) -> None:
    dawn = table((0, 0, "off"), (9 * HOUR, 80), between="hold")
    bench = Bench(tmp_path, dawn, unix=MIDNIGHT + 8 * HOUR)
    bench.world.at(55 * 60, lambda: setattr(bench.world, "unix", bench.world.unix + 30))
    # 09:00 comes 30 s early; a soft start from the step on would allow less than 40 % by then.
    assert bench.watch([59 * 60 + 20, 59 * 60 + 41]) == [(0, False), (code(80), True)]


def test_a_wrong_time_does_not_take_the_place_of_the_last_right_one(tmp_path: Path) -> None:
    """Or the next start would believe a clock that is behind."""
    right = State(boot_id="before", boot_s=9.0, unix_s=MIDNIGHT + 11 * HOUR, is_trusted=True)
    bench = Bench(tmp_path, STEADY, unix=MIDNIGHT + 2 * HOUR, synchronised=False, stop_s=1300)
    bench.keep.make()
    bench.keep.write_state(right)
    assert bench.watch([700]) == [(0, False)]
    assert bench.keep.read_state() == right
    assert "before the last moment in the state file" in bench.said[0]


def test_a_clock_that_loses_its_time_is_not_believed_any_more(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))

    def lose() -> None:
        bench.world.unix = 0.0

    bench.world.at(50, lose)
    assert bench.watch([49, 70]) == [(code(80), True), (0, False)]


def test_a_slewed_clock_is_no_step(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=600)
    for second in range(0, 600, 10):
        bench.world.at(second, lambda: setattr(bench.world, "unix", bench.world.unix + 1.0))
    bench.run()
    assert "clock-step" not in bench.events()


def test_a_machine_that_slept_wakes_softly(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 9 * HOUR)
    bench.light(code(10))
    bench.world.at(20, lambda: bench.world.pass_s(3 * HOUR))
    seen = bench.watch([10, 3 * HOUR + 40])
    assert seen[0] == (code(10), True)
    assert seen[1][0] < code(13) and seen[1][1]
    assert "clock-step" not in bench.events()


# ---- tables


def test_a_new_table_is_taken_up_without_a_gap(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.world.at(25, lambda: bench.put_table(table((0, 70)), MIDNIGHT))
    assert bench.watch([24, 51]) == [(code(80), True), (code(70), True)]
    assert "0" not in [t for n, t in bench.kernel.writes if n.endswith("_raw")][:-1]
    assert bench.events() == ["start", "reload", "stop"]
    assert bench.keep.good_table.read_bytes() == table((0, 70))


def test_a_brighter_table_comes_softly(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 40)))
    bench.light(code(40))
    bench.world.at(25, lambda: bench.put_table(STEADY, MIDNIGHT))
    seen = bench.watch([50, 341])
    assert seen[0][0] < code(43)
    assert code(50) < seen[1][0] < code(60)


def test_a_table_that_is_just_being_copied_is_not_read(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), every_seconds=1), stop_s=30)
    bench.light(code(80))
    raw = table((0, 70), every_seconds=1)
    for second in range(1, 20):
        size = len(raw) * second // 20
        bench.world.at(
            second - 0.5,
            lambda size=size, second=second: bench.put_table(raw[:size], MIDNIGHT + second),
        )
    bench.world.at(19.7, lambda: bench.put_table(raw, MIDNIGHT + 30))
    assert bench.watch([19, 22.5]) == [(code(80), True), (code(70), True)]
    assert bench.events() == ["start", "reload", "stop"]


def broken(raw: bytes) -> dict[str, bytes]:
    return {
        "empty": b"",
        "cut off": raw[: len(raw) // 2],
        "edited": raw.replace(b'"count": 70', b'"count": 99'),
        "another version": table((0, 70), change=lambda data: data.update(version=2)),
        "for other channels": table((0, 70), channels=("blue", "white")),
        "of no zone": table((0, 70), clock="standard"),
    }


@pytest.mark.parametrize("how", list(broken(b"")))
def test_a_table_that_cannot_be_played_is_refused(tmp_path: Path, how: str) -> None:
    raw = table((0, 70))
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.world.at(25, lambda: bench.put_table(broken(raw)[how], MIDNIGHT))
    bench.world.at(61, lambda: bench.put_table(raw, MIDNIGHT + 99))
    assert bench.watch([60, 91]) == [(code(80), True), (code(70), True)]
    assert bench.events() == ["start", "refused", "reload", "stop"]
    alarm = next(text for text in bench.said if text.startswith("alarm: PHO50"))
    assert "the last good table goes on" in alarm
    assert any(text.startswith("alarm over: PHO50") for text in bench.said)


def finer_table() -> bytes:
    def finer(data: dict[str, Any]) -> None:
        data["controller"]["converter"] |= {
            "bits": 14,
            "volts_per_code": 10 / 2**14,
            "full_code": 2**14 - 1,
        }

    return table((0, 80), change=finer)


def test_a_table_for_another_converter_is_refused(tmp_path: Path) -> None:
    text = BOARD.replace("channel: 0}", "channel: 0, gain: 2.44140625}")
    bench = Bench(tmp_path, STEADY, text)
    bench.kernel.held[f"{IIO}/out_voltage0_scale"] = "1.0"  # 12 bits of 4.096 V
    bench.light(code(80))
    bench.world.at(25, lambda: bench.put_table(finer_table(), MIDNIGHT))
    assert bench.watch([60]) == [(code(80), True)]
    assert any("by the table's converter" in text for text in bench.said)
    assert bench.events() == ["start", "refused", "stop"]


def test_a_finer_table_keeps_the_duty(tmp_path: Path) -> None:
    text = BOARD.replace('{kind: iio, device: "iio:device0", channel: 0}',
                         "{kind: pwm, chip: 0, channel: 0, period_ns: 1000000}")  # fmt: skip
    bench = Bench(tmp_path, STEADY, text)
    bench.kernel.add_pwm()
    duty = "class/pwm/pwmchip0/pwm0/duty_cycle"
    bench.kernel.write("class/pwm/pwmchip0/export", "0")
    bench.kernel.held |= {duty: "800000", "class/pwm/pwmchip0/pwm0/period": "1000000",
                          "class/pwm/pwmchip0/pwm0/enable": "1",
                          "class/leds/relay-blue/brightness": "255"}  # fmt: skip
    bench.world.at(25, lambda: bench.put_table(finer_table(), MIDNIGHT))
    seen: list[str] = []
    for second in (10, 60):
        bench.world.at(second, lambda: seen.append(bench.kernel.held[duty]))
    bench.world.stop_s = 70
    bench.run()
    assert [round(int(text) / 10_000) for text in seen] == [80, 80]
    assert bench.events() == ["start", "reload", "stop"]


def test_a_table_that_is_gone_goes_on(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.world.at(25, lambda: bench.table.rename(tmp_path / "away"))
    bench.world.at(61, lambda: (tmp_path / "away").rename(bench.table))
    assert bench.watch([60, 91]) == [(code(80), True), (code(80), True)]
    assert bench.events() == ["start", "refused", "stop"]
    assert any("is not there" in text for text in bench.said if text.startswith("alarm over"))


def test_sighup_reads_the_table_at_once(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.world.at(20.5, lambda: bench.put_table(table((0, 70)), MIDNIGHT))
    bench.world.at(20.6, lambda: signal.SIGHUP)
    assert bench.watch([20.7]) == [(code(70), True)]


def test_past_its_dates_a_table_goes_on_with_an_alarm(tmp_path: Path) -> None:
    dated = table((0, 80), dates=("2027-03-01", "2027-03-02"))
    bench = Bench(tmp_path, dated, unix=MIDNIGHT + 86_400 - 100)
    bench.light(code(80))
    assert bench.watch([99, 111]) == [(code(80), True)] * 2
    assert bench.events() == ["start", "expired", "stop"]


def test_before_its_dates_the_first_table_is_played_with_an_alarm(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), dates=("2027-03-03", "2027-03-04")))
    bench.light(code(80))
    assert bench.watch([1]) == [(code(80), True)]
    assert bench.events() == ["start", "early", "stop"]


# ---- hold, stop


def test_a_hold_keeps_the_lamps_off_through_restart_and_reload(tmp_path: Path) -> None:
    # The safe state gives light here; whoever holds the lamps wants none.
    lit = table((0, 80), safe=(20, "on"))
    bench = Bench(tmp_path, lit)
    bench.light(code(80))
    bench.world.at(25, lambda: bench.keep.hold("test"))
    bench.world.at(45, lambda: bench.put_table(table((0, 70), safe=(20, "on")), MIDNIGHT))
    seen = bench.watch([24, 31, 80])
    assert seen[0] == (code(80), True)
    assert [relay for _, relay in seen[1:]] == [False, False]
    assert bench.relay is False  # after the stop too
    again = Bench(tmp_path, lit, unix=bench.world.unix + 60, boot=20.0, boot_id="another start")
    again.world.at(100, again.keep.release)
    seen = again.watch([1, 99, 111, 711])
    assert [relay for _, relay in seen] == [False, False, True, True]
    assert seen[2][0] == code(FLOOR) and seen[3][0] == code(soft(600))
    assert again.events()[-4:] == ["start", "hold", "release", "stop"]


def test_after_a_hold_lamps_rise_softly(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.world.at(25, lambda: bench.keep.hold("test"))
    bench.world.at(65, bench.keep.release)
    assert bench.watch([24, 64, 71]) == [(code(80), True), (0, False), (code(FLOOR), True)]


def test_a_hold_outlives_its_folder(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.keep.hold("test")
    bench.world.at(20, lambda: (tmp_path / "state").rename(tmp_path / "gone"))
    assert bench.watch([10, 60]) == [(0, False), (0, False)]


def test_a_stop_sets_the_safe_state(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), safe=(20, "on")))
    bench.light(code(80))
    bench.world.at(5, lambda: signal.SIGTERM)
    assert bench.run() == 0
    assert (bench.code, bench.relay) == (code(20), True)
    assert bench.events() == ["start", "stop"]
    interrupted = Bench(tmp_path, STEADY)
    interrupted.world.at(5, lambda: signal.SIGINT)
    assert interrupted.run() == 130
    assert interrupted.relay is False


# ---- devices and disks


TWO = (
    BOARD
    + """\
  white:
    output: {kind: iio, device: "iio:device1", channel: 0}
    relay: {kind: led, name: relay-white}
"""
)


def test_a_lost_device_comes_back_softly_and_others_go_on(tmp_path: Path) -> None:
    raw = table((0, 80), (12 * HOUR, 80), (18 * HOUR, 20), channels=("blue", "white"))
    bench = Bench(tmp_path, raw, TWO)
    other = "bus/iio/devices/iio:device1"
    bench.kernel.add_converter(device=other).add_led("relay-white")
    bench.light(code(80))
    bench.kernel.held |= {f"{other}/out_voltage0_raw": str(code(80)),
                          "class/leds/relay-white/brightness": "255"}  # fmt: skip
    white: list[int] = []

    def plug_in() -> None:
        bench.kernel.gone.clear()
        bench.kernel.held[f"{other}/out_voltage0_raw"] = "0"

    bench.world.at(105, lambda: bench.kernel.gone.add(other))
    bench.world.at(3 * HOUR, plug_in)
    bench.world.at(
        3 * HOUR + 21, lambda: white.append(int(bench.kernel.held[f"{other}/out_voltage0_raw"]))
    )
    seen = bench.watch([3 * HOUR - 1, 4 * HOUR])
    assert seen[0] == (code(50), True)  # half-way down
    assert 0 < white[0] <= code(12)
    assert int(bench.kernel.held[f"{other}/out_voltage0_raw"]) == 0  # stopped
    assert bench.events() == ["start", "device-lost", "device-back", "stop"]
    assert any(text.startswith("alarm: PHO507: the output of 'white'") for text in bench.said)
    lost = [r for r in bench.records() if r[1] == "white" and "12:30" < r[0][11:16] < "14:30"]
    assert lost == []  # what a lost device gives is not known


def test_a_vanished_device_is_noticed_though_nothing_is_to_be_set(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=120)
    bench.light(code(80))
    bench.world.at(10, lambda: bench.kernel.gone.add("class/leds/relay-blue"))
    bench.run()
    assert bench.events() == ["start", "device-lost", "stop"]


def test_a_bus_that_hangs_is_one_alarm(tmp_path: Path) -> None:
    """The file stays there, and every write fails: that is told once, not every few seconds."""
    bench = Bench(tmp_path, table((0, 0), (86_399, 99), every_seconds=1), stop_s=4000)
    bench.light(code(49))
    really = bench.kernel.write

    def hang(name: str, text: str) -> None:
        if name.startswith(IIO):
            raise OSError(121, "Remote I/O error", name)
        really(name, text)

    bench.world.at(100, lambda: setattr(bench.kernel, "write", hang))
    bench.world.at(3000, lambda: setattr(bench.kernel, "write", really))
    bench.run()
    assert bench.events() == ["start", "device-lost", "device-back", "stop"]
    assert len([text for text in bench.said if "PHO507" in text]) == 2


def test_a_device_may_come_late(tmp_path: Path) -> None:
    """A module of the kernel that is loaded after the player began, for example."""
    bench = Bench(tmp_path, STEADY)
    bench.kernel.gone.add(IIO)
    bench.world.at(30, bench.kernel.gone.clear)
    assert bench.watch([29, 51]) == [(0, False), (code(FLOOR), True)]
    assert bench.said[0].startswith(
        "alarm: PHO507: the output of 'blue' (iio:device0 channel 0) is lost"
    )


def test_a_device_that_is_another_ends_the_player(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, BOARD.replace("channel: 0}", "channel: 0, gain: 2.5}"))
    bench.kernel.held[f"{IIO}/out_voltage0_scale"] = "0.25"
    with pytest.raises(OutsideWorldError, match="by the table's converter") as caught:
        bench.begin()
    assert caught.value.code == "PHO507"
    assert bench.kernel.writes == []


def test_a_full_disk_costs_records_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench(tmp_path, table((0, 80), (86_399, 0), every_seconds=1), stop_s=400)
    bench.light(code(40))
    really = os.write

    def full(target: int, data: bytes) -> int:
        if b"2027" in data:
            raise OSError(28, "No space left on device")
        return really(target, data)

    bench.world.at(100, lambda: monkeypatch.setattr(os, "write", full))
    bench.world.at(110, lambda: bench.keep.hold("while the disk is full"))
    bench.world.at(150, bench.keep.release)
    bench.world.at(300, lambda: monkeypatch.setattr(os, "write", really))
    seen = bench.watch([99, 120, 299, 399])
    assert [relay for _, relay in seen] == [True, False, True, True]
    # What happened meanwhile is written when the disk has room again.
    assert bench.events() == ["start", "hold", "log-lost", "release", "log-back", "stop"]
    assert any("the log can't be written: no space left" in text for text in bench.said)


def test_a_state_folder_that_cannot_be_written_is_an_alarm(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 0), (86_399, 99), every_seconds=1), stop_s=700)
    bench.light(code(40))
    bench.world.at(5, lambda: (tmp_path / "state").rename(tmp_path / "gone"))
    bench.world.at(400, lambda: (tmp_path / "gone").rename(tmp_path / "state"))
    bench.run()
    assert any(t.startswith("alarm: the state folder") for t in bench.said)
    assert any(t.startswith("alarm over: the state folder") for t in bench.said)


# ---- the broker


MQTT = """\
board: 1
state_folder: state
log: {folder: log}
broker: {host: h, topic: reef}
channels:
  blue:
    output: {kind: mqtt}
    relay: {kind: mqtt, topic: switch/3, closed: "ON", open: "OFF"}
"""


def test_a_broker_gets_levels_relays_state_and_alarms(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, MQTT, stop_s=5)
    broker = bench.broker = FakeBroker()
    bench.run()
    assert broker.said[:2] == [
        ("reef/blue/level", json.dumps({"count": 10, "converter_code": code(10), "volts": 1.001,
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
    bench.world.at(1200, broker.leave)
    bench.world.at(7200, lambda: (marks.append(len(broker.said)), broker.come_back()))
    bench.world.at(7231, lambda: marks.append(len(broker.said)))
    bench.run()
    before, after = marks
    counts = [
        json.loads(text)["count"] for topic, text in broker.said if topic == "reef/blue/level"
    ]
    again = [item for item in broker.said[before:after] if item[0] == "reef/blue/level"]
    assert json.loads(broker.said[before - 1][1])["count"] <= 40
    assert json.loads(again[0][1])["count"] <= 41  # not 80 at once
    assert max(counts) == 80
    # Again ten seconds later: what was under way as the line broke may have come after.
    assert broker.said[before:after].count(("switch/3", "ON")) == 2
    assert bench.events() == ["start", "broker-lost", "broker-back", "stop"]
    gap = [r for r in bench.records() if r[1] and "12:25" < r[0][11:16] < "13:55"]
    assert gap == []  # nobody heard it, so it is not logged


def test_a_hold_is_remembered_at_once(tmp_path: Path) -> None:
    """Whoever is killed right after it must not take the lamps for lit."""
    bench = Bench(tmp_path, STEADY, MQTT, boot=1000.0)
    bench.broker = FakeBroker()
    bench.keep.make()
    bench.keep.write_state(
        State(boot_id="this start", boot_s=990.0, unix_s=bench.world.unix - 10, is_trusted=True,
              outputs={"blue": Remembered(code(80), True)})
    )  # fmt: skip
    held: list[State | None] = []
    bench.world.at(5, lambda: bench.keep.hold("test"))
    bench.world.at(15, lambda: held.append(bench.keep.read_state()))
    bench.world.stop_s = 20
    bench.run()
    assert held[0] is not None and held[0].outputs["blue"] == Remembered(0, False)


def test_alarms_reach_the_broker(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 80), dates=("2027-02-01", "2027-02-02")), MQTT, stop_s=30)
    broker = bench.broker = FakeBroker()
    bench.run()
    assert broker.states[0] == (
        "running",
        ("the table is past its last date; the last one goes on",),
    )


PWM_AND_BROKER = BOARD.replace(
    '{kind: iio, device: "iio:device0", channel: 0}',
    "{kind: pwm, chip: 0, channel: 0, period_ns: 1000000}",
).replace("channels:\n", "broker: {host: h, topic: reef, table_topic: t}\nchannels:\n")


def test_a_handed_out_table_that_can_not_be_written_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A finer converter must not be reckoned with while the old table plays."""
    blinking = [
        (s, 80 - s // 60 % 2) for s in range(0, 86_400, 60)
    ]  # so that it is set each minute
    bench = Bench(tmp_path, table(*blinking, between="hold"), PWM_AND_BROKER, stop_s=120)
    bench.kernel.add_pwm()
    duty = "class/pwm/pwmchip0/pwm0/duty_cycle"
    bench.kernel.write("class/pwm/pwmchip0/export", "0")
    bench.kernel.held |= {duty: "800000", "class/pwm/pwmchip0/pwm0/period": "1000000",
                          "class/pwm/pwmchip0/pwm0/enable": "1",
                          "class/leds/relay-blue/brightness": "255"}  # fmt: skip
    broker = bench.broker = FakeBroker()

    def refuse(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    duties: list[str] = []
    monkeypatch.setattr("photoperiod.board.table_file.write_whole", refuse)
    bench.world.at(25, lambda: setattr(broker, "offered", finer_table()))
    bench.world.at(110, lambda: duties.append(bench.kernel.held[duty]))
    bench.run()
    assert [round(int(text) / 10_000) for text in duties] in ([79], [80])
    assert any("can't write" in text and "no space left" in text for text in bench.said)
    assert bench.events() == ["start", "refused", "stop"]


def test_a_table_of_a_zone_that_the_machine_does_not_know_is_refused(tmp_path: Path) -> None:
    def elsewhere(data: dict[str, Any]) -> None:
        data["time_zone"] = "Mars/Base"

    bench = Bench(tmp_path, STEADY, stop_s=60)
    bench.light(code(80))
    raw = table((0, 20), clock="civil", change=elsewhere)
    bench.world.at(25, lambda: bench.put_table(raw, MIDNIGHT))
    bench.run()
    assert any("PHO506" in text and "Mars/Base" in text for text in bench.said)
    assert bench.events() == ["start", "refused", "stop"]


def test_the_state_is_written_each_minute_and_read_back(tmp_path: Path) -> None:
    bench = Bench(tmp_path, table((0, 0), (86_399, 99), every_seconds=1), stop_s=130)
    bench.light(code(49))
    held: list[State | None] = []
    bench.world.at(65, lambda: held.append(bench.keep.read_state()))
    bench.run()
    (state,) = held
    assert state is not None and state.is_trusted and state.boot_id == "this start"
    assert state.boot_s == bench.world.began + 60
    assert state.outputs["blue"].relay
    last = bench.keep.read_state()
    assert last is not None and last.outputs["blue"] == Remembered(0, False)
    assert replace(last, outputs={}) != replace(state, outputs={})
