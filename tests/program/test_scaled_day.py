from __future__ import annotations

import pytest

from photoperiod.api import compile
from photoperiod.program.channel_day import CompiledDay
from photoperiod.program.model import Program
from photoperiod.program.scaled_day import scaled_day, scaled_schedule
from tests.checks.bench import Day, bench, handmade, loaded

TEXT = bench(("{zones: {crest: 100}}", "{zones: {crest: 100, sand: 0}}"))


def tried_on(program: Program, factor: float, scaled: list[str]) -> CompiledDay | None:
    changed = scaled_schedule(program.schedule, factor, scaled)
    return scaled_day(changed, program.tables[0], scaled)


def test_only_the_named_channels_give_more() -> None:
    # BENCH: weak 0.8 × 50 = 40, strong 0.6 × 100 = 60 µmol m⁻² s⁻¹ for 10 h.
    program = handmade(TEXT)
    day = tried_on(program, 1.2, ["weak"])
    assert day is not None
    assert day.zones["crest"].peak_ppfd == pytest.approx(0.96 * 50 + 60)
    assert day.zones["crest"].dli.replay == pytest.approx(108 * 0.036)
    day = tried_on(program, 0.5, ["weak", "strong"])
    assert day is not None
    assert day.zones["crest"].dli.replay == pytest.approx(50 * 0.036)


def test_more_than_full_light_can_not_be_had() -> None:
    program = handmade(TEXT)
    assert tried_on(program, 1.25, ["weak"]) is not None  # 100 %
    assert tried_on(program, 1.26, ["weak"]) is None
    # strong is planned at 60 % only
    assert tried_on(program, 1.6, ["strong"]) is not None


def test_tubes_are_as_bright_as_on_the_dates() -> None:
    program = handmade(TEXT, Day(brightness={"weak": (0.5, 0.25)}))
    day = tried_on(program, 1.25, ["weak"])
    assert day is not None
    assert day.zones["crest"].dli.replay == pytest.approx((25 + 60) * 0.036)
    assert day.zones["crest"].dli_at_end == pytest.approx((12.5 + 60) * 0.036)


def test_the_trial_is_what_a_keeper_who_changes_the_file_would_get() -> None:
    """An even ramp of lightness is no multiple of a dimmer one, so the day itself must be planned anew."""
    day = (
        "kind: ramps, dawn: {{start: 09:00, minutes: 240, shape: perceptual}},"
        " peaks: [{{light_percent: {}}}], dusk: {{end: 21:00, minutes: 60}}"
    )
    plain = (
        "kind: points, points: [{time: 08:00, light_percent: 60}, {time: 18:00, light_percent: 60}]"
    )
    texts = [bench((plain, day.format(peak))) for peak in (40, 60)]
    dim, bright = (compile(loaded(text)).program for text in texts)
    tried = tried_on(dim, 1.5, ["strong"])
    assert tried is not None
    given = bright.tables[0].day
    assert tried.channels["strong"].fit.rows == given.channels["strong"].fit.rows
    assert tried.zones["crest"].dli.replay == given.zones["crest"].dli.replay


def test_moonlight_stays_as_it_is() -> None:
    # 20 % of 100 µmol m⁻² s⁻¹ from 20:00 to 22:00
    text = bench(
        ("{zones: {crest: 100}}\n", "{zones: {crest: 100}}\n    moonlight:"
         " {kind: steady, light_percent: 20, start: 20:00, end: 22:00}\n"),
    )  # fmt: skip
    program = compile(loaded(text)).program
    tried = tried_on(program, 1.5, ["strong"])
    assert tried is not None
    light = tried.channels["strong"].replay.light
    assert light[12 * 3600] == pytest.approx(0.9)
    assert light[21 * 3600] == pytest.approx(0.2)


def test_lights_are_those_that_a_keeper_writes() -> None:
    # 80 % × 0.3333 is 26.664 %, 60 % × 0.3333 is 19.998 %: two decimals
    changed = scaled_schedule(handmade(TEXT).schedule, 0.3333, ["weak", "strong"])
    lights = {id: c.day.points[0].light for id, c in changed.channels.items()}  # type: ignore[union-attr]
    assert lights == {"weak": 0.2666, "strong": 0.2}
