from __future__ import annotations

import pytest

from photoperiod.readings.faults import MOST_FAULTS, START, Faults, TooManyFaults


def test_a_finding_without_a_place_is_about_the_whole_file() -> None:
    faults = Faults()
    faults.add("PHO903", None, "it is empty")
    assert faults[0].source_range == START
    assert faults.has_errors


def test_notes_and_warnings_do_not_stop() -> None:
    faults = Faults()
    faults.add("PHO909", None, "corrected")
    faults.add("PHO906", None, "stands out")
    assert not faults.has_errors


def test_two_hundred_faults_are_enough() -> None:
    faults = Faults()
    with pytest.raises(TooManyFaults):
        for number in range(MOST_FAULTS + 1):
            faults.add("PHO904", None, str(number))
    assert len(faults) == MOST_FAULTS == 200


def test_warnings_do_not_end_the_reading() -> None:
    faults = Faults()
    for number in range(2 * MOST_FAULTS):
        faults.add("PHO906", None, str(number))
    assert len(faults) == 2 * MOST_FAULTS
