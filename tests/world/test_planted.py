"""Mistakes that are planted into the player: the world must find each within 10,000 steps."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from photoperiod.board import disk, journal, player
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.clock_trust import ClockWatch
from photoperiod.board.device_alarms import DeviceAlarms
from photoperiod.board.device_status import DeviceStatus
from photoperiod.board.outbox import Outbox
from photoperiod.board.output_setter import OutputSetter
from photoperiod.board.override import Override
from photoperiod.board.sensors import Sensors
from photoperiod.board.state_store import StateStore
from photoperiod.board.table_changes import TableChanges
from tests.world.machine import Story, World
from tests.world.story import play
from tests.world.wrong import Violation

#: A planted mistake must be found within so many steps.
MOST_STEPS = 10_000

DAYS = 8

Plant = Callable[[pytest.MonkeyPatch], None]


def _relay_first(patch: pytest.MonkeyPatch) -> None:
    """The relay closes before its converter is set."""
    real = ChannelOutput._set

    def swapped(
        self: ChannelOutput,
        status: DeviceStatus,
        value: Any,
        action: Any,
        boot_s: float,
        **more: Any,
    ) -> bool:
        if status is self.output and not self.output.device.carries_relay and value[0] > 0:
            relay = self.relay.device
            if self.relay.value != (True,) and self.relay.is_ready and not self.relay.fault:
                relay.write(True)
        return real(self, status, value, action, boot_s, **more)

    patch.setattr(ChannelOutput, "_set", swapped)


def _hold_forgotten(patch: pytest.MonkeyPatch) -> None:
    """A hold that was there when the player started is forgotten."""
    real = StateStore.is_held

    def is_held(self: StateStore, before: bool = False) -> bool:
        now = real(self, before)
        if not hasattr(self, "_old"):
            self._old = now
        self._old = self._old and now
        return now and not self._old

    patch.setattr(StateStore, "is_held", is_held)


def _stale_level(patch: pytest.MonkeyPatch) -> None:
    """What was under way when a line broke is sent again, after what is right now."""
    late: list[Any] = []

    def forget(self: Outbox) -> None:
        late[:] = self._newest.values() or late
        self._newest.clear()
        self._waiting.clear()
        self._taken.clear()
        self._under_way = None

    real = Outbox.next

    def next_one(self: Outbox) -> Any:
        found = real(self)
        known = [one for one in late if one.topic in self._newest]
        if found is None and known and self._under_way is None:
            late.remove(known[0])
            self._under_way = known[0]
            return known[0]
        return found

    patch.setattr(Outbox, "forget", forget)
    patch.setattr(Outbox, "next", next_one)


def _no_soft_start(patch: pytest.MonkeyPatch) -> None:
    """Light jumps up after a start."""
    patch.setattr(ChannelOutput, "begin_soft_start", lambda *_: None)


def _no_first_look(patch: pytest.MonkeyPatch) -> None:
    """A device that has just come back is set at once, whatever it puts out."""
    real = ChannelOutput._set

    def set_one(self: ChannelOutput, status: Any, *more: Any, **how: Any) -> bool:
        return real(self, status, *more, **how | {"may_set_at_once": True})

    patch.setattr(ChannelOutput, "_set", set_one)


def _never_read_back(patch: pytest.MonkeyPatch) -> None:
    """What the devices hold is not looked at."""
    patch.setattr(ChannelOutput, "look", lambda *_: False)


def _any_clock(patch: pytest.MonkeyPatch) -> None:
    """Every clock is trusted."""

    def begin(self: ClockWatch, _state: Any) -> None:
        self.is_trusted = True

    patch.setattr(ClockWatch, "begin", begin)


def _no_alarm(patch: pytest.MonkeyPatch) -> None:
    """Lost devices are not reported."""
    patch.setattr(DeviceAlarms, "check", lambda *_: None)


def _torn_lines(patch: pytest.MonkeyPatch) -> None:
    """A torn line stays in the log."""
    patch.setattr(disk, "_cut_torn_line", lambda *_: None)


def _lazy_stop(patch: pytest.MonkeyPatch) -> None:
    """A stop writes only what it believes to be different, and says that all is well."""
    real = OutputSetter.set_all

    def set_all(self: OutputSetter, *arguments: Any, **more: Any) -> None:
        self.must_write = False
        real(self, *arguments, **more)

    patch.setattr(OutputSetter, "set_all", set_all)
    patch.setattr(ChannelOutput, "repeats", False)
    patch.setattr(ChannelOutput, "look", lambda *_: False)
    patch.setattr(player, "lamps_text", lambda *_: ("", True))


def _sure_words(patch: pytest.MonkeyPatch) -> None:
    """It says that lamps are off without looking."""
    patch.setattr(player, "lamps_text", lambda *_: ("", True))


def _relay_stays(patch: pytest.MonkeyPatch) -> None:
    """A relay whose converter is lost is not opened."""
    real = ChannelOutput.set

    def set_both(self: ChannelOutput, wanted: Any, *more: Any, **again: Any) -> bool:
        return False if self.output.fault else real(self, wanted, *more, **again)

    patch.setattr(ChannelOutput, "set", set_both)


def _log_of_wishes(patch: pytest.MonkeyPatch) -> None:
    """The log says what was wanted, not what is."""
    real = ChannelOutput._note_present

    def note(self: ChannelOutput, wanted: Any = None) -> None:
        real(self, wanted)
        self.present = wanted if wanted is not None else self.present

    patch.setattr(ChannelOutput, "_note_present", note)


def _lost_records(patch: pytest.MonkeyPatch) -> None:
    """Some outputs are not recorded."""
    patch.setattr(journal.Journal, "record", lambda *_: None)


def _deaf_to_sensors(patch: pytest.MonkeyPatch) -> None:
    """Nobody hears what sensors say."""
    patch.setattr(Sensors, "look", lambda *_: None)


def _light_by_hand_stays(patch: pytest.MonkeyPatch) -> None:
    """Light by hand does not end by itself."""
    patch.setattr(Override, "is_over", lambda *_, **__: False)


def _torn_table(patch: pytest.MonkeyPatch) -> None:
    """A table is taken at once, and one that can't be played ends the player."""

    def refuse(_self: TableChanges, error: Exception) -> None:
        raise error

    patch.setattr(TableChanges, "refuse", refuse)


