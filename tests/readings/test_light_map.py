"""Points, and what each channel alone gives there at full."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.arrays import Floats
from photoperiod.readings.faults import Faults
from photoperiod.readings.light_map import at_full_only, light_map
from tests.conftest import drawn
from tests.readings.bench import HEAD, csv, good_map, map_of, readings_of, told

ZONES = "zone,point,channel,level_percent,ppfd_umol_m2_s,immersion_applied"


def test_a_repeated_point_is_averaged_and_counts_once() -> None:
    found = good_map("1,2,3,blue,100,100,yes,", "1,2,3,blue,100,106,yes,", "9,9,9,blue,100,50,yes,")
    # by hand: (100 + 106) / 2
    assert found.full["blue"].tolist() == [103, 50]
    assert found.readings == ((0, 1), (2,))


def test_a_channel_that_was_not_read_at_a_point_is_not_known_there() -> None:
    found = good_map("1,2,3,blue,100,100,yes,", "9,9,9,white,100,50,yes,")
    assert found.known("blue").tolist() == [True, False]
    assert found.known("white").tolist() == [False, True]


def test_readings_below_full_are_raised_by_the_curve_of_the_ballast() -> None:
    # square law by hand: at 8 V (8/10)² = 64 % of the light, so 64 stands for 100
    readings = readings_of("1,2,3,blue,80,64,yes,")
    found = light_map(readings, lambda _, volts: (volts / 10) ** 2, Faults())
    assert found is not None
    assert found.full["blue"][0] == pytest.approx(100)


@pytest.mark.parametrize(
    ("level", "words"), [("80", "was not at full"), ("40", "gave 16 % of its light")]
)
def test_full_light_is_not_told_by_dim_readings(level: str, words: str) -> None:
    raw = csv(f"1,2,3,blue,{level},64,yes,")
    readings, faults = readings_of(f"1,2,3,blue,{level},64,yes,"), Faults()
    curve = at_full_only if level == "80" else lambda _, volts: (volts / 10) ** 2
    assert light_map(readings, curve, faults) is None
    assert words in faults[0].message
    assert told(faults, raw) == [("PHO908", 2, level)]


def test_channels_that_were_on_together_are_solved_for() -> None:
    # by hand: blue 100; blue + white 160, so white 60; all three 175, so violet 15
    found = good_map(
        "1,2,3,blue,100,100,yes,", "1,2,3,blue+white,100,160,yes,",
        "1,2,3,blue+white+violet,100,175,yes,",
    )  # fmt: skip
    solved = {id: float(values[0]) for id, values in found.full.items()}
    assert solved == pytest.approx({"blue": 100, "white": 60, "violet": 15})


def test_more_readings_than_channels_are_a_least_squares_fit() -> None:
    # normal equations by hand of b = 100, w = 60, b + w = 163: each gets a third of the 3 too much
    found = good_map(
        "1,2,3,blue,100,100,yes,", "1,2,3,white,100,60,yes,", "1,2,3,blue+white,100,163,yes,"
    )
    assert found.full["blue"][0] == pytest.approx(101)
    assert found.full["white"][0] == pytest.approx(61)


def test_too_few_readings_name_the_lines_and_what_is_missing() -> None:
    rows = ("1,2,3,blue,100,100,yes,", "1,2,3,white+violet,100,60,yes,")
    found = map_of(*rows)
    assert found.map is None
    assert told(found.faults, csv(*rows)) == [("PHO908", 3, "white+violet")]
    assert found.faults[0].message == (
        "3 channels (blue, violet, white) can't be told apart by the readings of this point, in lines"
        " 2, 3: 1 too few"
    )
    assert found.faults[0].help == "read one of them alone there: violet, white"


def test_the_same_reading_twice_tells_no_more() -> None:
    rows = ("1,2,3,blue+white,100,160,yes,", "1,2,3,blue+white,100,161,yes,")
    assert map_of(*rows).map is None


def test_less_than_nothing_is_named() -> None:
    found = map_of("1,2,3,blue,100,100,yes,", "1,2,3,blue+white,100,60,yes,")
    assert [each.code for each in found.faults] == ["PHO906"]
    assert "'white' would give -40" in found.faults[0].message


def test_readings_of_a_zone_are_points_of_their_own_unless_they_are_named() -> None:
    found = good_map("crest,,blue,100,100,yes", "crest,,blue,100,120,yes",
                     "crest,a,blue,100,90,yes", "crest,a,blue,100,110,yes", head=ZONES)  # fmt: skip
    assert found.full["blue"].tolist() == [100, 120, 100]
    assert found.point_text(0) == "zone crest"
    assert found.point_text(2) == "zone crest, point a"


def test_channels_together_need_a_place() -> None:
    rows = ("crest,,blue+white,100,100,yes", "crest,,blue,100,60,yes")
    found = map_of(*rows, head=ZONES)
    assert told(found.faults, csv(*rows, head=ZONES)) == [("PHO908", 2, "blue+white")]
    named = good_map(*(row.replace(",,", ",a,") for row in rows), head=ZONES)
    assert named.full["white"].tolist() == pytest.approx([40])


def test_a_reading_is_somewhere() -> None:
    rows = ("1,2,3,blue,100,100,yes,", "1,,3,blue,100,60,yes,")
    assert told(map_of(*rows).faults, csv(*rows)) == [("PHO904", 3, "1")]


def test_other_water_acts_on_the_depth_alone() -> None:
    # Beer-Lambert by hand: 0.5 per metre more over 40 cm is e^(−0.2) = 0.8187; at the surface nothing
    found = good_map(
        "1,2,40,blue,100,100,yes,", "1,2,0,blue,100,100,yes,", "1,2,40,white,100,50,yes,"
    )
    after = found.in_other_water("blue", 0.5)
    assert after.full["blue"][:2].tolist() == pytest.approx([81.87, 100], abs=0.01)
    assert after.full["white"].tolist()[0] == 50
    assert found.in_other_water("blue", -0.5).full["blue"][0] == pytest.approx(122.14, abs=0.01)


@pytest.mark.parametrize(("kd", "depth_m"), [(0.62, 5.3), (0.37, 8.9)])
def test_beer_lambert_backwards(kd: float, depth_m: float) -> None:
    # 41.2 mol at the surface are 1.55 mol at 5.3 to 8.9 m for Kd 0.62 to 0.37: public analysis of Kāneʻohe
    # Bay (Jacobson 2005), recomputed, as in REFERENCES
    surface = good_map(f"1,2,{depth_m * 100:g},blue,100,41.2,yes,")
    below = surface.in_other_water("blue", kd).full["blue"][0]
    assert below == pytest.approx(1.55, abs=0.03)


LIGHT = st.floats(1, 300)


@given(st.lists(st.tuples(LIGHT, LIGHT, LIGHT), min_size=1, max_size=6), st.floats(0.5, 5))
def test_a_brighter_tank_is_a_brighter_map(points: list[tuple[float, ...]], factor: float) -> None:
    def full(scale: float) -> dict[str, Floats]:
        rows = []
        for x, (a, b, c) in enumerate(points):
            sums = {"a": a, "a+b": a + b, "a+b+c": a + b + c}
            rows += [f"{x},0,0,{on},100,{light * scale:.6f},yes," for on, light in sums.items()]
        return dict(good_map(*rows, head=HEAD).full)

    once, more = full(1.0), full(factor)
    truth = np.array(points).T
    for id, expected in zip("abc", truth, strict=True):
        assert once[id] == pytest.approx(expected, abs=1e-4)
        assert more[id] == pytest.approx(factor * expected, abs=1e-4)


#: Light of three channels at a place, and with which of them each other reading was taken.
SETS = ("blue", "white", "violet", "blue+white", "white+violet", "blue+white+violet")


@settings(max_examples=drawn(60))
@given(st.tuples(*[st.integers(20, 400)] * 3), st.permutations(SETS), st.integers(3, 6))
def test_what_was_planted_is_solved_for_in_any_order(
    planted: tuple[int, ...], sets: list[str], size: int
) -> None:
    light = dict(zip(("blue", "white", "violet"), planted, strict=True))
    used = sets[:size]
    matrix = [[id in each.split("+") for id in light] for each in used]
    known = {id for each in used for id in each.split("+")}
    rows = [f"1,2,3,{each},100,{sum(light[id] for id in each.split('+'))},yes," for each in used]
    found = map_of(*rows)
    if np.linalg.matrix_rank(matrix) < len(known):
        assert found.map is None and [each.code for each in found.faults] == ["PHO908"]
        return
    assert found.map is not None
    solved = {id: float(values[0]) for id, values in found.map.full.items()}
    assert solved == pytest.approx({id: light[id] for id in known})
