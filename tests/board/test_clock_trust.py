"""When the clock of a board is trusted, and what its steps do to the light."""

from __future__ import annotations

import signal
from pathlib import Path
from typing import Any

import pytest

from photoperiod.board.clock_trust import Evidence, distrust_reason, was_trusted
from photoperiod.board.config import TrustPolicy
from photoperiod.board.state_store import State
from tests.board.bench import (
    BOARD,
    FLOOR,
    HOUR,
    MIDNIGHT,
    STEADY,
    Bench,
    FakeSystem,
    code,
    soft,
    table,
)


def trust(policy: str, **system: object) -> str:
    settings = {"synchronised": False, "battery": False, "unix": MIDNIGHT + HOUR} | system
    evidence = [Evidence(MIDNIGHT, "it was written"), Evidence(0.0, "long ago")]
    return distrust_reason(TrustPolicy(policy), FakeSystem(**settings), evidence)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("policy", "synchronised", "battery", "is_trusted"),
    [
        ("auto", True, False, True),
        ("auto", False, False, False),
        ("auto", False, True, True),
        ("auto", None, False, True),
        ("synchronised", True, False, True),
        ("synchronised", False, True, False),
        ("synchronised", None, True, False),
        ("later", False, False, True),
    ],
)
def test_policies(policy: str, synchronised: bool | None, battery: bool, is_trusted: bool) -> None:
    assert (trust(policy, synchronised=synchronised, battery=battery) == "") is is_trusted


@pytest.mark.parametrize("policy", ["auto", "synchronised", "later"])
def test_no_clock_is_trusted_before_what_has_happened(policy: str) -> None:
    why = trust(policy, synchronised=True, battery=True, unix=MIDNIGHT - 1)
    assert why == "it is before it was written (2027-03-02T00:00:00Z)"


def test_trust_outlives_a_player_but_not_a_machine() -> None:
    system = FakeSystem(unix=MIDNIGHT + 100, boot=200.0)
    held = State(boot_id="this start", boot_s=100.0, unix_s=MIDNIGHT, is_trusted=True)
    assert was_trusted(held, system)
    assert not was_trusted(None, system)
    assert not was_trusted(
        State(boot_id="other", boot_s=100.0, unix_s=MIDNIGHT, is_trusted=True), system
    )
    assert not was_trusted(
        State(boot_id="this start", boot_s=100.0, unix_s=0.0, is_trusted=True), system
    )
    assert not was_trusted(
        State(boot_id="this start", boot_s=100.0, unix_s=MIDNIGHT, is_trusted=False), system
    )


@pytest.mark.parametrize("counts", [(0, "off"), (20, "on")], ids=["dark", "dim"])
def test_the_safe_state_holds_until_the_clock_is_trusted(
    tmp_path: Path, counts: tuple[int, str]
) -> None:
    bench = Bench(tmp_path, table((0, 80), safe=counts), synchronised=False)
    bench.light(code(80))

    def synchronise() -> None:
        bench.system.synchronised = True

    bench.system.at(100, synchronise)
    first, second, later = bench.watch([1, 111, 900])
    assert first == (code(counts[0]), counts[1] == "on")
    assert second == (code(max(FLOOR, counts[0])), True)
    assert code(counts[0]) < later[0] < code(80)
    assert bench.events() == ["start", "safe", "resumed", "stop"]
    told = [text for text in bench.said if "clock" in text]
    assert [text.split(":")[0] for text in told] == ["alarm", "alarm over"]
    assert "the system has not synchronised it" in told[0]


