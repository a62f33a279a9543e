"""From counts to light: floors, full, darkness, the nearest count."""

from __future__ import annotations

import itertools
import pickle
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.drive.ballast import BallastCurve, DarkKind, ResponseKind
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, LevelUnit, RelayKind, RelayMode, Rounding
from photoperiod.drive.light_path import LightPath
from tests.conftest import drawn

#: Light computed in two ways in double precision [fraction of full].
LIGHT_TOLERANCE = 1e-9
#: Volts compared after rounding to nanovolts [V].
VOLTS_TOLERANCE = 2e-9
#: Percents printed with two decimals [%].
PRINTED_PERCENT_TOLERANCE = 0.005
#: Volts printed with four decimals [V].
PRINTED_VOLTS_TOLERANCE = 5e-5

quick = settings(max_examples=drawn(150))

SQUARE = BallastCurve(
    kind="square-law", floor_volts=1.0, full_volts=10.0, floor_light=0.01, dark="relay"
)
STANDBY = BallastCurve(
    kind="linear",
    floor_volts=1.0,
    full_volts=9.0,
    floor_light=0.1,
    dark="standby",
    standby_volts=0.5,
)
#: A 10-bit converter of 10 mV a code: whole percents of level are whole codes.
TEN_MILLIVOLTS = Converter.nominal(10, 10.24, 10.0)
COLUMN = RelayMode(kind="column")
NONE = RelayMode(kind="none")
FOLLOWS = RelayMode(kind="follows-level", on_level_percent=7.0)


def path(
    ballast: BallastCurve = SQUARE,
    relay: RelayMode = COLUMN,
    unit: str = "percent",
    step: str = "1",
    converter: Converter | None = None,
) -> LightPath:
    return LightPath(
        levels=LevelGrid(unit=unit, step=Fraction(step), every_seconds=1, rounding="half-up"),
        converter=converter or Converter.nominal(12, 10.0, 10.0),
        ballast=ballast,
        relay=relay,
    )


def lit(p: LightPath, count: int, relay_on: bool) -> bool:
    return bool(p.is_lit(np.array([count]), np.array([relay_on]))[0])


def light(p: LightPath, count: int, relay_on: bool = True) -> float:
    return float(p.light(np.array([count]), np.array([relay_on]))[0])


def full(p: LightPath, count: int, relay_on: bool = True) -> bool:
    return bool(p.is_full(np.array([count]), np.array([relay_on]))[0])


def test_equal_channels_have_the_same_light_path() -> None:
    p = path()
    one, other = (
        LightPath.shared(p.levels, p.converter, replace(p.ballast), p.relay) for _ in range(2)
    )
    assert one is other
    assert one == p
    lamp = replace(p.ballast, floor_light=0.05)
    floor = LightPath.shared(p.levels, p.converter, lamp, p.relay).burning_light[0]
    assert floor == pytest.approx(0.05)
    # What the controller alone decides stands in memory once.
    assert LightPath.shared(p.levels, p.converter, lamp, p.relay).volts is one.volts


# A path by hand -----------------------------------------------------------------------------------


def test_a_path_comes_back_from_another_process_as_the_one_that_is_there() -> None:
    here = path()
    shared = LightPath.shared(here.levels, here.converter, here.ballast, here.relay, here.output)
    sent = pickle.dumps(shared)
    assert len(sent) < 2000  # its parts alone
    assert pickle.loads(sent) is shared


def test_a_path_by_hand() -> None:
    # 89 % of 10 V is 8.9 V, in steps of 10/4096 V that is 3645.44, code 3645, 8.8989 V; on a
    # square-law ballast (V/10)² of it is 79.19 %. 90 %: code 3686, 8.9990 V, 80.98 %. Arithmetic.
    p = path()
    assert p.codes[[89, 90]].tolist() == [3645, 3686]
    assert p.volts[89] == pytest.approx(8.8989, abs=PRINTED_VOLTS_TOLERANCE)
    assert 100 * light(p, 89) == pytest.approx(79.19, abs=PRINTED_PERCENT_TOLERANCE)
    assert 100 * light(p, 90) == pytest.approx(80.98, abs=PRINTED_PERCENT_TOLERANCE)


