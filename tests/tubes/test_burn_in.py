"""The plan of a day on which tubes burn in: windows, limits, who waits and who gives way."""

from __future__ import annotations

import numpy as np
import pytest

from photoperiod.tubes.burn_in import (
    Limits,
    State,
    WeighedDay,
    assignments,
    because_of_giving_way,
    dose_fault,
    explained,
    possible_plans,
)
from photoperiod.tubes.burn_in_plan import DayPlan
from photoperiod.tubes.burn_in_windows import MOMENT_S, Moments, WeighedChannel, window_mask

HOUR = 3600
NIGHT = 0.15


def light(start_h: float, stop_h: float, level: float = 1.0) -> np.ndarray:
    return level * window_mask(int(start_h * HOUR), int(stop_h * HOUR))


def lamp(id: str, ppfd: float, owed_days: float = 0.0, start: float = 9, stop: float = 21,
         level: float = 0.7, **more: object) -> WeighedChannel:  # fmt: skip
    """A lamp of flat light; its window holds the same light around the same middle."""
    half, middle = (stop - start) * level / 2, (start + stop) / 2
    window = (int((middle - half) * HOUR), int((middle + half) * HOUR)) if owed_days else None
    full = window_mask(*window).astype(float) if window else None
    return WeighedChannel(id=id, ppfd={"crest": ppfd}, light=Moments.of(light(start, stop, level)),
                owed_days=owed_days, window=window, full=full, **more)  # type: ignore[arg-type]  # fmt: skip


def limits(
    lamps: list[WeighedChannel], ppfd_max: float | None = None, room: float = 0.05
) -> dict[str, Limits]:
    ppfd = sum(float(each.light.mean.sum()) * each.ppfd["crest"] for each in lamps)
    dose = ppfd * MOMENT_S / 1e6
    return {
        "crest": Limits(ppfd_max=ppfd_max, dose_min=dose * (1 - room), dose_max=dose * (1 + room))
    }


def plan(lamps: list[WeighedChannel], ppfd_max: float | None = None, room: float = 0.05) -> DayPlan:
    return best(lamps, limits(lamps, ppfd_max, room))


def best(
    lamps: list[WeighedChannel], limits: dict[str, Limits], burning: frozenset[str] = frozenset()
) -> DayPlan:
    """The best plan of a day, with the reasons of those that wait; tables are not tried here."""
    day = WeighedDay(lamps, limits, NIGHT, 60, burning)
    return explained(day, next(possible_plans(day), day.all_dimmed), {})


def test_one_debtor_burns_and_the_other_lamp_goes_on() -> None:
    day = plan([lamp("new", 100, 2), lamp("old", 100, start=8, stop=22)])
    assert day.windows == {"new": (int(10.8 * HOUR), int(19.2 * HOUR))}
    assert not day.dark and not day.dimmed and not day.scale and not day.outside
    assert day.reasons == {}


def test_debtors_burn_together_if_the_limits_allow() -> None:
    lamps = [lamp("a", 100, 2), lamp("b", 100, 2), lamp("old", 100, start=8, stop=22)]
    assert set(plan(lamps, ppfd_max=280).windows) == {"a", "b"}


def test_debtors_take_turns_where_a_limit_forbids_both_longest_debt_first() -> None:
    lamps = [lamp("a", 150, 1), lamp("b", 150, 2), lamp("old", 20, start=8, stop=22)]
    day = plan(lamps, ppfd_max=290, room=0.6)
    assert set(day.windows) == {"b"}
    assert day.dark == {"a"}  # the dose may be so low
    assert day.reasons == {"a": "'b' burns in first"}
    strict = plan(lamps, ppfd_max=290)
    assert set(strict.windows) == {"b"}
    assert strict.dimmed == {"a"}  # dark, the zone would get too little


def test_of_many_debtors_the_first_ones_in_the_file_come_first() -> None:
    lamps = [lamp(f"new-{n}", 20, 1) for n in range(8)] + [lamp("old", 100, start=8, stop=22)]
    day = plan(lamps)
    assert set(day.windows) == {f"new-{n}" for n in range(6)}
    assert day.dimmed == {"new-6", "new-7"}