def test_a_start_of_the_same_machine_needs_no_network(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.run()
    again = Bench(tmp_path, STEADY, unix=bench.system.unix + 5, boot=bench.system.boot + 5,
                  synchronised=False)  # fmt: skip
    assert again.watch([1])[0] == (code(FLOOR), True)
    other = Bench(tmp_path, STEADY, unix=again.system.unix + 60, boot=20.0, boot_id="another start",
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
        bench.system.unix += by_s

    bench.system.at(101, step)
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
    bench.system.at(55 * 60, lambda: setattr(bench.system, "unix", bench.system.unix + 30))
    # 09:00 comes 30 s early; a soft start from the step on would allow less than 40 % by then.
    assert bench.watch([59 * 60 + 20, 59 * 60 + 41]) == [(0, False), (code(80), True)]


def test_a_wrong_time_does_not_take_the_place_of_the_last_right_one(tmp_path: Path) -> None:
    """Or the next start would believe a clock that is behind."""
    right = State(boot_id="before", boot_s=9.0, unix_s=MIDNIGHT + 11 * HOUR, is_trusted=True)
    bench = Bench(tmp_path, STEADY, unix=MIDNIGHT + 2 * HOUR, synchronised=False, stop_s=1300)
    bench.store.make()
    bench.store.write_state(right)
    assert bench.watch([700]) == [(0, False)]
    assert bench.store.read_state() == right
    assert "before the last moment in the state file" in bench.said[0]


def test_a_clock_that_loses_its_time_is_not_believed_any_more(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))

    def lose() -> None:
        bench.system.unix = 0.0

    bench.system.at(50, lose)
    assert bench.watch([49, 70]) == [(code(80), True), (0, False)]


TEN_YEARS_S = 3653 * 86_400


@pytest.mark.parametrize(("policy", "goes_on"), [("auto", False), ("later", True)])
def test_a_clock_that_leaps_ahead_must_be_synchronised(
    tmp_path: Path, policy: str, goes_on: bool
) -> None:
    """A battery clock that set it at the start is no proof; a keeper who sets it by hand says `later`."""
    text = BOARD + f"clock: {{trust: {policy}}}\n"
    bench = Bench(tmp_path, STEADY, text, synchronised=False, battery=True)
    bench.light(code(80))

    def leap(seconds: float) -> None:
        bench.system.unix += seconds

    bench.system.at(25, lambda: leap(TEN_YEARS_S))
    bench.system.at(65, lambda: leap(-TEN_YEARS_S))
    before, ahead, _ = bench.watch([24, 60, 90])
    assert before == (code(80), True) and ahead[1] is goes_on
    state = bench.store.read_state()
    assert (
        state is not None and state.unix_s < MIDNIGHT + 86_400
    )  # nothing of the wrong time is left
    assert ("safe" in bench.events(), "resumed" in bench.events()) == (not goes_on, not goes_on)


def test_a_clock_that_was_ahead_once_is_told_with_the_way_out(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=20)
    bench.store.make()
    bench.store.write_state(
        State(boot_id="before", boot_s=9.0, unix_s=MIDNIGHT + TEN_YEARS_S, is_trusted=True)
    )
    bench.run()
    alarm = next(text for text in bench.said if "can't be trusted" in text)
    assert "(2037-03-02T00:00:00Z); if that time is wrong, remove 'state.json'" in alarm
    bench.put_table(STEADY, MIDNIGHT + TEN_YEARS_S + 86_400)
    again = Bench(tmp_path, STEADY, stop_s=20)
    again.put_table(STEADY, MIDNIGHT + TEN_YEARS_S + 86_400)
    again.run()
    assert any("write the file again with the right clock" in text for text in again.said)
    assert not again.relay


def test_a_slewed_clock_is_no_step(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=600)
    for second in range(0, 600, 10):
        bench.system.at(second, lambda: setattr(bench.system, "unix", bench.system.unix + 1.0))
    bench.run()
    assert "clock-step" not in bench.events()


@pytest.mark.parametrize("after_s", [25, 65], ids=["before the first state", "after it"])
def test_a_stop_right_after_a_leap_keeps_no_wrong_time(tmp_path: Path, after_s: float) -> None:
    """The signal comes before the next step has seen the leap."""
    bench = Bench(tmp_path, STEADY, synchronised=None, stop_s=99)
    bench.light(code(80))

    def leap() -> int:
        bench.system.unix += TEN_YEARS_S
        bench.system.synchronised = False
        return signal.SIGTERM

    bench.system.at(after_s, leap)
    assert bench.run() == 0
    again = Bench(tmp_path, STEADY, unix=bench.system.unix - TEN_YEARS_S + 60, boot=20.0,
                  boot_id="another start")  # fmt: skip
    assert again.watch([1])[0] == (code(FLOOR), True)


@pytest.mark.parametrize(
    ("policy", "synchronised", "is_kept"),
    [("later", False, False), ("later", None, False), ("auto", None, False), ("auto", True, True)],
)
def test_a_time_that_leapt_is_kept_only_if_the_system_stands_by_it(
    tmp_path: Path, policy: str, synchronised: bool | None, is_kept: bool
) -> None:
    """It is played by, where nobody can say more; a later start must not wait for it for ten years."""
    text = BOARD + f"clock: {{trust: {policy}}}\n"
    bench = Bench(tmp_path, STEADY, text, stop_s=1300)
    bench.light(code(80))

    def leap() -> None:
        bench.system.unix += TEN_YEARS_S
        bench.system.synchronised = synchronised

    bench.system.at(65, leap)
    assert bench.watch([64, 1200]) == [(code(80), True)] * 2
    state = bench.store.read_state()
    assert state is not None
    wrong_s = bench.system.unix
    assert state.unix_s == (wrong_s if is_kept else wrong_s - TEN_YEARS_S)
    again = Bench(tmp_path, STEADY, text, unix=wrong_s - TEN_YEARS_S + 60, boot=20.0,
                  boot_id="another start", synchronised=synchronised)  # fmt: skip
    assert again.watch([1])[0][1] is not is_kept


def test_a_battery_is_no_proof_for_a_player_that_starts_after_the_leap(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, synchronised=False, battery=True)
    bench.run()
    again = Bench(tmp_path, STEADY, synchronised=False, battery=True,
                  unix=bench.system.unix + TEN_YEARS_S, boot=bench.system.boot + 5)  # fmt: skip
    assert again.watch([1])[0] == (0, False)
    assert "the system has not synchronised it" in again.said[0]


def _ahead(folder: Path, *, of_table: bool, **system: Any) -> Bench:
    """Return a bench whose state or table was written by a clock ten years ahead."""
    bench = Bench(folder, STEADY, boot=50.0, **system)
    if of_table:
        bench.put_table(STEADY, MIDNIGHT + TEN_YEARS_S)
        return bench
    bench.store.make()
    bench.store.write_state(
        State(boot_id="before", boot_s=9.0, unix_s=MIDNIGHT + TEN_YEARS_S, is_trusted=True)
    )
    return bench


@pytest.mark.parametrize("of_table", [False, True], ids=["state", "table"])
def test_a_clock_that_stays_synchronised_is_believed_after_ten_minutes(
    tmp_path: Path, of_table: bool
) -> None:
    """No keeper need come, and no network that has just come back is believed at once."""
    bench = _ahead(tmp_path, of_table=of_table, stop_s=3000)
    bench.system.at(700, lambda: setattr(bench.system, "unix", bench.system.unix + 3.0))
    before, after, later = bench.watch([599, 611, 2500])
    assert before == (0, False) and after == (code(FLOOR), True)
    assert later == (code(80), True)  # what was refuted stays so when the clock is stepped
    alarm = next(text for text in bench.said if text.startswith("alarm: safe state"))
    assert alarm.endswith(", or wait: one that stays synchronised for 10 minutes is trusted")
    assert bench.events() == ["start", "safe", "resumed", "clock-step", "stop"]
    if not of_table:
        again = Bench(tmp_path, STEADY, unix=bench.system.unix + 60, boot=20.0, boot_id="next")
        assert again.watch([1])[0] == (code(FLOOR), True)  # the wrong time is gone from the state


@pytest.mark.parametrize("what", ["lost", "stepped", "unknown"])
def test_ten_minutes_begin_anew_when_the_clock_is_lost_or_stepped(
    tmp_path: Path, what: str
) -> None:
    bench = _ahead(tmp_path, of_table=False, stop_s=1500)

    def happen() -> None:
        if what == "stepped":
            bench.system.unix += 5.0
        else:
            bench.system.synchronised = False if what == "lost" else None

    bench.system.at(295, happen)
    bench.system.at(305, lambda: setattr(bench.system, "synchronised", True))
    assert [relay for _, relay in bench.watch([611, 895, 925])] == [False, False, True]
