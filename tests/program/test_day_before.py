"""What zones got on the day before, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from photoperiod.program.dated_tables import compile_program
from photoperiod.program.day_before import boundaries, last_light, middle_s, moved_s, way_to_rise
from photoperiod.tubes.hours import LastLight, LedgerState
from tests.changes.bench import ACCLIMATION, DARK, scheduled, span

HOUR = 3600

#: The middle is found from means of minutes [s].
MIDDLE_TOLERANCE_S = 1


def lit(*hours: tuple[float, float, float]) -> np.ndarray:
    ppfd = np.zeros(86_400)
    for begin, end, value in hours:
        ppfd[int(begin * HOUR) : int(end * HOUR)] = value
    return ppfd


def test_the_middle_of_a_day_is_that_of_its_light() -> None:
    assert middle_s(lit((9, 21, 100))) == pytest.approx(15 * HOUR, abs=MIDDLE_TOLERANCE_S)
    # across midnight: from 20 to 4 the middle is midnight
    across = middle_s(lit((20, 24, 50), (0, 4, 50)))
    assert across is not None
    assert min(across, 86_400 - across) == pytest.approx(0, abs=MIDDLE_TOLERANCE_S)


def test_the_middle_is_the_circular_mean() -> None:
    # By hand: two spikes at 6 and 12 h, twice as bright at 12: the direction of i + 2·(−1), so
    # atan2(1, −2) = 153.435° on the dial, 10.229 h.
    spikes = lit((6, 6 + 1 / 60, 100), (12, 12 + 1 / 60, 200))
    by_hand = math.degrees(math.atan2(1, -2)) / 15 * HOUR
    assert by_hand / HOUR == pytest.approx(10.229, abs=0.001)
    assert middle_s(spikes) == pytest.approx(by_hand, abs=31)  # a spike is a minute long


def test_light_around_the_clock_has_no_middle() -> None:
    assert middle_s(lit((0, 24, 10))) is None
    assert middle_s(np.zeros(86_400)) is None


def test_a_middle_moves_the_short_way() -> None:
    assert moved_s(15 * HOUR, 16 * HOUR) == HOUR
    assert moved_s(15 * HOUR, 14 * HOUR) == -HOUR
    assert moved_s(23.5 * HOUR, 0.5 * HOUR) == HOUR


@pytest.fixture(scope="module")
def dark():
    return compile_program(scheduled(DARK), span("2027-06-05", "2027-06-12"))


def test_each_table_is_held_against_the_one_before(dark) -> None:
    first, darkness, after = boundaries(dark, "crest")
    assert first.before is None
    assert darkness.before is not None and after.before is not None
    assert darkness.before.peak_ppfd == after.before.peak_ppfd == first.zone.peak_ppfd
    assert (darkness.before.dark_days, after.before.dark_days) == (0, 3)
    assert after.before.dli == pytest.approx(first.zone.dli.replay)
    assert not after.is_after_darkness


def test_the_ledger_goes_on_where_the_dates_are_cut(dark) -> None:
    schedule = scheduled(DARK)
    early = compile_program(schedule, span("2027-06-05", "2027-06-08"))
    light = last_light(early)
    assert light["crest"].dark_days == 2
    late = compile_program(schedule, span("2027-06-09", "2027-06-12"), LedgerState(light=light))
    whole = list(boundaries(dark, "crest"))[-1]
    cut = list(boundaries(late, "crest"))[-1]
    assert cut.date == whole.date
    assert cut.before == whole.before
    assert last_light(late) == last_light(dark)


def test_a_zone_that_was_never_lit_is_known_to_be_dark() -> None:
    program = compile_program(scheduled(DARK), span("2027-06-07", "2027-06-09"))
    assert last_light(program)["crest"] == LastLight(peak_ppfd=0.0, dark_days=3)


def test_steps_that_are_too_large_are_made_smaller() -> None:
    steep = ACCLIMATION.replace("from_dose_percent: 60", "from_dose_percent: 60, every_days: 14")
    found = compile_program(scheduled(steep), span("2027-04-14", "2027-04-15"))
    assert "a smaller `every_days`" in way_to_rise(found)
    assert "kind: acclimation" in way_to_rise(
        compile_program(scheduled(DARK), span("2027-06-07", "2027-06-07"))
    )
