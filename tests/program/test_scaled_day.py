from __future__ import annotations

import pytest

from photoperiod.program.scaled_day import scaled_day
from tests.checks.bench import Day, bench, handmade

TEXT = bench(("{zones: {crest: 100}}", "{zones: {crest: 100, sand: 0}}"))


def test_only_the_named_channels_give_more() -> None:
    # BENCH: weak 0.8 × 50 = 40, strong 0.6 × 100 = 60 µmol m⁻² s⁻¹ for 10 h.
    program = handmade(TEXT)
    day = scaled_day(program.schedule, program.tables[0], 1.2, ["weak"])
    assert day is not None
    assert day.zones["crest"].peak_ppfd == pytest.approx(0.96 * 50 + 60)
    assert day.zones["crest"].dli.replay == pytest.approx(108 * 0.036)
    day = scaled_day(program.schedule, program.tables[0], 0.5, ["weak", "strong"])
    assert day is not None
    assert day.zones["crest"].dli.replay == pytest.approx(50 * 0.036)


def test_more_than_full_light_can_not_be_had() -> None:
    program = handmade(TEXT)
    assert scaled_day(program.schedule, program.tables[0], 1.25, ["weak"]) is not None  # 100 %
    assert scaled_day(program.schedule, program.tables[0], 1.26, ["weak"]) is None
    # strong is planned at 60 % only
    assert scaled_day(program.schedule, program.tables[0], 1.6, ["strong"]) is not None


def test_tubes_are_as_bright_as_on_the_dates() -> None:
    program = handmade(TEXT, Day(brightness={"weak": (0.5, 0.25)}))
    day = scaled_day(program.schedule, program.tables[0], 1.25, ["weak"])
    assert day is not None
    assert day.zones["crest"].dli.replay == pytest.approx((25 + 60) * 0.036)
    assert day.zones["crest"].dli_at_end == pytest.approx((12.5 + 60) * 0.036)
