"""What those who watch a board get while it plays."""

from __future__ import annotations

from pathlib import Path

from photoperiod.board.alarm_hook import AlarmHook, HookWord
from tests.board.bench import BOARD, STEADY, Bench, code, table

WATCHED = BOARD.replace("log:", "metrics_file: run/metrics.prom\nlog:")


class Told(AlarmHook):
    """A command that only notes what it is given."""

    def __init__(self) -> None:
        super().__init__(["none"], 1.0, lambda _: None)
        self.told: list[tuple[str, str]] = []

    def tell(self, word: HookWord, text: str) -> None:
        self.told.append((word, text))


def value(text: str, name: str) -> str:
    (found,) = [line.split()[1] for line in text.splitlines() if line.startswith(f"{name} ")]
    return found


def test_metrics_follow_the_player(tmp_path: Path) -> None:
    (tmp_path / "run").mkdir()
    file = tmp_path / "run" / "metrics.prom"
    dated = table((0, 80), dates=("2027-03-01", "2027-03-31"))
    bench = Bench(tmp_path, dated, WATCHED, stop_s=99)
    bench.light(code(80))
    seen: list[str] = []
    bench.system.at(5, lambda: seen.append(file.read_text()))
    bench.system.at(25, lambda: bench.store.hold("test"))
    bench.system.at(65, lambda: seen.append(file.read_text()))
    bench.run()
    first, held = seen
    assert 'photoperiod_light_ratio{channel="blue"} 0.64' in first  # 8.0 V of 10, squared
    assert 'photoperiod_relay_closed{channel="blue"} 1' in first
    assert 'photoperiod_state{photoperiod_state="running"} 1' in first
    # 2027-04-01T00:00:00Z, the end of the last date: 1,803,945,600 + 30 · 86,400
    assert value(first, "photoperiod_table_end_timestamp_seconds") == "1806537600"
    assert 'photoperiod_state{photoperiod_state="held"} 1' in held
    assert 'photoperiod_light_ratio{channel="blue"} 0\n' in held
    assert int(value(held, "photoperiod_steps_total")) > int(
        value(first, "photoperiod_steps_total")
    )
    assert 'photoperiod_state{photoperiod_state="stopped"} 1' in file.read_text()


def test_metrics_that_cannot_be_written_cost_nothing(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, WATCHED.replace("run/metrics", "absent/metrics"), stop_s=40)
    bench.light(code(80))
    bench.system.at(25, (tmp_path / "absent").mkdir)
    assert bench.watch([30]) == [(code(80), True)]
    assert any(text.startswith("alarm: can't write") for text in bench.said)
    assert any(text.startswith("alarm over: can't write") for text in bench.said)


def test_a_command_is_told_each_alarm_and_its_end(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=99)
    bench.light(code(80))
    bench.hook = Told()
    bench.system.at(15, lambda: bench.kernel.gone.add("class/leds/relay-blue"))
    bench.system.at(45, bench.kernel.gone.clear)
    bench.run()
    words = [word for word, _ in bench.hook.told]
    assert words == ["alarm", "over"]
    assert bench.hook.told[0][1].startswith("PHO507: the relay of 'blue'")