def test_who_burned_in_yesterday_goes_on_until_it_is_paid() -> None:
    lamps = [lamp("a", 150, 1), lamp("b", 150, 2), lamp("old", 20, start=8, stop=22)]
    day = best(lamps, limits(lamps, 290), burning=frozenset({"a"}))
    assert set(day.windows) == {"a"}
    day = best(lamps, limits(lamps, 290), burning=frozenset({"b"}))
    assert set(day.windows) == {"b"}


def test_others_give_way_where_that_is_enough() -> None:
    lamps = [lamp("new", 150, 2), lamp("old", 100, start=8, stop=22)]
    day = plan(lamps, ppfd_max=200, room=0.1)  # 150 + 70 is too much
    assert set(day.windows) == {"new"}
    scale = day.scale["old"]
    burning = window_mask(*day.windows["new"])[::MOMENT_S]
    assert scale[~burning] == pytest.approx(1.0)
    assert scale[burning] == pytest.approx(0.685)  # (0.99 * 200 - 150) / 70, down to half a percent


def test_a_lamp_that_is_dark_while_others_burn_in_does_not_give_way() -> None:
    # the moon shines from 22:00 on, and "new" is at full from 10:48 to 19:12
    lamps = [
        lamp("new", 150, 2),
        lamp("old", 100, start=8, stop=22),
        lamp("moon", 4, 0, 22, 24, 0.03),
    ]
    day = plan(lamps, ppfd_max=200, room=0.1)
    assert set(day.windows) == {"new"}
    assert set(day.scale) == {"old"}
    late = [*lamps[:2], lamp("moon", 4, 0, 19, 24, 0.03)]  # lit for the last twelve minutes of it
    assert set(plan(late, ppfd_max=200, room=0.1).scale) == {"old", "moon"}
    # One that pays its own debt late in the evening may not be dimmed, and need not be.
    paying = [*lamps[:2], lamp("late", 4, 0, 22, 24, 1.0, must_not_dim=True)]
    assert set(plan(paying, ppfd_max=200, room=0.1).windows) == {"new"}
    # A lamp that is never dark gives its floor then, and counts.
    held = [*lamps[:2], lamp("moon", 4, 0, 22, 24, 0.03, least=0.01)]
    assert set(plan(held, ppfd_max=200, room=0.1).scale) == {"old", "moon"}


def test_a_lamp_just_below_the_limit_burns_where_no_other_is_lit() -> None:
    # 100 of 100.5 leaves less than the one per cent that is kept free; the other lamp is dark until 20:00,
    # so until then there is nothing that could give way.
    lamps = [lamp("blue", 100, owed_days=1), lamp("white", 20, start=20, stop=22)]
    found = plan(lamps, ppfd_max=100.5, room=0.5)
    assert list(found.windows) == ["blue"]
    assert all(np.isfinite(each).all() for each in found.scale.values())


def test_a_lamp_that_alone_is_over_the_limit_waits() -> None:
    day = plan([lamp("new", 150, 2), lamp("old", 20, start=8, stop=22)], ppfd_max=140)
    assert not day.windows
    assert day.dimmed == {"new"}
    assert day.reasons == {
        # 140 of 150 is 6.67 % less
        "new": "zone 'crest' would get 150 µmol m⁻² s⁻¹, over its ppfd_max of 140; it can burn in if the"
        " lamps give 7 % less there (shade the zone, or raise the lamps), or if its animals bear that light"
        " and `ppfd_max` may be higher"
    }


def test_a_lamp_that_never_is_full_waits_and_says_so() -> None:
    dim = WeighedChannel(id="new", ppfd={"crest": 100}, light=Moments.of(light(9, 21, 0.7)), owed_days=1,
               why="its output can't bring it to full")  # fmt: skip
    day = plan([dim, lamp("old", 100, start=8, stop=22)])
    assert day.dimmed == {"new"}
    assert day.reasons == {"new": "its output can't bring it to full"}


def test_giving_way_must_not_starve_a_zone() -> None:
    lamps = [lamp("new", 150, 2), lamp("old", 100, start=8, stop=22)]
    day = plan(lamps, ppfd_max=155)  # the old one would have to go down to 5 of 70
    assert not day.windows
    # by hand: 8.4 h of 150 and 5.6 h of 70 and 8.4 h of 3.15 (0.045 of 70) µmol m⁻² s⁻¹
    assert day.reasons == {
        "new": "zone 'crest' would get a DLI of 6.04 mol m⁻² d⁻¹, less than 7.66 (its band), because 'old'"
        " must give way while 'new' at full would lift a zone over its ppfd_max; it can burn in if its"
        " animals bear that dose and it is inside `dli`"
    }