def test_full_is_what_the_last_code_gives() -> None:
    # 12 bits: 9.9976 V (DESIGN: "full"); on a square-law ballast 99.951 % of light at 10 V.
    p = path()
    assert p.top_count == 100
    assert p.most_light == pytest.approx((4095 / 4096) ** 2, abs=LIGHT_TOLERANCE)


# Undimmed -----------------------------------------------------------------------------------------


def test_only_the_top_is_full_on_a_ballast_that_rises_to_ten_volts() -> None:
    p = path()
    assert full(p, 100)
    assert not full(p, 99)
    assert not full(p, 100, relay_on=False)


def test_a_ballast_that_is_full_below_ten_volts_is_undimmed_there() -> None:
    # By hand: 10 % at 1 V and 100 % at 9 V are 11.25 % for each volt: 98.875 % at 8.9 V. More volts than
    # 9 V give no more light.
    p = path(replace(STANDBY, dark="relay"), converter=TEN_MILLIVOLTS)
    for count, undimmed in ((89, False), (90, True), (95, True), (100, True)):
        assert light(p, count) == pytest.approx(1.0 if undimmed else 0.98875, abs=LIGHT_TOLERANCE)
        assert full(p, count) is undimmed
    # and the count that is chosen for full light is one of them
    (chosen,) = p.nearest_counts(np.array([1.0]))
    assert full(p, int(chosen))


def test_a_coarse_grid_that_ends_below_the_top_code_is_never_full() -> None:
    # Steps of 25 % under a port of 9.9 V end at 7.5 V: 56 % of the light is not full.
    p = path(step="25", converter=Converter.nominal(12, 10.0, 9.9))
    assert p.top_count == 3
    assert light(p, 3) == pytest.approx(0.5625, abs=1e-3)
    assert not full(p, 3)


# Relays, standby, never dark ----------------------------------------------------------------------


@pytest.mark.parametrize("relay_on", [True, False])
@pytest.mark.parametrize("count", [0, 3, 10, 50, 100])
def test_with_a_relay_column_the_row_decides(count: int, relay_on: bool) -> None:
    p = path()
    assert lit(p, count, relay_on) is relay_on
    wanted = max((p.volts[count] / 10) ** 2, 0.01) if relay_on else 0.0
    assert light(p, count, relay_on) == pytest.approx(wanted, abs=LIGHT_TOLERANCE)
    assert (p.dark_by_row, p.dark_by_level, p.can_be_dark) == (True, False, True)


@pytest.mark.parametrize("relay_on", [True, False])
@pytest.mark.parametrize(
    ("count", "burns"), [(0, False), (6, False), (7, True), (10, True), (100, True)]
)
def test_a_relay_that_follows_closes_at_its_level(count: int, burns: bool, relay_on: bool) -> None:
    p = path(relay=FOLLOWS)  # the rows hold no relay state; what stands there does not matter
    assert lit(p, count, relay_on) is burns
    assert light(p, count, relay_on) > 0 if burns else light(p, count, relay_on) == 0
    assert (p.dark_by_row, p.dark_by_level, p.can_be_dark) == (False, True, True)
    assert p.first_lit_count == 7
    assert p.floor_count == 10


def test_below_the_floor_a_following_relay_holds_the_floor() -> None:
    assert light(path(relay=FOLLOWS), 8) == pytest.approx(0.01, abs=LIGHT_TOLERANCE)


def test_a_following_relay_switches_a_standby_ballast_too() -> None:
    p = path(STANDBY, FOLLOWS)  # the relay closes at 7 %, standby ends at 5 %
    assert [lit(p, count, True) for count in (4, 6, 7, 10)] == [False, False, True, True]


@pytest.mark.parametrize("relay", [COLUMN, NONE], ids=lambda relay: str(relay.kind))
@pytest.mark.parametrize(
    ("count", "burns", "undefined"),
    # 4 % → code 164, 0.4004 V; 5 % → code 205, 0.5005 V; 9 % → 0.9009 V; 10 % → 1.0010 V
    [(0, False, False), (4, False, False), (5, True, True), (9, True, True), (10, True, False),
     (100, True, False)],
)  # fmt: skip
def test_a_standby_ballast_is_dark_by_its_volts(
    count: int, burns: bool, undefined: bool, relay: RelayMode
) -> None:
    p = path(replace(STANDBY, keeps_mains=True), relay)
    for relay_on in (True, False):
        assert lit(p, count, relay_on) is burns
    assert bool(p.is_standby[count]) is not burns
    assert bool(p.is_undefined[count]) is undefined
    if undefined:  # the least a burning lamp gives
        assert light(p, count) == pytest.approx(0.1, abs=LIGHT_TOLERANCE)
    assert (p.dark_by_row, p.dark_by_level, p.can_be_dark) == (False, True, True)
    assert p.lights_by_level


