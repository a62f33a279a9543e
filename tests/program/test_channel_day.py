"""What a day's tables give: a path worked by hand, and the rows played by another player."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from photoperiod.arrays import Floats
from photoperiod.drive.grid import Row
from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.dated_tables import compile_program
from photoperiod.schedule.model import PpfdSpread
from tests.program.bench import (
    DAY,
    EXAMPLES,
    HOUR,
    MOL_PER_UMOL_HOUR,
    PLAYER_TOLERANCE,
    PPFD_TOLERANCE,
    PRINTED_DLI_TOLERANCE,
    PRINTED_PERCENT_TOLERANCE,
    PRINTED_VOLTS_TOLERANCE,
    changed,
    compiled,
    of_a_day,
    scheduled,
)
from tests.program.plain_player import at_full, plain_data, played, volts_of, without_mains

# Another player -----------------------------------------------------------------------------------


@functools.cache
def light_of_rows(example: Path, id: str) -> Floats:
    """The light of every second of a channel of an example, by the other player."""
    program = of_a_day(example.read_text(encoding="utf-8"))
    return played(program.channels[id].fit.rows, plain_data(example), id)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: str(path.stem))
def test_another_player_of_the_rows_finds_the_same_doses(example: Path) -> None:
    text = example.read_text(encoding="utf-8")
    program = of_a_day(text)
    data = plain_data(example)
    assert set(program.channels) == set(data["channels"])
    lights = {id: light_of_rows(example, id) for id in program.channels}
    for id, c in program.channels.items():
        light = lights[id]
        assert math.fsum(light) / HOUR == pytest.approx(
            c.full_light_hours.replay, rel=PLAYER_TOLERANCE
        )
        assert (light > 0).sum() == c.lit_seconds
        assert c.most_volts == pytest.approx(
            max(
                volts_of(data["controller"], int(n), data["channels"][id].get("converter"))
                for n in np.unique(c.replay.counts)
            )
        )
        assert c.most_volts <= 10.0
        watts = data["ballasts"][data["channels"][id]["ballast"]].get("watts")
        if watts is None:
            assert c.energy_kwh is None
        else:
            floor = (
                data["ballasts"][data["channels"][id]["ballast"]]["floor"]["light_percent"] / 100
            )
            power = np.where(
                light > 0,
                watts["floor"] + (watts["full"] - watts["floor"]) * (light - floor) / (1 - floor),
                watts.get("dark", 0) * ~without_mains(c.fit.rows, data, id),
            )
            count = data["channels"][id].get("ballast_count", 1)
            assert c.energy_kwh == pytest.approx(
                math.fsum(power) * count / HOUR / 1000, rel=PLAYER_TOLERANCE
            )
    for zone, z in program.zones.items():
        mean, ppfd = np.zeros(DAY), np.zeros(DAY)
        for id in data["channels"]:
            both = at_full(example, data, id, zone)
            if both is None:
                assert zone not in program.channels[id].dli
                continue
            full, most = both
            mean += full * lights[id]
            ppfd += most * lights[id]
            assert program.channels[id].dli[zone].replay == pytest.approx(
                full * math.fsum(lights[id]) / 1e6, rel=PLAYER_TOLERANCE
            )
        assert z.dli.replay == pytest.approx(math.fsum(mean) / 1e6, rel=PLAYER_TOLERANCE)
        assert z.peak_ppfd == pytest.approx(ppfd.max(), rel=PLAYER_TOLERANCE)
        assert ppfd[z.peak_second] == pytest.approx(ppfd.max(), rel=PLAYER_TOLERANCE)
        # PMC8256845: symbionts were harmed by 0.15 µmol m⁻² s⁻¹ at night
        assert z.photoperiod_s == (ppfd >= 0.15).sum()
        assert z.steepest_rise_per_minute == pytest.approx(
            (np.roll(ppfd, -60) - ppfd).max(), rel=PLAYER_TOLERANCE
        )
        if z.zone.ek_ppfd is None:
            assert z.saturation_hours is None
        else:  # Jassby & Platt, Limnology and Oceanography 21:540-547, 1976
            hours = math.fsum(np.tanh(mean / z.zone.ek_ppfd)) / HOUR
            assert z.saturation_hours == pytest.approx(hours, rel=PLAYER_TOLERANCE)
            assert z.useful_light is not None
            over = math.fsum(np.maximum(mean - z.zone.ek_ppfd, 0)) / math.fsum(mean)
            assert z.useful_light.share_above_ek == pytest.approx(over, rel=PLAYER_TOLERANCE)
            above = (mean >= z.zone.ek_ppfd).sum() / HOUR
            assert z.useful_light.hours_above_ek == above


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: str(path.stem))
def test_other_roundings_are_tried_on_the_emitted_rows(example: Path) -> None:
    text = example.read_text(encoding="utf-8")
    program = of_a_day(text)
    data = plain_data(example)
    own = data["controller"].get("emits", {}).get("rounding", "half-up")
    id, c = next(iter(program.channels.items()))
    assert set(c.rounding_errors) == {"half-up", "down", "toward-last-row"} - {own}
    light = light_of_rows(example, id)
    for rounding, error in c.rounding_errors.items():
        other = played(c.fit.rows, data, id, rounding)
        wanted = np.abs(light - other).max()
        assert error == pytest.approx(wanted, abs=PLAYER_TOLERANCE)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: str(path.stem))
def test_examples_hold_what_they_promise(example: Path) -> None:
    program = of_a_day(example.read_text(encoding="utf-8"))
    limit = program.schedule.controller.setpoints_per_channel
    for c in program.channels.values():
        assert len(c.fit.rows) <= limit
        plan, replay = c.full_light_hours.reachable, c.full_light_hours.replay
        # about the planned light: a dim channel may be half a level off, some minutes at full a day
        assert replay == pytest.approx(plan, rel=0.05, abs=0.01)
    for z in program.zones.values():
        if z.zone.ppfd_max is not None:
            assert z.peak_ppfd <= z.zone.ppfd_max + PPFD_TOLERANCE
        if z.zone.dli_band is not None:
            assert z.zone.dli_band[0] <= z.dli.replay <= z.zone.dli_band[1]


# By hand ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def blue() -> ChannelDay:
    return compiled().channels["blue"]


def test_the_plan_of_the_worked_path(blue: ChannelDay) -> None:
    # 0.8 × 11 h = 8.8 full-light hours; 8.8 × 130 × 0.0036 = 4.118 mol m⁻² d⁻¹
    assert blue.full_light_hours.plan == pytest.approx(8.8, rel=PLAYER_TOLERANCE)
    assert blue.dli["crest"].plan == pytest.approx(
        8.8 * 130 * MOL_PER_UMOL_HOUR, rel=PLAYER_TOLERANCE
    )
    assert blue.dli["crest"].plan == pytest.approx(4.118, abs=PRINTED_DLI_TOLERANCE)


def test_the_volts_of_the_worked_path(blue: ChannelDay) -> None:
    # 80 % light is 8.944 V, level 89.44 %: (V/10)² = 0.8
    volts = 10 * math.sqrt(0.8)
    assert volts == pytest.approx(8.944, abs=PRINTED_VOLTS_TOLERANCE)
    (light,) = blue.path.ballast.light_at(np.array([volts]))
    assert light == pytest.approx(0.8, rel=PLAYER_TOLERANCE)


@pytest.mark.parametrize(
    ("level_percent", "code", "volts", "light_percent"),
    [(89, 3645, 8.8989, 79.19), (90, 3686, 8.9990, 80.98)],
)
def test_the_levels_of_the_worked_path(
    blue: ChannelDay, level_percent: int, code: int, volts: float, light_percent: float
) -> None:
    assert blue.path.codes[level_percent] == code
    assert blue.path.volts[level_percent] == pytest.approx(volts, abs=PRINTED_VOLTS_TOLERANCE / 5)
    assert 100 * blue.path.burning_light[level_percent] == pytest.approx(
        light_percent, abs=PRINTED_PERCENT_TOLERANCE
    )


def test_the_rows_of_the_worked_path(blue: ChannelDay) -> None:
    # 79.19 % is nearer to 80 % than 80.98 %. Half of the floor of 1 % is reached 22.5 s into the
    # ramp: the lamp lights at 09:00 and goes dark at 21:00.
    rows = blue.fit.rows
    # A row is left over: level 0 until then, in case that the relay is welded.
    assert rows[0] == Row(9 * HOUR - 60, 0, False)
    assert (rows[1].second, rows[1].relay) == (9 * HOUR, True)
    assert (rows[-1].second, rows[-1].count, rows[-1].relay) == (21 * HOUR, 0, False)
    assert max(row.count for row in rows) in (89, 90)
    assert len(rows) <= 12
    assert blue.lit_seconds == 12 * HOUR
    assert blue.longest_dark_s == 12 * HOUR
    assert blue.starts == 1
    assert blue.undefined_seconds == 0
    assert blue.most_volts <= 8.9991


def test_the_replay_of_the_worked_path_is_near_its_plan(blue: ChannelDay) -> None:
    # One level is 1.8 % of light at 80 %; half of it is lost at most.
    assert blue.full_light_hours.replay == pytest.approx(8.8, rel=0.0125)
    assert blue.dli["crest"].replay == pytest.approx(
        blue.full_light_hours.replay * 130 * MOL_PER_UMOL_HOUR, rel=PLAYER_TOLERANCE
    )


def test_the_reachable_plan_of_the_worked_path(blue: ChannelDay) -> None:
    # Below half the floor (0.5 %) each ramp is dark for 22.5 s, which loses ½ · 0.005 · 22.5 s; from
    # there to 1 % it is held at the floor, which gains as much: in all 8.8 h to a second.
    assert blue.full_light_hours.reachable == pytest.approx(8.8, abs=1 / HOUR)


def test_a_square_day_to_full_is_what_the_last_code_gives() -> None:
    # 12 h at code 4095: (4095/4096)² of full light each second
    program = compiled(
        ("start: 09:00, minutes: 60", "start: 09:00, minutes: 0"),
        ("end: 21:00, minutes: 60", "end: 21:00, minutes: 0"),
        ("light_percent: 80", "light_percent: 100"),
        ("between: line", "between: hold"),
    )
    c = program.channels["blue"]
    assert c.full_light_hours.plan == pytest.approx(12.0, rel=PLAYER_TOLERANCE)
    assert c.full_light_hours.replay == pytest.approx(12 * (4095 / 4096) ** 2, rel=PLAYER_TOLERANCE)
    assert int(c.replay.full.sum()) == 12 * HOUR
    assert [(row.second, row.count) for row in c.fit.rows] == [(9 * HOUR, 100), (21 * HOUR, 0)]
    # 12 h × 118 W × (4095/4096)² on the line from 25 W at 1 %; the relay is open in the dark: nothing
    watts = 25 + 93 * ((4095 / 4096) ** 2 - 0.01) / 0.99
    assert c.energy_kwh == pytest.approx(12 * watts / 1000, rel=PLAYER_TOLERANCE)


@pytest.mark.parametrize("keeps_mains", [False, True])
def test_the_relay_of_a_standby_ballast_opens_in_the_dark(keeps_mains: bool) -> None:
    more = ", keeps_mains: true" if keeps_mains else ""
    program = compiled(
        ("dark: {kind: relay}", f"dark: {{kind: standby, below_volts: 0.5{more}}}"),
        ("watts: {full: 118, floor: 25, dark: 0.5}", "watts: {full: 100, floor: 25, dark: 4}"),
        ("start: 09:00, minutes: 60", "start: 09:00, minutes: 0"),
        ("end: 21:00, minutes: 60", "end: 21:00, minutes: 0"),
        ("light_percent: 80", "light_percent: 100"),
        ("bits: 12, full_scale_volts: 10.0", "bits: 10, full_scale_volts: 10.24"),
        ("between: line", "between: hold"),
    )
    c = program.channels["blue"]
    assert c.fit.rows == (Row(9 * HOUR, 100, True), Row(21 * HOUR, 0, keeps_mains))
    assert (c.lit_seconds, c.starts, c.undefined_seconds) == (12 * HOUR, 1, 0)
    # 12 h of 100 W; in the dark 4 W of standby for 12 h, or nothing without mains
    assert c.energy_kwh == pytest.approx(1.2 + 0.048 * keeps_mains, rel=PLAYER_TOLERANCE)


def test_a_standby_ballast_behind_a_relay_lights_at_once() -> None:
    # A line to the first lit row does not cross the undefined band in the light; on the way down, from
    # the last lit row to level 0 in 60 s, it does. Two stretches of light are two starts.
    program = compiled(
        ("dark: {kind: relay}", "dark: {kind: standby, below_volts: 0.5}"),
        ("kind: ramps\n      dawn: {start: 09:00, minutes: 60}\n"
         "      peaks: [{light_percent: 80}]\n      dusk: {end: 21:00, minutes: 60}\n",
         "kind: points\n      points:\n" + "".join(
             f"        - {{time: {time}, light_percent: {light}}}\n"
             for time, light in (("09:00", 80), ("12:00", 80), ("12:00", 0), ("15:00", 0),
                                 ("15:00", 80), ("18:00", 80)))),
    )  # fmt: skip
    c = program.channels["blue"]
    assert c.starts == 2
    lit = np.flatnonzero(c.replay.lit)
    assert lit[0] == 9 * HOUR and not c.replay.lit[12 * HOUR : 15 * HOUR].any()
    assert c.replay.lit[15 * HOUR]
    assert not c.replay.relay_on[18 * HOUR :].any() and not c.replay.relay_on[: 9 * HOUR].any()
    # Level 0 a minute before each lighting: welded, a lamp in standby stays dark.
    zero = {row.second for row in c.fit.rows if row.count == 0}
    assert zero == {9 * HOUR - 60, 12 * HOUR, 15 * HOUR - 60, 18 * HOUR}


@pytest.mark.parametrize(
    ("light_percent", "power"),
    [
        # P/P0 = 0.125 + 0.875 L: the line through 0.3 at 0.2 and 1 at 1 of the example inputs of
        # Daylighting:Controls in EnergyPlus
        (20, 0.3), (50, 0.5625), (100, 1.0),
    ],
)  # fmt: skip
def test_power_follows_the_line_of_a_building_simulation(light_percent: int, power: float) -> None:
    # 10 mV a code, 20 % at 1 V, 100 % at 9 V: 50 % light is 4 V, level 40 %
    program = compiled(
        ("response: {kind: square-law}", "response: {kind: linear}"),
        ("floor: {volts: 1.0, light_percent: 1}", "floor: {volts: 1.0, light_percent: 20}"),
        ("full_volts: 10.0", "full_volts: 9.0"),
        ("watts: {full: 118, floor: 25, dark: 0.5}", "watts: {full: 100, floor: 30}"),
        ("bits: 12, full_scale_volts: 10.0", "bits: 10, full_scale_volts: 10.24"),
        ("start: 09:00, minutes: 60", "start: 09:00, minutes: 0"),
        ("end: 21:00, minutes: 60", "end: 21:00, minutes: 0"),
        ("light_percent: 80", f"light_percent: {light_percent}"),
        ("between: line", "between: hold"),
        ("    ballast: pair\n", "    ballast: pair\n    ballast_count: 2\n"),
    )
    c = program.channels["blue"]
    assert c.full_light_hours.replay == pytest.approx(12 * light_percent / 100)
    assert c.energy_kwh == pytest.approx(2 * 12 * 100 * power / 1000, rel=PLAYER_TOLERANCE)


def test_a_second_zone_gets_its_own_share() -> None:
    program = compiled(
        ("zones: {crest: 130}", "zones: {crest: 130, sand: 55}"),
        ("  crest: {dark_hours_min: 8}\n", "  crest: {}\n  sand: {ek_ppfd: 40}\n"),
    )
    crest, sand = program.zones["crest"], program.zones["sand"]
    assert sand.dli.replay == pytest.approx(crest.dli.replay * 55 / 130, rel=PLAYER_TOLERANCE)
    assert sand.dli.plan == pytest.approx(8.8 * 55 * MOL_PER_UMOL_HOUR, rel=PLAYER_TOLERANCE)
    assert sand.peak_ppfd == pytest.approx(crest.peak_ppfd * 55 / 130, rel=PLAYER_TOLERANCE)
    assert crest.saturation_hours is None
    assert sand.saturation_hours is not None
    assert 0 < sand.saturation_hours < 12
    # A zone's dose is the sum of what its channels add.
    assert sand.dli.replay == pytest.approx(program.channels["blue"].dli["sand"].replay)


def test_channels_add_up_in_a_zone() -> None:
    second = (
        "  white:\n    ballast: pair\n    full_ppfd: {zones: {crest: 120}}\n    day:\n"
        "      kind: ramps\n      dawn: {start: 12:00, minutes: 60}\n"
        "      peaks: [{light_percent: 50}]\n      dusk: {end: 18:00, minutes: 60}\n"
    )
    program = compiled(("      dusk: {end: 21:00, minutes: 60}\n",
                        "      dusk: {end: 21:00, minutes: 60}\n" + second))  # fmt: skip
    zone = program.zones["crest"]
    shares = [c.dli["crest"] for c in program.channels.values()]
    # 8.8 h × 130 + 0.5 × 5 h × 120
    assert zone.dli.plan == pytest.approx(
        (8.8 * 130 + 2.5 * 120) * MOL_PER_UMOL_HOUR, rel=PLAYER_TOLERANCE
    )
    assert zone.dli.replay == pytest.approx(sum(s.replay for s in shares), rel=PLAYER_TOLERANCE)
    assert zone.dli.reachable == pytest.approx(sum(s.reachable for s in shares))
    assert zone.night_s == 12 * HOUR - _seconds_below(zone.ppfd)


def test_limits_see_the_most_and_the_lower_end_of_a_band_the_least_of_a_zone() -> None:
    # Points of the zone get 100 to 160 µmol m⁻² s⁻¹ at full, 130 in the mean.
    schedule = scheduled(changed(("dark_hours_min: 8", "ek_ppfd: 200, ppfd_max: 200")))
    blue = schedule.channels["blue"]
    spread = {"crest": PpfdSpread(limits=160, dli_least=100)}
    mapped = replace(schedule, channels={"blue": replace(blue, ppfd_spread=spread)})
    flat, z = compile_program(schedule).zones["crest"], compile_program(mapped).zones["crest"]
    assert z.dli == flat.dli
    assert z.saturation_hours == flat.saturation_hours
    assert z.peak_ppfd == pytest.approx(flat.peak_ppfd * 160 / 130)
    assert z.peak_ppfd_at_end == pytest.approx(flat.peak_ppfd_at_end * 160 / 130)
    assert z.wanted_peak_ppfd == pytest.approx((flat.wanted_peak_ppfd or 0) * 160 / 130)
    assert z.steepest_rise_per_minute == pytest.approx(flat.steepest_rise_per_minute * 160 / 130)
    assert z.dli_least == pytest.approx(flat.dli.replay * 100 / 130)
    assert z.dli_least_at_end == pytest.approx(flat.dli_at_end * 100 / 130)
    assert (flat.dli_least, flat.dli_least_at_end) == (flat.dli.replay, flat.dli_at_end)
    assert flat.limit_sources == flat.sources


def _seconds_below(ppfd: np.ndarray) -> int:
    """Lit seconds below 0.15 µmol m⁻² s⁻¹: none, for the floor of 1 % gives 1.3."""
    return int(((ppfd > 0) & (ppfd < 0.15)).sum())


@pytest.mark.parametrize(
    ("count", "watts", "total"),
    [(6, 54, 324), (8, 54, 432), (8, 24, 192)],  # common practice, no source; arithmetic
)
def test_nominal_watts(count: int, watts: int, total: int) -> None:
    ids = [f"t{i}" for i in range(count)]
    tubes = "tubes:\n" + "".join(f"  {id}: {{watts: {watts}}}\n" for id in ids)
    program = compiled(
        ("zones:\n  crest", tubes + "zones:\n  crest"),
        ("    ballast: pair\n", f"    ballast: pair\n    tubes: [{', '.join(ids)}]\n"),
    )
    assert program.channels["blue"].nominal_watts == total
    assert program.tubes == {}  # tubes are followed over dates only


SHAPES: dict[str, Callable[[float], float]] = {
    "linear": lambda r: 0.5 * r,
    "sine": lambda r: 2 / math.pi * r,
    "smooth": lambda r: 0.5 * r,
}


@pytest.mark.parametrize("shape", SHAPES)
def test_the_plan_of_a_day_is_the_integral_of_its_shape(shape: str) -> None:
    # two ramps of an hour and ten hours at the top, by calculus
    program = compiled(
        ("start: 09:00, minutes: 60", f"start: 09:00, minutes: 60, shape: {shape}"),
        ("end: 21:00, minutes: 60", f"end: 21:00, minutes: 60, shape: {shape}"),
    )
    hours = 0.8 * (10 + 2 * SHAPES[shape](1.0))
    plan = program.channels["blue"].full_light_hours.plan
    assert plan == pytest.approx(hours, rel=PLAYER_TOLERANCE)
