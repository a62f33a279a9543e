"""Results go with what they were worked out from."""

from __future__ import annotations

import gc
import weakref

from photoperiod.drive.kept import kept_while_used


class Thing:
    pass


class Result:
    pass


def test_a_result_is_kept_while_its_thing_is_used() -> None:
    asked: list[int] = []

    @kept_while_used(8)
    def work(thing: Thing) -> Result:
        asked.append(id(thing))
        return Result()

    one, other = Thing(), Thing()
    first = work(one)
    assert work(one) is first and work(other) is not first
    assert asked == [id(one), id(other)]
    gone, thing_gone = weakref.ref(first), weakref.ref(one)
    del one, first
    gc.collect()
    assert thing_gone() is None and gone() is None


def test_no_more_than_so_many_are_kept_and_the_oldest_goes_first() -> None:
    asked: list[Thing] = []

    @kept_while_used(2)
    def work(thing: Thing) -> Result:
        asked.append(thing)
        return Result()

    a, b, c = Thing(), Thing(), Thing()
    for thing in (a, b, a, c, a, b):
        work(thing)
    assert asked == [a, b, c, b]  # b was not asked for as lately as a


def test_another_thing_in_the_same_place_of_memory_gets_a_result_of_its_own() -> None:
    @kept_while_used(4)
    def work(thing: list[int]) -> int:
        return sum(thing)

    class Numbers(list[int]):
        __slots__ = ("__weakref__",)

    for number in range(50):
        assert work(Numbers([number])) == number