@pytest.mark.parametrize("count", [0, 4, 5, 10, 100])
def test_the_relay_of_a_standby_ballast_makes_it_dark_at_any_level(count: int) -> None:
    p = path(STANDBY, COLUMN)
    assert not lit(p, count, False)
    assert light(p, count, False) == 0.0
    assert lit(p, count, True) is (count >= 5)  # and below 0.5 V it is dark with its mains on
    assert (p.dark_by_row, p.dark_by_level, p.lights_by_level) == (True, True, False)


@pytest.mark.parametrize(
    ("code", "undefined"),
    # Codes of 40 mV and a floor at 1.0 V: code 24 is 0.96 V, code 25 is 1.00 V, code 26 is 1.04 V.
    [(24, True), (25, False), (26, False)],
)
def test_a_code_below_the_floor_volts_gives_no_floor(code: int, undefined: bool) -> None:
    p = path(STANDBY, NONE, "code", "1", Converter.nominal(8, 10.24, 10.0))
    assert p.volts[code] == pytest.approx(code * 0.04, abs=1e-12)
    assert bool(p.is_undefined[code]) is undefined
    assert p.first_lit_count == p.floor_count == 25


def test_no_row_stands_in_the_undefined_band() -> None:
    p = path(STANDBY, NONE)
    assert p.first_lit_count == p.floor_count == 10
    for wanted in np.linspace(0, 1, 101):
        (count,) = p.nearest_counts(np.array([wanted]))
        assert not p.is_undefined[count]
        assert not p.is_standby[count]


def test_there_is_no_undefined_band_where_standby_reaches_the_floor() -> None:
    p = path(replace(STANDBY, standby_volts=1.0), NONE)
    assert not p.is_undefined.any()
    assert p.is_standby.sum() == 10  # 0 … 9 %


def test_other_ballasts_have_no_undefined_band() -> None:
    for ballast in (SQUARE, replace(STANDBY, dark="never")):
        assert not path(ballast).is_undefined.any()
        assert not path(ballast).is_standby.any()


@pytest.mark.parametrize("relay", [COLUMN, FOLLOWS, NONE], ids=lambda relay: str(relay.kind))
@pytest.mark.parametrize("relay_on", [True, False])
@pytest.mark.parametrize("count", [0, 5, 10, 100])
def test_what_is_never_dark_always_burns(count: int, relay_on: bool, relay: RelayMode) -> None:
    p = path(replace(STANDBY, dark="never"), relay)
    assert lit(p, count, relay_on)
    assert light(p, count, relay_on) >= 0.1
    assert not p.can_be_dark


# The nearest count --------------------------------------------------------------------------------


@st.composite
def paths(draw: st.DrawFn) -> LightPath:
    floor_volts = draw(st.floats(0.2, 3.0))
    dark = draw(st.sampled_from(["relay", "standby", "never"]))
    ballast = BallastCurve(
        kind=draw(st.sampled_from(["linear", "square-law", "log-law"])),
        floor_volts=floor_volts,
        full_volts=draw(st.floats(8.0, 10.0)),
        floor_light=draw(st.floats(0.001, 0.3)),
        dark=dark,
        standby_volts=floor_volts * draw(st.floats(0.3, 1.0)) if dark == "standby" else 0.0,
    )
    kind = draw(st.sampled_from(["column", "follows-level", "none"]))
    if dark == "relay" and kind == "none":
        kind = "column"
    unit, step = draw(
        st.sampled_from(
            [("percent", "1"), ("percent", "0.5"), ("percent", "10"), ("percent", "20"),
             ("millivolts", "50"), ("code", "1"), ("code", "7")]
        )
    )  # fmt: skip
    offset = draw(st.floats(0.0, 0.05))
    top = draw(st.floats(9.0, 11.0))
    bits = draw(st.sampled_from([8, 10, 12]))
    return path(
        ballast,
        RelayMode(kind=kind, on_level_percent=draw(st.floats(0.5, 1.0)) * floor_volts * 10),
        unit,
        step,
        Converter.two_point(bits, (0, offset), (2**bits - 1, top), draw(st.floats(8.0, 10.0))),
    )