def test_what_would_let_a_lamp_burn_in_does() -> None:
    # 7 % less of 150 is 139.5, below 140; and a band down to 6.04 is 25 % below the plan's dose.
    dimmer = [lamp("new", 139.5, 2), lamp("old", 18.6, start=8, stop=22)]
    assert set(plan(dimmer, ppfd_max=140, room=0.2).windows) == {"new"}
    lamps = [lamp("new", 150, 2), lamp("old", 100, start=8, stop=22)]
    assert set(plan(lamps, ppfd_max=155, room=0.26).windows) == {"new"}
    paid = [lamp("new", 150, 2), lamp("kept", 100, start=8, stop=22)]
    assert set(plan(paid, ppfd_max=200, room=0.3).windows) == {"new"}


def test_why_full_light_may_give_less_is_said_in_plain_words() -> None:
    assert because_of_giving_way([], ["new"]) == ""
    assert because_of_giving_way(["a", "b"], ["new"]) == (
        "because 'a' and 'b' must give way while 'new' at full would lift a zone over its ppfd_max"
    )


def test_a_lone_lamp_burns_from_the_dark_and_says_so() -> None:
    day = plan([lamp("new", 100, 2)])
    assert day.outside == {"new"}
    assert set(day.windows) == {"new"}


def test_a_window_is_moved_into_the_light_of_others() -> None:
    day = plan([lamp("new", 100, 2, start=6, stop=18), lamp("old", 100, start=8, stop=22)])
    start, stop = day.windows["new"]
    assert start == 8 * HOUR + MOMENT_S and stop - start == int(8.4 * HOUR)
    assert not day.outside


def test_a_day_whose_plan_is_over_its_limits_is_left_alone() -> None:
    lamps = [lamp("new", 100, 2), lamp("old", 100, start=8, stop=22)]
    day = best(lamps, {"crest": Limits(ppfd_max=10, dose_min=0, dose_max=1)})
    assert not day.windows
    assert day.dimmed == {"new"}


def test_a_dose_is_at_fault_from_the_bound_on_and_no_sooner() -> None:
    limit = Limits(ppfd_max=None, dose_min=5.0, dose_max=7.0, dose_max_of="the plan")
    assert dose_fault("crest", 5.0, limit) == dose_fault("crest", 7.0, limit) == ""
    ends = "; it can burn in if its animals bear that dose and it is inside `dli`"
    assert dose_fault("crest", 4.99, limit, "because so") == (
        f"zone 'crest' would get a DLI of 4.99 mol m⁻² d⁻¹, less than 5 (its band), because so{ends}"
    )
    assert dose_fault("crest", 7.01, limit, "because so") == (
        f"zone 'crest' would get a DLI of 7.01 mol m⁻² d⁻¹, more than 7 (the plan){ends}"
    )


def test_limits_are_the_band_or_five_per_cent_about_the_plan() -> None:
    stated = Limits.of(200.0, (3.0, 9.0), planned=6.0, by_plan_now=6.0)
    assert (stated.ppfd_max, stated.dose_min, stated.dose_max) == (200.0, 3.0, 9.0)
    none = Limits.of(None, None, planned=6.0, by_plan_now=6.0)
    assert (none.dose_min, none.dose_max) == (pytest.approx(5.7), pytest.approx(6.3))
    assert none.dose_min_of == none.dose_max_of == "5 % from the plan's"


def test_what_a_day_by_the_plan_does_is_not_for_burn_in_to_mend() -> None:
    faded = Limits.of(None, (3.0, 9.0), planned=6.0, by_plan_now=2.0)
    assert (faded.dose_min, faded.dose_max) == (pytest.approx(1.9), 9.0)
    assert faded.dose_min_of == "5 % from what a day by the plan gives now"
    bright = Limits.of(None, (3.0, 9.0), planned=6.0, by_plan_now=9.5)
    assert (bright.dose_min, bright.dose_max) == (3.0, 9.5)
    assert bright.dose_max_of == "what a day by the plan gives now"