def _newer_ignored(patch: pytest.MonkeyPatch) -> None:
    """Newer tables are not looked for."""
    patch.setattr(TableChanges, "notice_file", lambda _: None)


PLANTED: dict[str, Plant] = {
    plant.__name__.strip("_"): plant
    for plant in (
        _relay_first,
        _hold_forgotten,
        _stale_level,
        _no_soft_start,
        _no_first_look,
        _never_read_back,
        _any_clock,
        _no_alarm,
        _torn_lines,
        _lazy_stop,
        _sure_words,
        _relay_stays,
        _log_of_wishes,
        _lost_records,
        _deaf_to_sensors,
        _light_by_hand_stays,
        _torn_table,
        _newer_ignored,
    )
}


def found_after(patch: pytest.MonkeyPatch, plant: Plant) -> tuple[int, str]:
    """Return after how many steps a mistake was found, and by what words."""
    plant(patch)
    steps, seed = 0, 0
    while steps <= MOST_STEPS:
        try:
            steps += play(seed, DAYS).steps
        except Violation as violation:
            words = str(violation)
            return steps + int(words.split(", step ")[1].split(";")[0]), words
        seed += 1
    return steps, ""


#: These are found within seconds; the others belong to the long sweeps.
QUICK = ("relay_first", "stale_level", "no_soft_start", "any_clock", "lost_records")


@pytest.mark.parametrize(
    "name",
    [name if name in QUICK else pytest.param(name, marks=pytest.mark.slow) for name in PLANTED],
)
def test_a_planted_mistake_is_found(
    name: str, monkeypatch: pytest.MonkeyPatch, record_property: Callable[[str, object], None]
) -> None:
    steps, words = found_after(monkeypatch, PLANTED[name])
    assert words and steps <= MOST_STEPS
    assert words.startswith("Violation: ") and "again: python benchmarks/world.py --seed " in words
    record_property("steps until found", steps)


@pytest.mark.parametrize(("stands_s", "is_found"), [(0.5, False), (35.0, True)])
def test_a_table_that_vanishes_counts_if_it_stood_long_enough_to_be_seen(
    stands_s: float, is_found: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A player looks each ten seconds, and needs two looks: 35 s are three, half a second is none."""
    _newer_ignored(monkeypatch)
    world = World(3, tmp_path)

    def story() -> Story:
        yield 60.0
        raw = world.new_plan().raw
        world.put_table(raw)
        world.table_is_right(raw)
        yield stands_s
        world.table.unlink()
        yield 600.0

    if not is_found:
        world.run(story())
        return
    with pytest.raises(Violation, match="another table than the newest good one"):
        world.run(story())