def usable(p: LightPath, count: int) -> bool:
    """Whether a row may hold the lamp lit at a count: it burns there, and by how much is defined."""
    if p.ballast.dark == "never" or (p.ballast.dark == "relay" and p.relay.kind == "column"):
        return True
    volts = p.volts[count]
    level = float(p.level_percents[count])
    if p.relay.kind == "follows-level" and level < p.relay.on_level_percent - 1e-9:
        return False
    if p.ballast.dark == "standby":
        floor = p.ballast.floor_volts - 1e-9
        return bool(volts >= p.ballast.standby_volts and volts >= floor)
    return True


@quick
@given(p=paths(), shares=st.lists(st.floats(0, 1), min_size=1, max_size=20))
def test_no_usable_count_is_nearer(p: LightPath, shares: list[float]) -> None:
    # Counts below the one that holds the floor give the floor too, or nearly; a line from them
    # would leave it later, so rows do not stand there.
    candidates = [c for c in range(p.floor_count, p.top_count + 1) if usable(p, c)]
    if not candidates:
        return
    wanted = np.array([p.ballast.floor_light + (1 - p.ballast.floor_light) * s for s in shares])
    found = p.nearest_counts(wanted)
    ladder = p.burning_light[candidates]
    for want, count in zip(wanted, found, strict=True):
        assert usable(p, int(count))
        best = float(np.abs(ladder - want).min())
        assert abs(float(p.burning_light[count]) - want) <= best + LIGHT_TOLERANCE


@quick
@given(p=paths(), shares=st.lists(st.floats(0, 1), min_size=2, max_size=20))
def test_more_light_never_gets_a_lower_count(p: LightPath, shares: list[float]) -> None:
    found = p.nearest_counts(np.array(sorted(shares))).tolist()
    assert found == sorted(found)


@quick
@given(p=paths())
def test_the_floor_is_held_at_the_usable_count_nearest_to_its_volts(p: LightPath) -> None:
    candidates = [c for c in range(p.top_count + 1) if usable(p, c)]
    if not candidates:
        return
    assert p.first_lit_count == candidates[0]
    assert usable(p, p.floor_count)
    # Of the counts that give the floor, or at most 0.2 % of full more; if there is none, the least.
    least = p.ballast.floor_light + 0.002
    candidates = [c for c in candidates if p.burning_light[c] <= least] or candidates[:1]
    best = min(abs(p.volts[c] - p.ballast.floor_volts) for c in candidates)
    assert abs(p.volts[p.floor_count] - p.ballast.floor_volts) <= best + VOLTS_TOLERANCE


@quick
@given(p=paths(), wanted=st.floats(0, 1), most=st.floats(0, 1))
def test_no_count_above_a_ceiling_is_used(p: LightPath, wanted: float, most: float) -> None:
    ceiling = p.ceiling_for(most)
    (count,) = p.nearest_counts(np.array([wanted]), ceiling)
    lowest = next((c for c in range(p.top_count + 1) if usable(p, c)), p.top_count)
    assert count <= max(ceiling, lowest)
    if p.burning_light[lowest] <= most:
        assert p.burning_light[count] <= most + LIGHT_TOLERANCE


def test_a_ceiling_at_the_floor_is_kept_on_a_coarse_grid() -> None:
    # Steps of 20 %: 0 V gives 1 %, 2 V gives 4 %; a ceiling of 1 % leaves only count 0.
    p = path(step="20")
    ceiling = p.ceiling_for(0.01)
    assert ceiling == 0
    assert p.nearest_counts(np.array([0.5]), ceiling).tolist() == [0]


@quick
@given(p=paths(), most=st.floats(0, 1))
def test_a_ceiling_is_the_largest_count_below_it(p: LightPath, most: float) -> None:
    ceiling = p.ceiling_for(most)
    if p.burning_light[0] <= most:
        assert p.burning_light[ceiling] <= most + LIGHT_TOLERANCE
        assert (p.burning_light[ceiling + 1 :] > most).all()


