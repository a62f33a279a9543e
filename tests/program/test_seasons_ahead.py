"""Other processes choose tables ahead: the same tables, whoever was faster, and whatever becomes of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from typing import Any

import pytest

from photoperiod.days.signals import DayFault
from photoperiod.errors import WrongUse
from photoperiod.program import season_runs, seasons_ahead
from photoperiod.program.dated_tables import compile_program
from photoperiod.program.dates import DateSpan
from photoperiod.program.day_sequence import DaySequence
from photoperiod.program.season_runs import Begin
from photoperiod.program.seasons_ahead import Helpers
from photoperiod.schedule.model import Schedule
from tests.program.bench import scheduled
from tests.program.test_season_types import MOON, TEXT

#: The controller's clock in Lisbon changes on 2027-03-28 at 01:00: there all tables begin anew.
SPAN = DateSpan(dt.date(2027, 3, 22), dt.date(2027, 4, 2))


@pytest.fixture(autouse=True)
def _small_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(seasons_ahead, "PIECE_DAYS", 4)


@pytest.fixture
def schedule() -> Schedule:
    asked = "dated_tables: {light_error_percent: 2, dose_error_percent: 9}\n"
    return scheduled((TEXT + MOON).replace("SEASONS", asked).replace("CLOCK", "civil"))


class Counted:
    """How many seasons were looked for, here and in threads that help."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.in_order = self.ahead = 0
        season_from = season_runs.season_from

        def counted(name: str) -> Callable[..., Any]:
            def call(*arguments: Any, **named: Any) -> Any:
                setattr(self, name, getattr(self, name) + 1)
                return season_from(*arguments, **named)

            return call

        monkeypatch.setattr(season_runs, "season_from", counted("in_order"))
        monkeypatch.setattr(seasons_ahead, "season_from", counted("ahead"))


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counted:
    return Counted(monkeypatch)


def chosen(schedule: Schedule, executor: Executor | None, workers: int = 1) -> list[Any]:
    """All that is told of the tables of the dates."""
    helpers = None if executor is None else Helpers(executor, workers)
    sequence = DaySequence(schedule, SPAN, None, helpers)
    types = dict.fromkeys(sequence.on(date) for date in SPAN)
    return [
        sequence.season_counts,
        *(
            (each.season, [(id, f.rows, f.certificate, f.path) for id, f in each.fits.items()])
            for each in types
        ),
    ]


def test_tables_are_the_same_and_are_found_ahead(schedule: Schedule, counted: Counted) -> None:
    alone = chosen(schedule, None)
    in_order = counted.in_order
    assert in_order >= 8 and counted.ahead == 0
    for workers in (1, 2):
        counted.in_order = 0
        with ThreadPoolExecutor(workers) as threads:
            assert chosen(schedule, threads, workers) == alone
        assert counted.ahead >= in_order and counted.in_order <= in_order // 4


def test_a_process_gives_back_what_this_one_would(schedule: Schedule) -> None:
    alone = chosen(schedule, None)
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as processes:
        assert chosen(schedule, processes) == alone


class Failing(ThreadPoolExecutor):
    """Takes so much work, fails at each, and then takes none."""

    def __init__(self, takes: int, error: type[Exception]) -> None:
        super().__init__(1)
        self.left, self.error = takes, error

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        if not self.left:
            raise self.error("cannot schedule new futures after shutdown")
        self.left -= 1

        def fail() -> None:
            raise MemoryError

        return super().submit(fail)


@pytest.mark.parametrize("error", [RuntimeError, OSError])
@pytest.mark.parametrize("takes", [0, 1, 3, 99])
def test_what_helpers_fail_at_is_done_here(
    schedule: Schedule, takes: int, error: type[Exception]
) -> None:
    alone = chosen(schedule, None)
    with Failing(takes, error) as failing:
        assert chosen(schedule, failing) == alone


def test_seasons_that_never_begin_alike_are_not_taken(
    schedule: Schedule, monkeypatch: pytest.MonkeyPatch, counted: Counted
) -> None:
    alone = chosen(schedule, None)
    monkeypatch.setattr(seasons_ahead, "Begin", lambda first, _: Begin(first, 9))
    counted.in_order = 0
    with ThreadPoolExecutor(1) as threads:
        assert chosen(schedule, threads) == alone
    assert counted.in_order > 0


def test_a_fault_of_a_day_is_told_as_without_helpers(
    schedule: Schedule, monkeypatch: pytest.MonkeyPatch
) -> None:
    season_from = season_runs.season_from

    def faulty(span: Any, begin: Begin, **named: Any) -> Any:
        if begin.first > 5:
            raise DayFault([])
        return season_from(span, begin, **named)

    monkeypatch.setattr(season_runs, "season_from", faulty)
    monkeypatch.setattr(seasons_ahead, "season_from", faulty)
    for executor in (None, ThreadPoolExecutor(1)):
        with pytest.raises(DayFault):
            chosen(schedule, executor)


def test_progress_rises_to_all_dates_once(schedule: Schedule) -> None:
    told: list[tuple[int, int]] = []
    with ThreadPoolExecutor(1) as threads:
        DaySequence(schedule, SPAN, lambda *done: told.append(done), Helpers(threads))
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert told[-1] == (SPAN.days, SPAN.days) and len(told) > 3


def test_one_piece_is_not_worth_help(schedule: Schedule, counted: Counted) -> None:
    wide = "dated_tables: {light_error_percent: 4, dose_error_percent: 4}\n"
    sun = scheduled(TEXT.replace("SEASONS", wide).replace("CLOCK", "standard"))
    with ThreadPoolExecutor(1) as threads:
        chosen(sun, threads)
    assert counted.ahead == 0 and counted.in_order > 0


def test_helpers_are_an_executor_and_one_worker_or_more(schedule: Schedule) -> None:
    with pytest.raises(TypeError, match="str is no Executor"):
        Helpers("pool")  # type: ignore[arg-type]
    with ThreadPoolExecutor(1) as threads, pytest.raises(WrongUse, match="0 workers"):
        Helpers(threads, 0)
    with pytest.raises(TypeError, match="str is no Helpers"):
        compile_program(schedule, SPAN, helpers="pool")  # type: ignore[arg-type]
