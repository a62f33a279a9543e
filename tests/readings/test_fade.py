"""How fast tubes fade, from a series."""

from __future__ import annotations

import datetime as dt
import math
import random
from dataclasses import replace

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.readings.fade import Fade, fade_of, fade_yaml, forecast
from photoperiod.readings.faults import Faults
from tests.conftest import drawn
from tests.readings.bench import csv, readings_of, told

HEAD = "date,lit_hours,ppfd_umol_m2_s"

#: LRC/NLPIP, Lighting Answers 6(1), 2002, as quoted in REFERENCES: more than 95 % after 8,000 h.
ALPHA = -math.log(0.95) / 8000


def series(noise: float = 0.0, seed: int = 0, alpha: float = ALPHA, end: int = 13) -> list[str]:
    dice, rows = random.Random(seed), []
    for month in range(end):
        hours = 100 + 280 * month
        light = 120 * math.exp(-alpha * (hours - 100)) * dice.gauss(1, noise)
        rows.append(f"{dt.date(2026, 1, 1) + dt.timedelta(days=28 * month)},{hours},{light:.6f}")
    return rows


def found_in(rows: list[str], head: str = HEAD) -> tuple[Fade | None, Faults]:
    faults = Faults()
    return fade_of(readings_of(*rows, head=head, use="series"), faults), faults


def good(rows: list[str]) -> Fade:
    fade, faults = found_in(rows)
    assert fade is not None and not faults, faults
    return fade


def test_a_published_loss_is_found_again() -> None:
    fade = good(series())
    # by hand: α = −ln 0.95 / 8000 = 6.41e-6 per hour, 1 − e^(−0.00641) = 0.639 % within 1,000 h
    assert fade.alpha.value == pytest.approx(6.41e-6, rel=1e-3)
    assert fade.loss == pytest.approx(0.00639, rel=1e-3)
    assert fade.light_at_declared == pytest.approx(120, rel=1e-6)
    assert fade.hours_per_day == pytest.approx(10)


def test_the_interval_of_the_loss_covers_the_truth_at_its_rate() -> None:
    truth, covered = 1 - math.exp(-1000 * 2e-5), 0
    for seed in range(400):
        fade, _ = found_in(series(noise=0.005, seed=seed, alpha=2e-5))
        assert fade is not None
        covered += fade.loss_low <= truth <= fade.loss_high
    # 95 % of 400 is 380, three standard deviations of a binomial count are 13
    assert covered == pytest.approx(380, abs=13)


def test_a_forecast_by_hand() -> None:
    # e^(−2e-5 t) = 0.95 after ln(1/0.95)/2e-5 = 2564.7 h from 100 h on; ten hours a day
    fade = good(series(alpha=2e-5))
    found = forecast(fade, 0.95)
    assert found is not None
    assert found.hours == pytest.approx(100 + 2564.66, abs=0.1)
    assert found.date == dt.date(2026, 1, 1) + dt.timedelta(days=256)
    assert found.earliest is not None and found.latest is not None
    assert found.earliest <= found.date <= found.latest


def test_a_forecast_does_not_reach_farther_than_six_times_the_readings() -> None:
    # TM-21, TM-28: the readings span 3,360 h, so 20,260 h is as far as they reach
    fade = good(series(alpha=2e-5))
    at_reach = math.exp(-2e-5 * (6 * 3360))
    assert forecast(fade, at_reach + 0.002) is not None
    assert forecast(fade, at_reach - 0.002) is None


def test_tubes_that_do_not_show_a_loss_get_no_date() -> None:
    # noise alone: by chance the light falls a little, but the interval holds no loss at all
    fade = next(
        each
        for each in (good(series(noise=0.01, alpha=0.0, seed=seed)) for seed in range(30))
        if each.alpha.low < 0 < each.alpha.value
    )
    assert forecast(fade, 0.999) is None


def test_without_dates_there_are_hours_alone() -> None:
    fade = replace(good(series(alpha=2e-5)), hours_per_day=None)
    found = forecast(fade, 0.95)
    assert found is not None and found.date is None


def test_the_line_to_paste_is_one_of_the_language() -> None:
    data = yaml.safe_load(fade_yaml(good(series())))
    assert data == {"depreciation": {"kind": "exponential", "loss_percent_per_1000_h": 0.639}}


def test_new_tubes_within_a_series_are_seen() -> None:
    rows = [*series(end=6), "2026-07-01,150,121"]
    fade, faults = found_in(rows)
    assert fade is None
    assert told(faults, csv(*rows, head=HEAD)) == [("PHO914", 8, "150")]


@pytest.mark.parametrize(
    ("column", "one", "other"),
    [("channel", "blue", "white"), ("zone", "crest", "sand"), ("point", "a", "b"),
     ("volts", "10", "8"), ("depth_cm", "10", "20")],
)  # fmt: skip
def test_a_series_is_of_one_thing(column: str, one: str, other: str) -> None:
    rows = [f"{row},{one if at < 4 else other}" for at, row in enumerate(series())]
    fade, faults = found_in(rows, f"{HEAD},{column}")
    assert fade is None
    assert told(faults, csv(*rows, head=f"{HEAD},{column}")) == [("PHO914", 6, other)]


def test_a_stray_is_named_and_used() -> None:
    rows = series()
    rows[5] = rows[5].replace(",119.", ",160.").replace(",118.", ",160.")
    fade, faults = found_in(rows)
    assert fade is not None
    assert [(each.code, each.source_range.line) for each in faults if each.source_range] == [
        ("PHO906", 7)
    ]


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        (["2026-01-01,100,120", "2026-02-01,400,119"], "PHO908"),
        (["2026-01-01,100,120", "2026-02-01,100,119", "2026-03-01,100,118"], "PHO908"),
        (["2026-01-01,100,120", "2026-02-01,400,0", "2026-03-01,700,118"], "PHO904"),
    ],
)
def test_what_tells_no_fading(rows: list[str], code: str) -> None:
    fade, faults = found_in(rows)
    assert fade is None
    assert [each.code for each in faults] == [code]


@settings(max_examples=drawn(60))
@given(
    st.floats(-2e-5, 8e-5), st.floats(5, 900), st.lists(st.integers(0, 9000), min_size=4, unique=True),
    st.randoms(use_true_random=False),
)  # fmt: skip
def test_any_law_is_found_again_in_any_order(
    alpha: float, light: float, hours: list[int], dice: random.Random
) -> None:
    rows = [f"{h},{light * math.exp(-alpha * h):.9f}" for h in hours]
    dice.shuffle(rows)
    fade, faults = found_in(rows, "lit_hours,ppfd_umol_m2_s")
    assert fade is not None and not faults
    assert fade.alpha.value == pytest.approx(alpha, abs=1e-9)
    assert fade.alpha.low <= fade.alpha.value <= fade.alpha.high
    assert fade.light_at_declared == pytest.approx(light * math.exp(-alpha * 100), rel=1e-5)
    assert (fade.first_hours, fade.last_hours) == (min(hours), max(hours))


def test_a_short_series_that_fades_much_has_no_strays() -> None:
    # three readings near each other and one a year later: 12 % less is the law, no slip
    rows = [
        "2026-01-01,100,120",
        "2026-01-08,170,119.4",
        "2026-01-15,240,119.0",
        "2026-12-30,3600,105",
    ]
    fade, faults = found_in(rows)
    assert fade is not None and not faults
