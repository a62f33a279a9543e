from __future__ import annotations

from dataclasses import replace

import pytest

from photoperiod.diagnostics.unguarded import ZoneLimit
from photoperiod.schedule.guards import limits_of, not_guarded
from photoperiod.schedule.model import Schedule, Zone
from tests.checks.bench import BENCH, bench, schedule_of

#: The limits that a zone has only if they are written.
WRITTEN = (ZoneLimit.PPFD_MAX, ZoneLimit.DLI, ZoneLimit.RISE_PER_MINUTE)

GUARDED = "dark_hours_min: 0, ppfd_max: 200, dli: [1, 9], ppfd_rise_per_minute_max: 5"


def guarded(*changes: tuple[str, str]) -> Schedule:
    """Return a schedule whose two zones have all limits, with changes; each channel lights both."""
    text = bench(
        ("crest: {dark_hours_min: 0}", f"crest: {{{GUARDED}}}"),
        ("sand: {dark_hours_min: 0}", f"sand: {{{GUARDED}}}"),
        ("{zones: {crest: 100}}", "{zones: {crest: 100, sand: 0}}"),
    )
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return schedule_of(text)


def test_a_schedule_without_zones_guards_nothing() -> None:
    schedule = guarded()
    channels = {id: replace(channel, full_ppfd={}) for id, channel in schedule.channels.items()}
    (found,) = not_guarded(replace(schedule, zones={}, channels=channels))
    assert set(found.limits) == set(ZoneLimit)
    assert (found.zones, found.because) == ((), "the schedule has no zone")


def test_where_every_limit_is_written_and_all_light_is_known_all_is_guarded() -> None:
    assert not_guarded(guarded()) == ()


@pytest.mark.parametrize(
    ("key", "limit"),
    [
        (", ppfd_max: 200", ZoneLimit.PPFD_MAX),
        (", dli: [1, 9]", ZoneLimit.DLI),
        (", ppfd_rise_per_minute_max: 5", ZoneLimit.RISE_PER_MINUTE),
    ],
)
def test_a_limit_that_no_zone_has_is_named_once_with_all_zones(key: str, limit: ZoneLimit) -> None:
    (found,) = not_guarded(guarded((key, "")))
    assert (found.limits, found.zones, found.because) == (
        (limit,),
        ("crest", "sand"),
        f"no {limit}",
    )


def test_only_the_zone_without_the_limit_is_named() -> None:
    (found,) = not_guarded(guarded((f"sand: {{{GUARDED}", f"sand: {{{GUARDED[:-29]}")))
    assert (found.limits, found.zones) == ((ZoneLimit.RISE_PER_MINUTE,), ("sand",))


def test_a_limit_is_no_guard_where_the_light_of_a_channel_is_not_known() -> None:
    (found,) = not_guarded(guarded(("{crest: 100, sand: 0}", "{crest: 100}")))
    assert found.zones == ("sand",)
    assert set(found.limits) == set(ZoneLimit)
    assert found.because == "the light of channel 'strong' is not known there"


def test_a_zone_that_gets_nothing_from_a_channel_is_guarded() -> None:
    assert not_guarded(guarded(("sand: 0", "sand: 0.0"))) == ()


def test_all_channels_are_named_whose_light_is_not_known() -> None:
    schedule = schedule_of(BENCH)
    channels = {id: replace(channel, full_ppfd={}) for id, channel in schedule.channels.items()}
    *_, last = not_guarded(replace(schedule, channels=channels))
    assert last.because == "the light of channels 'weak', 'strong' is not known there"
    assert not set(last.limits) & set(WRITTEN)  # what is not written is named by itself


def test_darkness_and_the_rise_of_the_peak_always_have_a_limit() -> None:
    assert limits_of(Zone(id="sand")) == (ZoneLimit.DARK_HOURS, ZoneLimit.PEAK_RISE)
