"""What was found, in words, and as lines that can be read back."""

from __future__ import annotations

from dataclasses import replace

import yaml

from photoperiod.curves.shapes import Shape
from photoperiod.drive.grid import Row
from photoperiod.schedule.cursor import Cursor
from photoperiod.schedule.day_plan import ClockTime, Dawn, Dusk, Peak, Ramps
from photoperiod.schedule.day_reader import read_day
from photoperiod.schedule.found_text import found_sentences, has_fine_light, lines_to_paste
from photoperiod.schedule.moves import Found, FoundDay, FoundDose, FoundRows

ASKED = Ramps(
    dawn=Dawn(start=ClockTime(32_400), length_s=5400, shape=Shape.SINE),
    peaks=(
        Peak(light=0.8),
        Peak(light=0.6, ramp_start=ClockTime(54_000), ramp_s=1830, shape=Shape.SMOOTH),
    ),
    dusk=Dusk(end=ClockTime(75_600), start=ClockTime(72_000)),
)
NIGHT = replace(ASKED, ends_next_day=True, dusk=Dusk(end=ClockTime(3600), length_s=0))
FOUND = replace(
    ASKED,
    dawn=replace(ASKED.dawn, start=ClockTime(32_100)),
    peaks=(replace(ASKED.peaks[0], light=94.0844 / 100), *ASKED.peaks[1:]),
)
DOSE = FoundDose(zone="crest", wanted=(7.0, 7.0), dose=7.0123, within=0.021)
BAND = FoundDose(zone="sand", wanted=(3.0, 4.0), dose=3.5, within=0.0)


def test_what_was_found_is_said() -> None:
    day = FoundDay(channel="blue", asked=ASKED, found=FOUND)
    assert found_sentences(Found(doses=(DOSE, BAND), days=(day,))) == [
        "zone crest asks for 7 ± 0.021 mol m⁻² d⁻¹ and gets 7.012",
        "zone sand asks for 3 to 4 mol m⁻² d⁻¹ and gets 3.5",
        "channel blue: peak 94.08 % (file: 80 %), lit from 08:55 to 21:00 (file: 09:00 to 21:00)",
    ]


def test_a_day_that_gives_the_dose_stays() -> None:
    found = Found(doses=(DOSE,), days=())
    assert "nothing was changed" in found_sentences(found)[-1]
    assert lines_to_paste(found) == []


def test_a_dose_beside_changes_is_told_to_be_without_them() -> None:
    told = found_sentences(Found(doses=(DOSE,), days=(), is_beside_changes=True))[0]
    assert told.endswith("and gets 7.012 on dates on which no change acts")


def test_rows_that_were_moved_are_told() -> None:
    a, b = Row(32_400, 30, True), Row(36_000, 80, True)
    rows = FoundRows(channel="blue", fitted=(a, b), moved=(a, replace(b, count=81)))
    told = found_sentences(Found(doses=(DOSE,), days=(), rows=(rows,)))
    assert told[1] == "the days of the file give these doses"
    assert told[2].startswith("channel blue: 1 row of its table moved a little")


def test_lines_to_paste_are_read_back_as_the_same_day() -> None:
    for day in (FOUND, NIGHT):
        found = Found(doses=(), days=(FoundDay(channel="blue", asked=ASKED, found=day),))
        data = yaml.load("\n".join(lines_to_paste(found)), yaml.BaseLoader)
        assert list(data["channels"]) == ["blue"]
        read = data["channels"]["blue"]["day"]
        if "ends_next_day" in read:
            read["ends_next_day"] = read["ends_next_day"] == "true"
        again = read_day(Cursor(read, (), frozenset()))
        assert isinstance(again, Ramps)
        # a shape that is not written is linear
        peaks = tuple(
            replace(p, shape=p.shape or day.peaks[n].shape) for n, p in enumerate(again.peaks)
        )
        assert replace(again, peaks=peaks) == day


def test_light_with_more_than_two_decimals_is_fine() -> None:
    for percent, is_fine in ((94.0844, True), (94.0022, True), (94.08, False), (94.0, False)):
        peak = replace(ASKED.peaks[0], light=percent / 100)
        day = FoundDay(
            channel="blue", asked=ASKED, found=replace(ASKED, peaks=(peak, ASKED.peaks[1]))
        )
        assert has_fine_light(Found(doses=(), days=(day,))) == is_fine, percent
    assert not has_fine_light(Found(doses=(DOSE,), days=()))
