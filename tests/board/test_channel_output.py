"""One channel: the order of relay and converter, soft starts, and devices that fail."""

from __future__ import annotations

import itertools
import signal
from pathlib import Path

import pytest

from tests.board.bench import (
    BOARD,
    DAY,
    FLOOR,
    HOUR,
    MIDNIGHT,
    STEADY,
    TWO,
    Bench,
    code,
    finer_table,
    soft,
    table,
)
from tests.board.fake_kernel import IIO


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
    bench.system.at(60, lambda: bench.kernel.gone.add(IIO))
    assert bench.watch([59, 2 * HOUR]) == [(0, False), (0, False)]


def test_a_lamp_goes_dark_by_its_relay_without_its_converter(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 20 * HOUR)
    bench.light(code(80))
    bench.system.at(60, lambda: bench.kernel.gone.add(IIO))
    (_, before), (_, after) = bench.watch([HOUR - 1, HOUR + 1])
    assert before and not after


@pytest.mark.parametrize("count", [80, 20])
def test_a_finer_table_gives_its_own_duty(tmp_path: Path, count: int) -> None:
    """Code 3277 is 80 % of 12 bits and 20 % of 14 bits: the same code must be set anew."""
    text = BOARD.replace('{kind: iio, device: "iio:device0", channel: 0}',
                         "{kind: pwm, chip: 0, channel: 0, period_ns: 1000000}")  # fmt: skip
    bench = Bench(tmp_path, STEADY, text)
    bench.kernel.add_pwm()
    duty = "class/pwm/pwmchip0/pwm0/duty_cycle"
    bench.kernel.write("class/pwm/pwmchip0/export", "0")
    bench.kernel.held |= {duty: "800000", "class/pwm/pwmchip0/pwm0/period": "1000000",
                          "class/pwm/pwmchip0/pwm0/enable": "1",
                          "class/leds/relay-blue/brightness": "255"}  # fmt: skip
    bench.system.at(25, lambda: bench.put_table(finer_table(count), MIDNIGHT))
    seen: list[str] = []
    for second in (10, 60):
        bench.system.at(second, lambda: seen.append(bench.kernel.held[duty]))
    bench.system.stop_s = 70
    bench.run()
    assert [round(int(text) / 10_000) for text in seen] == [80, count]
    assert bench.events() == ["start", "reload", "stop"]


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

    bench.system.at(105, lambda: bench.kernel.gone.add(other))
    bench.system.at(3 * HOUR, plug_in)
    bench.system.at(
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
    bench.system.at(10, lambda: bench.kernel.gone.add("class/leds/relay-blue"))
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

    bench.system.at(100, lambda: setattr(bench.kernel, "write", hang))
    bench.system.at(3000, lambda: setattr(bench.kernel, "write", really))
    bench.run()
    assert bench.events() == ["start", "device-lost", "device-back", "stop"]
    assert len([text for text in bench.said if "PHO507" in text]) == 2


def test_a_device_may_come_late(tmp_path: Path) -> None:
    """A module of the kernel that is loaded after the player began, for example."""
    bench = Bench(tmp_path, STEADY)
    bench.kernel.gone.add(IIO)
    bench.system.at(30, bench.kernel.gone.clear)
    assert bench.watch([29, 51]) == [(0, False), (code(FLOOR), True)]
    assert bench.said[0].startswith(
        "alarm: PHO507: the output of 'blue' (iio:device0 channel 0) is lost"
    )


def test_a_relay_that_comes_back_open_is_closed_again(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))

    def come_back() -> None:
        bench.kernel.gone.clear()
        bench.kernel.held["class/leds/relay-blue/brightness"] = "0"

    bench.system.at(65, lambda: bench.kernel.gone.add("class/leds/relay-blue"))
    bench.system.at(185, come_back)
    before, lost, after = bench.watch([60, 180, 221])
    assert before == (code(80), True) and lost == (code(80), True)
    assert after[1] is True and after[0] <= code(13)  # it rises softly from the floor
    assert bench.events() == ["start", "device-lost", "device-back", "stop"]


@pytest.mark.parametrize(("count", "at_once"), [(38, 38), (40, 40), (41, 40), (43, 40)])
def test_another_table_lowers_light_at_once_and_raises_it_softly(
    tmp_path: Path, count: int, at_once: int
) -> None:
    bench = Bench(tmp_path, table((0, 40)))
    bench.light(code(40))
    bench.system.at(20.5, lambda: bench.put_table(table((0, count)), MIDNIGHT))
    bench.system.at(20.6, lambda: signal.SIGHUP)
    assert bench.watch([20.4, 20.7]) == [(code(40), True), (code(at_once), True)]


def test_no_rise_is_too_small_to_be_soft_for_another_may_follow(tmp_path: Path) -> None:
    """A converter that could not be written for minutes, in a dawn of 70 counts an hour, stepped each minute.

    By hand: 17 at 09:06, where it is lost, 18 and 19 (18.2, 19.3) at 09:07 and 09:08, 21 (20.5) at 09:09, 22
    (21.7) at 09:10. It is read again at 09:08:40, and written ten seconds before the plan rises by two.
    """
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 9 * HOUR)
    file = f"{IIO}/out_voltage0_raw"
    bench.system.at(365, lambda: bench.kernel.read_only.add(file))
    bench.system.at(515, bench.kernel.read_only.clear)
    lost, *seen = bench.watch([510, 535, 545, 565, 605, 635])
    assert lost == (code(17), True)
    # From 17 at 09:08:50 a count each 20 s: 90 counts in 30 min.
    assert seen == [(code(count), True) for count in (17, 17, 18, 20, 22)]


