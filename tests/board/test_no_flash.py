"""Whatever happens, in whatever order, a lamp never flashes: its level never leaps up."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.board.bench import HOUR, MIDNIGHT, Bench, code, table
from tests.board.fake_kernel import IIO
from tests.conftest import drawn

TABLES = [
    table((9 * HOUR, 10), (10 * HOUR, 80), (20 * HOUR, 80), (21 * HOUR, 0, "off")),
    table((0, 100)),
    table((0, 30), (12 * HOUR, 60), (23 * HOUR, 20)),
    table((0, 0, "off"), (6 * HOUR, 10), (8 * HOUR, 100), (16 * HOUR, 10), (18 * HOUR, 0, "off")),
]

#: The most that a level rises within one step of ten seconds [counts]: a soft start rises by 0.5, and the
#: dawn of a table by 1.2 a minute, at its full minute. Both in whole counts.
MOST_RISE = 2

EVENTS = st.one_of(
    st.tuples(st.just("clock"), st.integers(-10 * HOUR, 10 * HOUR)),
    st.tuples(st.just("table"), st.integers(0, len(TABLES) - 1)),
    st.tuples(st.sampled_from(["hold", "release", "kill", "stop", "lose", "find", "break", "sleep", "light",
                               "reset", "hang", "wake"]),
              st.integers(1, 4 * HOUR)),
    st.tuples(st.just("wait"), st.integers(1, 400)),
)  # fmt: skip


class Play:
    """A player that things happen to."""

    def __init__(self, folder: Path, first: int) -> None:
        self.bench = Bench(folder, TABLES[first], unix=MIDNIGHT + 11 * HOUR)
        self.files = 0
        self.player = self.bench.begin()

    def put(self, raw: bytes) -> None:
        self.files += 1
        self.bench.put_table(raw, MIDNIGHT + self.files)

    def happen(self, what: str, number: int) -> None:
        bench, system = self.bench, self.bench.system
        if what == "clock":
            system.unix += number
        elif what == "table":
            self.put(TABLES[number])
        elif what == "break":
            self.put(TABLES[0][:number])
        elif what == "hold":
            bench.store.hold("test")
        elif what == "release":
            bench.store.release()
        elif what == "lose":
            bench.kernel.gone.add(IIO)
            bench.kernel.held[f"{IIO}/out_voltage0_raw"] = (
                "0"  # it comes back as from a power failure
            )
        elif what == "find":
            bench.kernel.gone.clear()
        elif what == "light":  # something else does, at any level
            bench.light(number % 4096)
        elif what == "reset":
            bench.light(0)
        elif what == "hang":
            bench.kernel.hung.add(IIO)
        elif what == "wake":
            bench.kernel.hung.clear()
        elif what == "sleep":
            system.pass_s(number)
        elif what in ("kill", "stop"):
            if what == "stop":
                self.player.stop()
            self.put(TABLES[1])  # a player starts only with a table that it can play
            self.player = bench.begin()
        for _ in range(number if what == "wait" else 2):
            self.step()

    def step(self) -> None:
        bench = self.bench
        bench.kernel.writes.clear()
        was = (bench.code, bench.relay)  # what something else may have set since the last step
        self.player.step()
        after = (bench.code, bench.relay)
        is_silent = bench.kernel.gone or bench.kernel.hung
        if after[1] and not is_silent:
            # Below the floor's level the light is that of the floor.
            start = max(was[0], code(10)) if was[1] else code(10)
            assert after[0] <= start + code(MOST_RISE), (was, after)
        names = [name.rsplit("/", 1)[-1] for name, _ in bench.kernel.writes]
        if after[1] != was[1] and len(names) == 2:
            order = ["out_voltage0_raw", "brightness"]
            assert names == (order if after[1] else order[::-1])
        if IIO in bench.kernel.gone:
            assert was[1] or not after[1], "switched on at an unknown level"
        if bench.store.is_held():
            assert not after[1]
        bench.system.pass_s(10)


@example(1, [("wait", 200), ("hold", 1), ("release", 1)])
@example(1, [("wait", 200), ("lose", 1), ("wait", 10), ("find", 1)])
@example(0, [("clock", 0), ("table", 3), ("wait", 268), ("lose", 1), ("find", 1)])
@example(1, [("wait", 200), ("reset", 1), ("wait", 10)])
@example(0, [("clock", 8 * HOUR), ("light", 4095), ("wait", 10)])
@settings(max_examples=drawn(30))
@given(st.integers(0, len(TABLES) - 1), st.lists(EVENTS, max_size=14))
def test_a_lamp_never_flashes(first: int, events: list[tuple[str, int]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        play = Play(Path(folder), first)
        for _ in range(3):
            play.step()
        for what, number in events:
            play.happen(what, number)
