"""Hours burned and burn-in owed: by hand, split in two, and against a slow ledger."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.arrays import Bools
from photoperiod.tubes.hours import Dimmed, Pattern, TubeHours
from tests.conftest import drawn

DAY = 86_400
HOUR = 3600

#: Hours added up day by day in double precision [h].
HOURS_TOLERANCE = 1e-9

FIRST = dt.date(2027, 3, 1)


def days(n: int, first: dt.date = FIRST) -> list[dt.date]:
    return [first + dt.timedelta(days=i) for i in range(n)]


def run(ledger: TubeHours, dates: list[dt.date], lit: Bools, full: Bools, step_s: int,
        fitted: dt.datetime | None = None) -> TubeHours:  # fmt: skip
    return ledger.run(dates, Pattern.of(lit, full, step_s), fitted)


def mask(*spans: tuple[int, int]) -> np.ndarray:
    """Seconds of a day; a span may go across midnight."""
    found = np.zeros(DAY, dtype=bool)
    for start, end in spans:
        found[np.arange(start, end) % DAY] = True
    return found


# By hand ------------------------------------------------------------------------------------------

#: 12 h with linear ramps of an hour to 70 %: lit 09:00-21:00, never full.
LIT = mask((9 * HOUR, 21 * HOUR))
#: The same to full: undimmed for the 10 h between the ramps.
FULL = mask((10 * HOUR, 20 * HOUR))
NOWHERE = mask()


def test_a_tube_that_owes_nothing_only_burns() -> None:
    ledger = run(TubeHours(1900.0, 0.0), days(30), LIT, NOWHERE, 60)
    assert ledger.lit_hours == pytest.approx(1900 + 30 * 12, abs=HOURS_TOLERANCE)
    assert ledger.full_hours == 0.0
    assert ledger.owed_hours == 0.0
    assert ledger.paid_at is None
    assert (ledger.dimmed, ledger.edge_seconds) == ([], 0)


def test_a_day_to_70_percent_pays_nothing() -> None:
    ledger = run(TubeHours(0.0, 12.0), days(3), LIT, NOWHERE, 60)
    assert ledger.lit_hours == pytest.approx(36, abs=HOURS_TOLERANCE)
    assert ledger.owed_hours == 12.0
    assert ledger.dimmed == [Dimmed(date, 9 * HOUR, 12 * HOUR, 12.0) for date in days(3)]
    assert ledger.paid_at is None


def test_a_day_to_full_pays_between_its_ramps() -> None:
    # 12 h owed (NEMA LSD 23-2010: overnight, about 12 h at full). First day: 1 h of dawn with 12 h
    # owed, 10 h paid, 1 h of dusk with 2 h owed. Second day: dawn with 2 h owed, paid at 12:00.
    ledger = run(TubeHours(0.0, 12.0), days(3), LIT, FULL, 60)
    first, second = days(2)
    assert ledger.dimmed == [
        Dimmed(first, 9 * HOUR, HOUR, 12.0),
        Dimmed(first, 20 * HOUR, HOUR, 2.0),
        Dimmed(second, 9 * HOUR, HOUR, 2.0),
    ]
    assert ledger.paid_at == dt.datetime(2027, 3, 2, 12)
    assert ledger.owed_hours == 0.0
    assert ledger.lit_hours == pytest.approx(36, abs=HOURS_TOLERANCE)
    assert ledger.full_hours == pytest.approx(30, abs=HOURS_TOLERANCE)
    assert ledger.edge_seconds == 0


def test_hours_that_come_twice_or_never_are_those_that_pass() -> None:
    # Lit from 00:00 to 12:00, at full from 02:00 to 03:00; forward from 02:00 to 03:00, back at 03:00.
    lit, full = mask((0, 12 * HOUR)), mask((2 * HOUR, 3 * HOUR))
    shorter = {FIRST: ((0, 2 * HOUR), (3 * HOUR, DAY))}
    longer = {FIRST: ((0, 3 * HOUR), (2 * HOUR, DAY))}
    pattern = Pattern.of(lit, full, 60)
    for passing, hours in ((shorter, (11, 0)), ({}, (12, 1)), (longer, (13, 2))):
        tube = TubeHours(0.0, 0.0).run([FIRST], pattern, passing=passing)
        assert (tube.lit_hours, tube.full_hours) == hours
    # Fitted at 02:30: of the hour that comes twice, half counts twice.
    fitted = dt.datetime(2027, 3, 1, 2, 30)
    tube = TubeHours(0.0, 0.0).run([FIRST], pattern, fitted, passing=longer)
    assert (tube.lit_hours, tube.full_hours) == (10, 1)


def test_a_debt_is_paid_by_the_hours_that_pass() -> None:
    full = mask((2 * HOUR, 3 * HOUR))
    pattern = Pattern.of(full, full, 60)
    longer = {FIRST: ((0, 3 * HOUR), (2 * HOUR, DAY))}
    tube = TubeHours(0.0, 2.0).run([FIRST], pattern, passing=longer)
    assert (tube.owed_hours, tube.paid_at) == (0.0, dt.datetime(2027, 3, 2))
    shorter = {FIRST: ((0, 2 * HOUR), (3 * HOUR, DAY))}
    tube = TubeHours(0.0, 1.0).run([FIRST], pattern, passing=shorter)
    assert (tube.owed_hours, tube.paid_at) == (1.0, None)


def test_what_is_paid_at_the_end_of_a_day_is_paid_at_midnight() -> None:
    ledger = run(TubeHours(0.0, 2.0), days(1), mask((0, DAY)), mask((22 * HOUR, DAY)), 60)
    assert ledger.paid_at == dt.datetime(2027, 3, 2)
    assert ledger.owed_hours == 0.0
    assert ledger.dimmed == [Dimmed(FIRST, 0, 22 * HOUR, 2.0)]


def test_dimming_counts_only_until_the_debt_is_paid() -> None:
    # Full 08:00-10:00 with 1 h owed: paid at 09:00; dimmed afterwards is nobody's business.
    ledger = run(
        TubeHours(0.0, 1.0), days(1), mask((8 * HOUR, 20 * HOUR)), mask((8 * HOUR, 10 * HOUR)), 60
    )
    assert ledger.paid_at == dt.datetime(2027, 3, 1, 9)
    assert (ledger.dimmed, ledger.edge_seconds) == ([], 0)


def test_a_debt_of_a_fraction_of_a_second_is_paid_by_the_whole_second() -> None:
    ledger = run(TubeHours(0.0, 0.5 / HOUR), days(1), FULL, FULL, 60)
    assert ledger.paid_at == dt.datetime(2027, 3, 1, 10, 0, 1)
    assert ledger.owed_hours == 0.0


@pytest.mark.parametrize(("length", "is_edge"), [(1, True), (59, True), (60, True), (61, False)])
def test_edges_of_at_most_one_step_are_counted_but_not_reported(length: int, is_edge: bool) -> None:
    lit = mask((9 * HOUR - length, 12 * HOUR))
    full = mask((9 * HOUR, 12 * HOUR))
    ledger = run(TubeHours(0.0, 100.0), days(2), lit, full, 60)
    if is_edge:
        assert ledger.edge_seconds == 2 * length
        assert ledger.dimmed == []
    else:
        assert ledger.edge_seconds == 0
        assert ledger.dimmed == [
            Dimmed(FIRST, 9 * HOUR - length, length, 100.0),
            Dimmed(days(2)[1], 9 * HOUR - length, length, 97.0),
        ]


def test_a_dimmed_run_across_midnight_is_one_run() -> None:
    # 100 s around midnight are longer than a step of 60 s, though neither half is.
    lit = mask((DAY - 50 - HOUR, DAY + 50))
    full = mask((DAY - 50 - HOUR, DAY - 50))
    ledger = run(TubeHours(0.0, 100.0), days(3), lit, full, 60)
    assert ledger.dimmed


@pytest.mark.parametrize(
    ("debt", "paid_s", "paid_days"),
    [
        # 0.1 h = 360 s are three days of 120 s, whatever 0.1 − 3 · 120/3600 is in binary
        (0.1, 120, 3),
        (0.3, 360, 3),
        (0.7, 840, 3),
        (1.1, 360, 11),
    ],
)
def test_what_is_paid_stays_paid(debt: float, paid_s: int, paid_days: int) -> None:
    lit = mask((10 * HOUR, 12 * HOUR))
    full = mask((10 * HOUR, 10 * HOUR + paid_s))
    ledger = run(TubeHours(0.0, debt), days(paid_days + 5), lit, full, 60)
    when = dt.datetime.combine(days(paid_days)[-1], dt.time(10)) + dt.timedelta(seconds=paid_s)
    assert ledger.paid_at == when
    assert ledger.owed_hours == 0.0


# Fitting ------------------------------------------------------------------------------------------


def test_a_tube_fitted_in_the_middle_of_a_day_counts_from_then_on() -> None:
    # Fitted at 15:00: 6 h burn on the first day, of which 5 h are full.
    fitted = dt.datetime(2027, 3, 1, 15)
    ledger = run(TubeHours(5.0, 12.0), days(2), LIT, FULL, 60, fitted)
    assert ledger.lit_hours == pytest.approx(5 + 6 + 12, abs=HOURS_TOLERANCE)
    assert ledger.full_hours == pytest.approx(15, abs=HOURS_TOLERANCE)
    assert ledger.dimmed == [
        Dimmed(FIRST, 20 * HOUR, HOUR, 7.0),
        Dimmed(days(2)[1], 9 * HOUR, HOUR, 7.0),
    ]
    assert ledger.paid_at == dt.datetime(2027, 3, 2, 17)


def test_a_tube_fitted_in_the_middle_of_a_ramp_is_dimmed_from_then_on() -> None:
    ledger = run(TubeHours(0.0, 1.0), days(1), LIT, FULL, 60, dt.datetime(2027, 3, 1, 9, 30))
    assert ledger.dimmed == [Dimmed(FIRST, 9 * HOUR + 1800, 1800, 1.0)]
    assert ledger.lit_hours == pytest.approx(11.5, abs=HOURS_TOLERANCE)


def test_a_tube_that_owes_nothing_still_counts_from_its_fitting() -> None:
    ledger = run(TubeHours(0.0, 0.0), days(2), LIT, FULL, 60, dt.datetime(2027, 3, 1, 15))
    assert ledger.lit_hours == pytest.approx(18, abs=HOURS_TOLERANCE)
    assert ledger.full_hours == pytest.approx(15, abs=HOURS_TOLERANCE)
    assert ledger.paid_at is None


@pytest.mark.parametrize(
    "fitted", [dt.datetime(2027, 3, 5), dt.datetime(2027, 3, 20, 8), dt.datetime(2030, 1, 1)]
)
def test_a_fitting_after_the_last_day_changes_nothing(fitted: dt.datetime) -> None:
    ledger = run(TubeHours(7.0, 12.0), days(4), LIT, FULL, 60, fitted)
    assert ledger == TubeHours(7.0, 12.0)


def test_a_fitting_before_the_first_day_changes_nothing() -> None:
    old = run(TubeHours(7.0, 12.0), days(4), LIT, FULL, 60, dt.datetime(2026, 1, 1, 12))
    assert old == run(TubeHours(7.0, 12.0), days(4), LIT, FULL, 60)


def test_no_days_change_nothing() -> None:
    assert run(TubeHours(7.0, 12.0), [], LIT, FULL, 60) == TubeHours(7.0, 12.0)


def test_the_days_given_are_left_alone() -> None:
    lit, full = LIT.copy(), FULL.copy()
    run(TubeHours(0.0, 12.0), days(2), lit, full, 60, dt.datetime(2027, 3, 1, 15))
    assert (lit == LIT).all()
    assert (full == FULL).all()


# Against a slow ledger ----------------------------------------------------------------------------


@dataclass
class Slow:
    """A ledger second by second in whole numbers."""

    owed_s: Fraction
    lit_s: int = 0
    full_s: int = 0
    paid_at: dt.datetime | None = None
    dimmed: list[tuple[dt.date, int, int, Fraction]] = field(default_factory=list)
    edge_s: int = 0

    def run(
        self,
        dates: list[dt.date],
        lit: list[bool],
        full: list[bool],
        step_s: int,
        fitted: dt.datetime | None,
    ) -> Slow:
        for date in dates:
            midnight = dt.datetime.combine(date, dt.time())
            begin = 0 if fitted is None else (fitted - midnight) // dt.timedelta(seconds=1)
            run: tuple[int, Fraction] | None = None
            for second in range(DAY + 1):
                there = second < DAY and second >= begin
                burns = there and lit[second]
                undimmed = burns and full[second]
                if burns and not undimmed and self.owed_s > 0:
                    run = run or (second, self.owed_s)
                elif run:
                    length = second - run[0]
                    if length <= step_s:
                        self.edge_s += length
                    else:
                        self.dimmed.append((date, run[0], length, run[1]))
                    run = None
                self.lit_s += burns
                if undimmed:
                    self.full_s += 1
                    if self.owed_s > 0:
                        self.owed_s = max(self.owed_s - 1, Fraction(0))
                        if self.owed_s == 0:
                            self.paid_at = midnight + dt.timedelta(seconds=second + 1)
        return self


@st.composite
def day_masks(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    """What burns, and what of it is undimmed. Nothing burns at midnight."""
    lit, full = mask(), mask()
    now = draw(st.integers(1, 6 * HOUR))
    for _ in range(draw(st.integers(1, 3))):
        for which in draw(st.sampled_from([(0, 1, 0), (1,), (0,), (1, 0), (0, 1)])):
            length = draw(st.one_of(st.integers(1, 130), st.integers(1, 2 * HOUR)))
            end = min(now + length, DAY - 1)
            lit[now:end] = True
            full[now:end] = bool(which)
            now = end
        now = min(now + draw(st.integers(1, 2 * HOUR)), DAY - 1)
    return lit, full


ledgers = settings(max_examples=drawn(20))


@ledgers
@given(
    masks=day_masks(),
    owed_s=st.integers(0, 8 * HOUR),
    count=st.integers(1, 4),
    step_s=st.sampled_from([1, 60, 300]),
    fitted_s=st.one_of(st.none(), st.integers(-DAY, 3 * DAY)),
)
def test_any_ledger_is_kept_as_the_slow_one(
    masks: tuple[np.ndarray, np.ndarray],
    owed_s: int,
    count: int,
    step_s: int,
    fitted_s: int | None,
) -> None:
    lit, full = masks
    fitted = None
    if fitted_s is not None:
        fitted = dt.datetime.combine(FIRST, dt.time()) + dt.timedelta(seconds=fitted_s)
    found = run(TubeHours(100.0, owed_s / HOUR), days(count), lit, full, step_s, fitted)
    slow = Slow(Fraction(owed_s)).run(days(count), lit.tolist(), full.tolist(), step_s, fitted)
    assert found.lit_hours == pytest.approx(100 + slow.lit_s / HOUR, abs=HOURS_TOLERANCE)
    assert found.full_hours == pytest.approx(slow.full_s / HOUR, abs=HOURS_TOLERANCE)
    assert found.owed_hours == pytest.approx(float(slow.owed_s / HOUR), abs=HOURS_TOLERANCE)
    assert found.paid_at == slow.paid_at
    assert found.edge_seconds == slow.edge_s
    assert [(d.date, d.second, d.length_s) for d in found.dimmed] == [d[:3] for d in slow.dimmed]
    assert [d.owed_hours for d in found.dimmed] == pytest.approx(
        [float(d[3] / HOUR) for d in slow.dimmed], abs=HOURS_TOLERANCE
    )


@settings(max_examples=drawn(60))
@given(
    masks=day_masks(),
    owed_s=st.integers(0, 40 * HOUR),
    count=st.integers(1, 12),
    cut=st.integers(0, 12),
    step_s=st.sampled_from([1, 60, 300]),
    fitted_s=st.one_of(st.none(), st.integers(-DAY, 12 * DAY)),
)
def test_a_span_cut_in_two_gives_the_same_ledger(
    masks: tuple[np.ndarray, np.ndarray],
    owed_s: int,
    count: int,
    cut: int,
    step_s: int,
    fitted_s: int | None,
) -> None:
    lit, full = masks
    fitted = None
    if fitted_s is not None:
        fitted = dt.datetime.combine(FIRST, dt.time()) + dt.timedelta(seconds=fitted_s)
    dates = days(count)
    whole = run(TubeHours(3.0, owed_s / HOUR), dates, lit, full, step_s, fitted)
    parts = run(TubeHours(3.0, owed_s / HOUR), dates[:cut], lit, full, step_s, fitted)
    run(parts, dates[cut:], lit, full, step_s, fitted)
    assert parts == whole


@settings(max_examples=drawn(60))
@given(masks=day_masks(), owed_s=st.integers(1, 20 * HOUR), count=st.integers(1, 20))
def test_hours_at_full_and_only_they_pay(
    masks: tuple[np.ndarray, np.ndarray], owed_s: int, count: int
) -> None:
    lit, full = masks
    ledger = run(TubeHours(0.0, owed_s / HOUR), days(count), lit, full, 60)
    full_s = int(full.sum()) * count
    assert ledger.full_hours == pytest.approx(full_s / HOUR, abs=HOURS_TOLERANCE)
    assert ledger.owed_hours == pytest.approx(max(owed_s - full_s, 0) / HOUR, abs=HOURS_TOLERANCE)
    assert (ledger.paid_at is not None) is (full_s >= owed_s)
    assert ledger.lit_hours <= count * 24 + HOURS_TOLERANCE
    assert all(run.owed_hours > 0 and run.length_s > 60 for run in ledger.dimmed)


@pytest.mark.parametrize(("length", "is_edge"), [(299, True), (300, True), (301, False)])
def test_on_a_coarse_grid_an_edge_is_at_most_five_minutes(length: int, is_edge: bool) -> None:
    lit = mask((9 * HOUR - length, 12 * HOUR))
    ledger = run(TubeHours(0.0, 100.0), days(1), lit, mask((9 * HOUR, 12 * HOUR)), 900)
    assert (ledger.edge_seconds, len(ledger.dimmed)) == ((length, 0) if is_edge else (0, 1))


@pytest.mark.parametrize(("length", "is_edge"), [(899, True), (900, True), (901, False)])
def test_on_a_day_planned_at_full_an_edge_is_a_whole_step(length: int, is_edge: bool) -> None:
    lit, full = mask((9 * HOUR, 12 * HOUR + length)), mask((9 * HOUR, 12 * HOUR))
    planned = Pattern.of(lit, full, 900, is_planned_full=True)
    ledger = TubeHours(0.0, 100.0).run(days(1), planned)
    assert (ledger.edge_seconds, len(ledger.dimmed)) == ((length, 0) if is_edge else (0, 1))
    # a day by the plan beside it keeps its own edges of five minutes
    ledger.run(days(1, FIRST + dt.timedelta(days=1)), Pattern.of(lit, full, 900))
    assert len(ledger.dimmed) == (1 if is_edge else 2)


@pytest.mark.parametrize(("edge_s", "is_dark_or_full"), [(59, True), (60, True), (61, False)])
def test_a_day_with_edges_of_one_step_is_dark_or_full(edge_s: int, is_dark_or_full: bool) -> None:
    lit, full = mask((9 * HOUR, 12 * HOUR)), mask((9 * HOUR + edge_s, 12 * HOUR))
    assert Pattern.of(lit, full, 60).is_dark_or_full is is_dark_or_full


def test_a_day_that_is_never_full_is_not_dark_or_full() -> None:
    assert not Pattern.of(NOWHERE, NOWHERE, 60).is_dark_or_full
    assert not Pattern.of(mask((9 * HOUR, 9 * HOUR + 30)), NOWHERE, 60).is_dark_or_full