def test_others_give_way_only_while_a_channel_is_at_full() -> None:
    # By the plan the old one alone gives 105 of at most 100 for an hour from 8:00: that is left alone.
    peak = np.maximum(light(8, 22, 0.7), light(8, 9, 1.05))
    old = WeighedChannel(id="old", ppfd={"crest": 100}, light=Moments.of(peak))
    new = lamp("new", 50, 2, start=10, stop=20)
    day = plan([new, old], ppfd_max=100, room=0.3)
    burning = window_mask(*day.windows["new"])[::MOMENT_S]
    assert not burning[: 9 * 60].any()
    assert (day.scale["old"][~burning] == 1.0).all()
    assert day.scale["old"][burning] == pytest.approx(0.7)  # (99 - 50) / 70


def test_who_owes_and_is_dark_or_full_by_plan_does_not_give_way() -> None:
    lamps = [lamp("new", 150, 2), lamp("kept", 100, start=8, stop=22, must_not_dim=True)]
    day = plan(lamps, ppfd_max=200, room=0.3)
    assert not day.windows
    assert day.reasons == {
        "new": "'kept' would have to give way, and owes burn-in itself; it can burn in when 'kept' has"
        " paid"
    }


def test_all_ways_are_weighed_but_those_in_which_all_wait_in_the_dark() -> None:
    day = WeighedDay([lamp("a", 20, 1), lamp("b", 20, 2)], {}, NIGHT, 60)
    found = assignments(day)
    # 3 × 3 states, without dark-dark, dark-dimmed and dimmed-dark
    assert len(found) == 6
    assert found[0].states == {"a": State.FULL, "b": State.FULL}
    assert found[1].states == {"a": State.DARK, "b": State.FULL}  # the longer debt of two
    assert found[-1].states == {"a": State.DIMMED, "b": State.DIMMED}
    goes_on = assignments(WeighedDay(day.channels, {}, NIGHT, 60, frozenset({"a"})))
    assert goes_on[1].states == {"a": State.FULL, "b": State.DARK}


def test_limits_are_held_against_the_brightest_point_of_a_zone() -> None:
    # The mean is 100 of each; at the brightest point the old lamp gives 200 at full, 140 by its plan of 70 %.
    # With a limit of 230, 100 + 140 is too much there, so the old lamp gives way; in the mean it need not.
    mean = [lamp("new", 100, 2), lamp("old", 100, start=8, stop=22)]
    most = [mean[0], lamp("old", 100, start=8, stop=22, limit_ppfd={"crest": 200})]
    assert not plan(mean, ppfd_max=230, room=0.6).scale
    assert set(plan(most, ppfd_max=230, room=0.6).scale) == {"old"}


def test_a_channel_too_bright_at_one_point_never_burns_in() -> None:
    alone = [lamp("new", 100, 2, limit_ppfd={"crest": 240}), lamp("old", 10, start=8, stop=22)]
    assert not plan(alone, ppfd_max=230, room=0.6).windows
    assert plan([lamp("new", 100, 2), alone[1]], ppfd_max=230, room=0.6).windows


def test_animals_that_get_used_to_light_get_no_more_than_by_the_plan() -> None:
    # a band of 4 to 12 around a plan of 5 that is kept small for a time; tubes give 5.1 by it now
    usual = Limits.of(None, (4.0, 12.0), 5.0, 5.1)
    small = usual.acclimated(5.0, 5.1)
    assert (usual.dose_min, usual.dose_max) == (4.0, 12.0)
    assert small.dose_max == 5.1
    assert "5.1" in dose_fault("crest", 6.0, small) and not dose_fault("crest", 6.0, usual)
    # less is no fault: below its band by the plan already, 5 % less than that may be
    low = Limits.of(None, (6.0, 12.0), 5.0, 5.0).acclimated(5.0, 5.0)
    assert low.dose_min == pytest.approx(4.75)


def test_a_band_below_the_plan_stays_the_limit() -> None:
    limits = Limits.of(None, (2.0, 4.0), 5.0, 3.9)
    assert limits.acclimated(5.0, 3.9).dose_max == limits.dose_max == 4.0