def test_two_counts_as_near_give_the_lower_one() -> None:
    # 10 mV a code, 10 % at 1 V, 100 % at 10 V: light equals level; 40.5 % is half way.
    even = replace(SQUARE, kind="linear", floor_light=0.1)
    p = path(even, converter=TEN_MILLIVOLTS)
    assert p.burning_light[40] == pytest.approx(0.4, abs=LIGHT_TOLERANCE)
    assert p.nearest_counts(np.array([0.404, 0.405, 0.406])).tolist() == [40, 40, 41]


def test_the_lowest_of_counts_that_give_the_same_is_taken() -> None:
    p = path(replace(STANDBY, dark="relay"), converter=TEN_MILLIVOLTS)  # full at 9 V
    assert p.nearest_counts(np.array([1.0])).tolist() == [90]


def test_a_night_that_cannot_be_dark_is_held_at_the_floor_on_a_coarse_grid() -> None:
    # Steps of 20 %: 0 V gives the floor of 1 %, 2 V would give 4 %.
    p = path(replace(SQUARE, dark="never"), NONE, step="20")
    (count,) = p.nearest_counts(np.array([0.01]))
    assert light(p, int(count)) == pytest.approx(0.01, abs=LIGHT_TOLERANCE)


@quick
@given(p=paths())
def test_light_never_falls_with_the_count(p: LightPath) -> None:
    assert all(a <= b + LIGHT_TOLERANCE for a, b in itertools.pairwise(p.burning_light))
    assert p.most_light >= p.burning_light.max() - LIGHT_TOLERANCE
    assert (p.volts <= 10.0).all()


# An output with volts of its own ------------------------------------------------------------------


def _path_of_output(output: Converter | None) -> LightPath:
    return LightPath(
        levels=LevelGrid(unit=LevelUnit.PERCENT, step=Fraction(1), every_seconds=1,
                         rounding=Rounding.HALF_UP),
        converter=Converter.nominal(12, 10.0, 10.0),
        relay=RelayMode(kind=RelayKind.COLUMN),
        ballast=BallastCurve(kind=ResponseKind.LINEAR, floor_volts=1.0, full_volts=10.0,
                             floor_light=0.1, dark=DarkKind.RELAY),
        output=output,
    )  # fmt: skip


def test_codes_are_those_of_the_controller_and_volts_those_of_the_output() -> None:
    # by hand: an output that gives 10.54 V where 10 V are meant has 1.054 times all volts
    plain, strong = _path_of_output(None), _path_of_output(Converter.nominal(12, 10.54, 10.0))
    assert strong.codes.tolist() == plain.codes[: strong.codes.size].tolist()
    assert strong.volts == pytest.approx(1.054 * plain.volts[: strong.volts.size])
    assert strong.level_percents[50] == 50
    # light at level 50 %: code 2048, 5.27 V, (5.27 − 1)/9 × 0.9 + 0.1
    assert strong.burning_light[50] == pytest.approx((5.27 - 1) / 9 * 0.9 + 0.1)


def test_no_count_gives_more_than_ten_volts() -> None:
    # 10/1.054 = 9.488 V meant: code 3886 gives 10.0000 V; level 94 % is code 3850, 95 % is 3891
    strong = _path_of_output(Converter.nominal(12, 10.54, 10.0))
    assert strong.top_count == 94
    assert strong.full_code == 3885 or strong.volts_of(np.array([3886]))[0] <= 10.0
    assert strong.volts.max() <= 10.0
    assert strong.most_light == pytest.approx(1.0, abs=0.001)


def test_an_output_that_is_weak_is_not_full() -> None:
    weak = _path_of_output(Converter.nominal(12, 9.0, 10.0))
    assert weak.top_count == 100
    # code 4095 gives 8.9978 V: (8.9978 − 1)/9 × 0.9 + 0.1
    assert weak.most_light == pytest.approx((8.9978 - 1) / 9 * 0.9 + 0.1, abs=1e-4)


def test_what_one_code_adds_is_that_of_the_output_at_those_volts() -> None:
    assert _path_of_output(None).volts_per_code_at(5) == 10 / 4096
    bent = Converter.measured(12, ((400, 1.0), (2000, 5.0), (3600, 9.4)), 10.0)
    path = _path_of_output(bent)
    assert path.volts_per_code_at(3) == pytest.approx(4.0 / 1600)
    assert path.volts_per_code_at(8) == pytest.approx(4.4 / 1600)
