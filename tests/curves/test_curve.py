"""Ramps and days: closed forms against quadrature, calculus and the CIE 1976 lightness."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.curves.curve import (
    Curve,
    Profile,
    Samples,
    Slice,
    day_middles,
    day_seconds,
    lines_between,
    ramp_profile,
)
from photoperiod.curves.segment import Segment
from tests.conftest import drawn
from tests.curves.formulas import (
    FORMULAS,
    QUADRATURE_TOLERANCE,
    SHAPE_NAMES,
    even_lightness,
    kink_share,
    quadrature,
)

HOUR = 3600
DAY = 24 * HOUR

#: Two ways of computing one number in double precision.
ROUNDING_TOLERANCE = 1e-12
#: Printed with five decimals at most.
PRINTED_DLI_TOLERANCE = 5e-6
#: What `Curve.integral` promises where parts overlap [relative].
OVERLAP_TOLERANCE = 1e-6

#: mol per m² and day of 1 µmol m⁻² s⁻¹ held for an hour: definition; as in E. Runkle, "Increasing
#: the daily light integral", Greenhouse Product News.
MOL_PER_UMOL_HOUR = 0.0036

quick = settings(max_examples=drawn(200))


def at(curve: Segment | Profile | Curve, second: float) -> float:
    return float(curve.light(np.array([second], dtype=np.float64))[0])


def train(
    start: int, dawn: int, light: float, dusk: int, end: int, shape: str = "linear"
) -> Profile:
    return ramp_profile(start, [(start, dawn, light, shape)], end, dusk, shape)


shapes = st.sampled_from(SHAPE_NAMES)
levels = st.floats(0, 1, allow_subnormal=False)
shares = st.floats(0, 1, allow_subnormal=False)


@st.composite
def segments(draw: st.DrawFn) -> Segment:
    start = draw(st.integers(0, DAY))
    return Segment(
        start, start + draw(st.integers(1, DAY)), draw(levels), draw(levels), draw(shapes)
    )


@pytest.mark.parametrize("shape", SHAPE_NAMES)
def test_a_rising_ramp_follows_its_formula(shape: str) -> None:
    ramp = Segment(HOUR, 2 * HOUR, 0.2, 0.9, shape)
    for p in np.linspace(0, 1, 101)[:-1]:
        wanted = FORMULAS[shape](float(p), 0.2, 0.9)
        assert at(ramp, HOUR + HOUR * p) == pytest.approx(wanted, abs=ROUNDING_TOLERANCE)


@pytest.mark.parametrize("shape", SHAPE_NAMES)
def test_a_ramp_begins_and_ends_at_its_levels(shape: str) -> None:
    for low, high in ((0.2, 0.9), (0.9, 0.2)):
        ramp = Segment(0, HOUR, low, high, shape)
        assert at(ramp, 0) == pytest.approx(low, abs=ROUNDING_TOLERANCE)
        assert at(ramp, HOUR) == pytest.approx(high, abs=ROUNDING_TOLERANCE)


@quick
@given(segment=segments(), a=shares, b=shares)
def test_partial_integrals_are_the_quadrature_of_the_light(
    segment: Segment, a: float, b: float
) -> None:
    length = segment.end_s - segment.start_s
    low, high = sorted((segment.start_s + a * length, segment.start_s + b * length))
    rising = segment.end_light >= segment.start_light
    kink = kink_share(*sorted((segment.start_light, segment.end_light)))
    kink = segment.start_s + length * (kink if rising else 1 - kink)
    wanted = quadrature(lambda t: at(segment, t), low, high, kink) if high > low else 0.0
    # The kink of the perceptual shape is hit to rounding of the times only.
    assert segment.integral(low, high) == pytest.approx(
        wanted, abs=1e3 * QUADRATURE_TOLERANCE * length
    )


@quick
@given(segment=segments(), a=shares, b=shares, c=shares)
def test_the_integral_is_additive(segment: Segment, a: float, b: float, c: float) -> None:
    length = segment.end_s - segment.start_s
    low, middle, high = sorted(segment.start_s + share * length for share in (a, b, c))
    whole = segment.integral(low, high)
    parts = segment.integral(low, middle) + segment.integral(middle, high)
    assert parts == pytest.approx(whole, abs=10 * QUADRATURE_TOLERANCE * length)


@quick
@given(segment=segments())
def test_the_integral_ends_where_the_segment_ends(segment: Segment) -> None:
    whole = segment.integral(segment.start_s, segment.end_s)
    assert segment.integral(segment.start_s - 500.0, segment.end_s + 500.0) == whole
    assert segment.integral(segment.end_s, segment.end_s + 500.0) == 0.0
    assert segment.integral(segment.start_s - 500.0, segment.start_s) == 0.0


@quick
@given(segment=segments(), share=shares)
def test_light_stays_within_the_ends(segment: Segment, share: float) -> None:
    low, high = sorted((segment.start_light, segment.end_light))
    light = at(segment, segment.start_s + share * (segment.end_s - segment.start_s))
    assert low - ROUNDING_TOLERANCE <= light <= high + ROUNDING_TOLERANCE


@quick
@given(segment=segments(), share=shares)
def test_a_falling_ramp_is_the_mirror_image_of_a_rising_one(segment: Segment, share: float) -> None:
    mirrored = Segment(
        segment.start_s, segment.end_s, segment.end_light, segment.start_light, segment.shape
    )
    length = segment.end_s - segment.start_s
    forth, back = segment.start_s + share * length, segment.end_s - share * length
    assert at(mirrored, back) == pytest.approx(at(segment, forth), abs=1e-9)
    whole = segment.integral(segment.start_s, segment.end_s)
    assert mirrored.integral(segment.start_s, segment.end_s) == pytest.approx(
        whole, abs=10 * QUADRATURE_TOLERANCE * length
    )


@pytest.mark.parametrize("shape", SHAPE_NAMES)
def test_falling_examples_are_mirrored_in_time_and_not_upside_down(shape: str) -> None:
    # A dusk gives at a quarter before its end what dawn gives a quarter after its beginning.
    dusk = Segment(0, HOUR, 1.0, 0.0, shape)
    assert at(dusk, 0.75 * HOUR) == pytest.approx(
        FORMULAS[shape](0.25, 0.0, 1.0), abs=ROUNDING_TOLERANCE
    )


# Shape factors ------------------------------------------------------------------------------------

#: Peak and length of the days below.
PEAK_PPFD, LENGTH_H = 250.0, 12
SIX = 6 * HOUR

#: name, day of 12 h and peak 1, factor, DLI at a peak of 250 µmol m⁻² s⁻¹; factors by calculus
FACTORS = [
    ("square", train(SIX, 0, 1.0, 0, 18 * HOUR), 1.0, 10.8),
    ("half-sine", train(SIX, SIX, 1.0, SIX, 18 * HOUR, "sine"), 2 / math.pi, 6.87549),
    ("triangle", train(SIX, SIX, 1.0, SIX, 18 * HOUR), 0.5, 5.4),
    ("sin²", train(SIX, SIX, 1.0, SIX, 18 * HOUR, "smooth"), 0.5, 5.4),
    ("trapezoid 0.5 h", train(SIX, HOUR // 2, 1.0, HOUR // 2, 18 * HOUR), 11.5 / 12, 10.35),
    ("trapezoid 1 h", train(SIX, HOUR, 1.0, HOUR, 18 * HOUR), 11 / 12, 9.9),
    ("trapezoid 2 h", train(SIX, 2 * HOUR, 1.0, 2 * HOUR, 18 * HOUR), 10 / 12, 9.0),
    ("trapezoid 3 h", train(SIX, 3 * HOUR, 1.0, 3 * HOUR, 18 * HOUR), 9 / 12, 8.1),
]


@pytest.mark.parametrize(("day", "factor", "dli"), [f[1:] for f in FACTORS],
                         ids=[f[0] for f in FACTORS])  # fmt: skip
def test_days_have_the_shape_factors_of_calculus(day: Profile, factor: float, dli: float) -> None:
    hours = Curve((day,)).integral() / HOUR
    assert hours == pytest.approx(factor * LENGTH_H, rel=ROUNDING_TOLERANCE)
    assert PEAK_PPFD * hours * MOL_PER_UMOL_HOUR == pytest.approx(dli, abs=PRINTED_DLI_TOLERANCE)


def test_a_ramp_is_not_a_left_sum() -> None:
    # 0 → 250 µmol m⁻² s⁻¹ in 1 h is 0.45 mol; a left sum at 15 min steps finds 0.3375 (arithmetic).
    ramp = Segment(0, HOUR, 0.0, 1.0)
    dose = PEAK_PPFD * ramp.integral(0, HOUR) / 1e6
    assert dose == pytest.approx(0.45, rel=ROUNDING_TOLERANCE)
    left_sum = PEAK_PPFD * sum(at(ramp, t) * 900 for t in range(0, HOUR, 900)) / 1e6
    assert left_sum == pytest.approx(0.3375, rel=ROUNDING_TOLERANCE)


def test_a_half_sine_day_is_a_half_sine() -> None:
    day = FACTORS[1][1]
    for minute in range(0, 12 * 60, 7):
        wanted = math.sin(math.pi * minute / (12 * 60))
        assert at(day, SIX + 60 * minute) == pytest.approx(wanted, abs=ROUNDING_TOLERANCE)


def test_a_smooth_day_is_a_squared_sine() -> None:
    day = FACTORS[3][1]
    for minute in range(0, 12 * 60, 7):
        wanted = math.sin(math.pi * minute / (12 * 60)) ** 2
        assert at(day, SIX + 60 * minute) == pytest.approx(wanted, abs=ROUNDING_TOLERANCE)


# Days ---------------------------------------------------------------------------------------------


def test_a_ramp_of_no_minutes_is_a_step() -> None:
    day = train(9 * HOUR, 0, 0.8, 0, 21 * HOUR)
    assert at(day, 9 * HOUR - 1) == 0.0
    assert at(day, 9 * HOUR) == 0.8
    assert at(day, 21 * HOUR - 1) == 0.8
    assert at(day, 21 * HOUR) == 0.0
    assert day.integral() == pytest.approx(0.8 * 12 * HOUR, rel=ROUNDING_TOLERANCE)
    assert day.corners() == {9 * HOUR, 21 * HOUR}


def test_a_step_between_peaks_changes_at_its_second() -> None:
    peaks = [(9 * HOUR, HOUR, 0.4, "linear"), (13 * HOUR, 0, 0.9, "linear")]
    day = ramp_profile(9 * HOUR, peaks, 21 * HOUR, HOUR, "linear")
    assert at(day, 13 * HOUR - 1) == 0.4
    assert at(day, 13 * HOUR) == 0.9
    # by hand: ½ · 0.4 + 3 · 0.4 + 7 · 0.9 + ½ · 0.9 hours
    assert day.integral() / HOUR == pytest.approx(8.15, rel=ROUNDING_TOLERANCE)


def test_a_train_of_peaks_rises_and_falls_by_the_shape_of_each_ramp() -> None:
    peaks = [
        (8 * HOUR, HOUR, 0.5, "linear"),
        (11 * HOUR, HOUR, 1.0, "smooth"),
        (14 * HOUR, 2 * HOUR, 0.5, "sine"),
    ]
    day = ramp_profile(8 * HOUR, peaks, 20 * HOUR, HOUR, "perceptual")
    assert at(day, 8.5 * HOUR) == pytest.approx(0.25, abs=ROUNDING_TOLERANCE)
    assert at(day, 10 * HOUR) == 0.5
    assert at(day, 11.25 * HOUR) == pytest.approx(
        0.5 + 0.5 * math.sin(math.pi / 8) ** 2, abs=ROUNDING_TOLERANCE
    )
    # falling by `sine`: the mirror image, so half way down it is sin(π/4) above the lower level
    assert at(day, 15 * HOUR) == pytest.approx(0.5 + 0.5 * math.sqrt(0.5), abs=ROUNDING_TOLERANCE)
    assert at(day, 19.5 * HOUR) == pytest.approx(
        even_lightness(0.5, 0.0, 0.5), abs=ROUNDING_TOLERANCE
    )
    assert day.corners() == {h * HOUR for h in (8, 9, 11, 12, 14, 16, 19, 20)}


def test_a_day_across_midnight_shines_into_the_morning() -> None:
    night = train(20 * HOUR, HOUR // 2, 0.9, HOUR // 2, 32 * HOUR)
    for hour, light in ((0, 0.9), (7.25, 0.9), (7.75, 0.45), (8, 0.0), (12, 0.0), (20, 0.0),
                        (20.25, 0.45), (23.99, 0.9)):  # fmt: skip
        assert at(night, hour * HOUR) == pytest.approx(light, abs=ROUNDING_TOLERANCE)
    assert night.integral() / HOUR == pytest.approx(0.9 * 11.5, rel=ROUNDING_TOLERANCE)
    assert night.corners() == {20 * HOUR, 20 * HOUR + 1800, 7 * HOUR + 1800, 8 * HOUR}


def test_a_day_of_24_hours_leaves_no_gap_and_no_overlap() -> None:
    day = train(9 * HOUR, HOUR, 0.8, HOUR, 33 * HOUR)
    light = day.light(day_middles())
    assert light.shape == (DAY,)
    assert (light > 0).all()
    assert light.sum() / HOUR == pytest.approx(0.8 * 23, rel=ROUNDING_TOLERANCE)
    assert day.integral() / HOUR == pytest.approx(0.8 * 23, rel=ROUNDING_TOLERANCE)


@pytest.mark.parametrize("start_h", [0, 9, 20])
def test_a_curve_repeats_every_day(start_h: int) -> None:
    # 86,400 is allowed, and is the midnight of the next day
    curve = Curve((train(start_h * HOUR, 0, 0.7, 0, (start_h + 6) * HOUR),))
    assert at(curve, DAY) == at(curve, 0)


def test_the_brightest_of_overlapping_parts_wins() -> None:
    day = train(9 * HOUR, HOUR, 0.8, HOUR, 21 * HOUR)
    moon = Profile((Segment(21 * HOUR, 33 * HOUR + 1800, 0.02, 0.02),))
    curve = Curve((day, moon))
    for second, light in (
        (0, 0.02),
        (9 * HOUR, 0.02),
        (9 * HOUR + 45, 0.02),  # dawn gives 1 %
        (9 * HOUR + 135, 0.03),  # dawn gives 3 %
        (9 * HOUR + 1800, 0.4),
        (15 * HOUR, 0.8),
        (21 * HOUR, 0.02),
    ):
        assert at(curve, second) == pytest.approx(light, abs=ROUNDING_TOLERANCE)
    # By hand: day 8.8 h = 31,680 s; moon alone 12 h × 0.02 = 864 s; until dawn reaches 2 % after
    # 90 s the moon adds ½ · 0.02 · 90 = 0.9 s.
    assert curve.integral() == pytest.approx(32_544.9, rel=OVERLAP_TOLERANCE)
    assert curve.corners() == day.corners() | moon.corners()


@pytest.mark.parametrize("shape", SHAPE_NAMES)
def test_the_integral_of_overlapping_parts_is_close_to_a_finer_one(shape: str) -> None:
    day = train(9 * HOUR, 90 * 60, 0.8, 45 * 60, 21 * HOUR, shape)
    moon = Profile((Segment(20 * HOUR, 34 * HOUR, 0.037, 0.037),))
    fine = (np.arange(DAY * 16) + 0.5) / 16
    wanted = float(np.maximum(day.light(fine), moon.light(fine)).sum()) / 16
    assert Curve((day, moon)).integral() == pytest.approx(wanted, rel=OVERLAP_TOLERANCE)


@quick
@given(
    start=st.integers(0, 23),
    lit=st.integers(2, 10),
    gap=st.integers(0, 4),
    low=levels,
    high=levels,
    shape=shapes,
)
def test_parts_that_do_not_overlap_add_up_in_closed_form(
    start: int, lit: int, gap: int, low: float, high: float, shape: str
) -> None:
    first = train(start * HOUR, HOUR, high, HOUR, (start + lit) * HOUR, shape)
    begin = start + lit + gap
    second = Profile((Segment(begin % 24 * HOUR, begin % 24 * HOUR + 2 * HOUR, low, low),))
    together = Curve((first, second)).integral()
    assert together == pytest.approx(first.integral() + second.integral(), abs=1e-6)


def test_a_curve_keeps_the_shape_of_the_times_it_is_asked_for() -> None:
    curve = Curve((train(9 * HOUR, HOUR, 0.8, HOUR, 21 * HOUR),))
    times = np.array([[0.0, 9.5 * HOUR], [15.0 * HOUR, 20.5 * HOUR]])
    assert curve.light(times) == pytest.approx(np.array([[0.0, 0.4], [0.8, 0.4]]))
    assert Curve(()).light(times).tolist() == [[0.0, 0.0], [0.0, 0.0]]
    assert Curve(()).integral() == 0.0


def test_the_seconds_of_a_day() -> None:
    assert day_seconds().shape == day_middles().shape == (DAY,)
    assert (day_seconds()[0], day_seconds()[-1]) == (0.0, DAY - 1.0)
    assert (day_middles()[0], day_middles()[-1]) == (0.5, DAY - 0.5)


# Straight lines between samples ---------------------------------------------------------------------


@quick
@given(
    values=st.lists(levels, min_size=1, max_size=6),
    step_s=st.integers(1, 90),
    offset_s=st.sampled_from([0.0, 0.5]),
)
def test_lines_between_samples_are_those_of_numpy(
    values: list[float], step_s: int, offset_s: float
) -> None:
    places = np.arange(len(values)) * float(step_s)
    at = np.arange(step_s * (len(values) - 1)) + offset_s
    expected = np.interp(at, places, values)
    assert lines_between(np.array(values), step_s, offset_s).tolist() == expected.tolist()


@quick
@given(
    start_s=st.integers(-3 * HOUR, DAY + HOUR),
    values=st.lists(levels, min_size=1, max_size=6),
    step_s=st.integers(1, 2 * HOUR),
    window=st.tuples(st.integers(-HOUR, 2 * DAY), st.integers(-HOUR, 2 * DAY)),
    shift_s=st.integers(-DAY, HOUR),
)
def test_samples_give_each_second_what_numpy_interpolates(
    start_s: int, values: list[float], step_s: int, window: tuple[int, int], shift_s: int
) -> None:
    places = start_s + np.arange(len(values)) * float(step_s)
    part = Slice(Samples.of(start_s, step_s, np.array(values)), min(window), max(window), shift_s)
    for times in (day_seconds(), day_middles()):
        own = times - shift_s
        expected = np.interp(own, places, values, left=0.0, right=0.0)
        expected[(own < min(window)) | (own >= max(window))] = 0.0
        assert np.array_equal(part.light(times), expected)


@quick
@given(
    dark=st.tuples(st.integers(0, 5), st.integers(0, 5)),
    values=st.lists(st.one_of(st.just(0.0), levels), max_size=6),
    start_s=st.integers(-HOUR, HOUR),
    step_s=st.integers(1, 90),
    ends=st.tuples(st.integers(-2 * HOUR, 2 * HOUR), st.integers(-2 * HOUR, 2 * HOUR)),
)
def test_what_is_dark_around_samples_is_not_kept_and_not_missed(
    dark: tuple[int, int],
    values: list[float],
    start_s: int,
    step_s: int,
    ends: tuple[int, int],
) -> None:
    day = np.array([*[0.0] * dark[0], *values, *[0.0] * dark[1], 0.0, 0.0])
    signal = Samples.of(start_s, step_s, day)
    lit = np.flatnonzero(day)
    # one dark sample before, where there is one, and two after
    kept = lit[-1] + 3 - max(lit[0] - 1, 0) if lit.size else 2
    assert signal.values.size == kept
    places = start_s + np.arange(day.size) * float(step_s)
    at = np.linspace(places[0] - step_s, places[-1] + step_s, 50)
    assert signal.raw(at) == pytest.approx(
        np.interp(at, places, day, left=0.0, right=0.0), abs=ROUNDING_TOLERANCE
    )
    begin, stop = min(ends), max(ends)
    # the trapezoids between the samples and the ends
    knots = np.unique(np.clip([*places, begin, stop], begin, stop))
    light = np.interp(knots, places, day, left=0.0, right=0.0)
    area = float(((light[1:] + light[:-1]) / 2 * np.diff(knots)).sum())
    if day[0] == 0 or not places[0] > begin:  # a step up would be one between two knots
        assert signal.raw_integral(begin, stop) == pytest.approx(area, abs=1e-9)
    bright = start_s + int(day.argmax()) * step_s
    assert (bright in signal.raw_corners()) == bool(lit.size)


def test_dark_samples_are_dark() -> None:
    signal = Samples.of(60, 60, np.zeros(5))
    assert signal.raw_integral(0, 600) == 0.0
    assert not signal.raw_corners()
    assert signal.most_light == 0.0
    assert not Slice(signal, 0, DAY, 0).light(day_seconds()).any()