def test_two_players_do_not_set_one_device(tmp_path: Path) -> None:
    """They have state folders of their own; the device is the first one's, until it lets go."""
    bench = Bench(tmp_path, STEADY)
    bench.kernel.locked.add("class/leds/relay-blue/brightness")
    bench.system.at(30, bench.kernel.locked.clear)
    before, after = bench.watch([29, 60])
    assert not before[1] and after[1] and after[0] <= code(12)
    assert any("another player drives" in text for text in bench.said)


def test_a_device_that_hangs_leaves_the_others_alone(tmp_path: Path) -> None:
    """Blue's relay hangs at noon. White goes on, the service is told that all is well, a stop says it."""
    raw = table((0, 80), (12 * HOUR, 80), (18 * HOUR, 20), channels=("blue", "white"))
    bench = Bench(tmp_path, raw, TWO, stop_s=3 * HOUR)
    other = "bus/iio/devices/iio:device1"
    bench.kernel.add_converter(device=other).add_led("relay-white")
    bench.light(code(80))
    bench.kernel.held |= {f"{other}/out_voltage0_raw": str(code(80)),
                          "class/leds/relay-white/brightness": "255"}  # fmt: skip
    white: list[int] = []
    bench.system.at(65, lambda: bench.kernel.hung.add("class/leds/relay-blue"))
    bench.system.at(
        3 * HOUR - 1, lambda: white.append(int(bench.kernel.held[f"{other}/out_voltage0_raw"]))
    )
    assert bench.run() == 4
    assert white == [code(50)]  # half-way down
    assert bench.events() == ["start", "device-lost", "stop"]
    assert [text for text in bench.said if text.startswith("alarm")] == [
        "alarm: PHO507: the relay of 'blue' (relay relay-blue) is lost: it hangs: no answer within 2 s"
    ]
    assert "'blue' may burn: its relay (relay relay-blue) is lost: it hangs" in bench.said[-1]
    assert bench.code == 0 and bench.relay  # the level went down without it
    told = [at_s for at_s, state in bench.system.service if state == "WATCHDOG=1"]
    assert max(b - a for a, b in itertools.pairwise(told)) <= 10


def test_a_device_that_hung_is_looked_at_before_it_is_set(tmp_path: Path) -> None:
    """A write that came late may have lit the lamp meanwhile."""
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR)
    bench.system.at(15, lambda: bench.kernel.hung.add(IIO))
    bench.system.at(45, lambda: bench.light(4095))
    bench.system.at(55, bench.kernel.hung.clear)
    hung, free = bench.watch([51, 90])
    assert hung == (4095, False)  # the relay was found closed, and opened
    assert free == (0, False)


def test_a_converter_that_was_stuck_goes_on_from_its_level(tmp_path: Path) -> None:
    """It can follow at any moment: light that it has not given for minutes must not come at once."""
    bench = Bench(tmp_path, STEADY)
    file = f"{IIO}/out_voltage0_raw"
    bench.system.at(101, lambda: bench.kernel.frozen.update({file: bench.kernel.held[file]}))
    bench.system.at(1201, bench.kernel.frozen.clear)
    before, after = bench.watch([105, 1225])
    assert before[0] == code(soft(100))
    # two looks after it is free: what a soft start adds in twenty seconds
    assert after[0] <= code(soft(100) + 1)


def test_light_from_outside_does_not_shorten_a_soft_start(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.system.at(111, lambda: bench.light(code(70)))
    before, *after = bench.watch([105, 125, 605])
    assert before == (code(soft(100)), True)
    for (given, relay), second in zip(after, (120, 600), strict=True):
        # It begins again at the level that was there, which began up to one count earlier.
        assert code(soft(second) - 1) <= given <= code(soft(second)) and relay


def test_light_from_outside_is_no_beginning_for_lamps_that_were_dark(tmp_path: Path) -> None:
    """Something lights all just before the clock is trusted: the light begins at the floor all the same."""
    bench = Bench(tmp_path, STEADY, synchronised=False)

    def light_and_set_clock() -> None:
        bench.light(code(100))
        bench.system.synchronised = True

    bench.system.at(31, light_and_set_clock)
    assert bench.watch([25, 45]) == [(0, False), (code(FLOOR), True)]


def test_what_lit_a_lamp_brighter_meanwhile_does_not_shorten_its_soft_start(tmp_path: Path) -> None:
    """A converter that was lost comes back at half of full: the soft start goes on from when it began."""
    bench = Bench(tmp_path, STEADY)

    def come_back() -> None:
        bench.kernel.held[f"{IIO}/out_voltage0_raw"] = str(code(49))
        bench.kernel.gone.clear()

    bench.system.at(95, lambda: bench.kernel.gone.add(IIO))
    bench.system.at(105, come_back)
    seen = bench.watch([94, 151, 601])
    assert seen == [(code(soft(90)), True), (code(soft(150)), True), (code(soft(600)), True)]


def test_a_relay_that_is_back_opens_at_once_though_its_converter_is_lost(tmp_path: Path) -> None:
    """While the lamp should burn its relay is looked for all the same, so that it opens in time."""
    dusk = table((0, 80), (12 * HOUR + 90, 0, "off"), between="hold", every_seconds=10)
    bench = Bench(tmp_path, dusk)
    bench.light(code(80))
    bench.system.at(15, lambda: bench.kernel.gone.update({IIO, "class/leds/relay-blue"}))
    bench.system.at(45, lambda: bench.kernel.gone.discard("class/leds/relay-blue"))
    assert [relay for _, relay in bench.watch([84, 91])] == [True, False]
