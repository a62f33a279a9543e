"""The fewest rows of one channel that is never dark: lines that go round the day.

Such a day has no natural start. Some row stands in a window that no single line passes, but neither its
place there nor its count is known. So all beginnings in a part of the window are followed at once:
forward from them, and backward from the same states a day later, always on the side that has fewer
pieces ahead, until both sides together have as many pieces as there may be rows. Where they meet
there may be a table. Beginnings are then halved until one is left that meets its own end, or none.

Nothing on the grid is missed: beginnings that meet no end together meet none alone, and every piece
and count is tried, as in `photoperiod.setpoints.segments`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Bools, Ints, SmallInts
from photoperiod.kernel import paths, which
from photoperiod.setpoints.bound import pieces_needed
from photoperiod.setpoints.columns import Column
from photoperiod.setpoints.cones import Reach, counted_up
from photoperiod.setpoints.corridor import Corridor
from photoperiod.setpoints.segments import MOST_STATES
from photoperiod.setpoints.work import BOUND_WORK, WorkSpent

#: By how much each part of a window is longer than all before it.
_LONGER = 8

#: By the pieces of so many states it is told which side has fewer.
_FEW = 64

#: States whose pieces are worked out at once: a bound on memory.
_BLOCK = 1000

#: To look at a piece again takes as long as so many gates, and to look at so many states as long as one.
_PIECE_WORK, _STATES_A_GATE = 4, 2

#: Few ends are marked one by one: an end takes so many times as long as a state when all are gone through.
_ENDS_A_STATE = 4


def fewest_around(
    column: Column, window: int, most_rows: int, work: WorkSpent
) -> tuple[int, ...] | None:
    """Return the times of the fewest rows with which a channel keeps its band round the day.

    Parameters
    ----------
    column : Column
        One channel that is always lit, lines between its rows, and no row that is forced but the
        cut, which is the first step of the window.
    window : int
        So many steps from the cut on one row stands at the least.
    most_rows : int
        No table with more rows is looked for.
    work : WorkSpent
        Bounds the work.

    Returns
    -------
    tuple of int or None
        Steps of the grid, in the order of the day from the first of them on; None if it takes more rows.
    """
    circle = _Circle(column, window, work)
    for rows in range(circle.least_rows(), most_rows + 1):
        for begin, stop in circle.parts():
            places = circle.chain(begin, stop, rows)
            if places is not None:
                cut, steps = column.forced[0], column.steps
                return tuple((cut + place) % steps for place in places)
    return None


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Single pieces: the state at which each begins, and where it may end.

    That is ``number`` states from ``first`` on, at one place. All of shape (pieces,). A state is a place
    and a count in one number: place · width + counts above the least one that may stand there.
    """

    source: SmallInts
    first: SmallInts
    number: SmallInts

    def which(self, some: Bools) -> _Pieces:
        """Return some of them."""
        return _Pieces(self.source[some], self.first[some], self.number[some])

    @classmethod
    def joined(cls, parts: Sequence[_Pieces]) -> _Pieces:
        """Return all pieces of some parts."""
        return cls(
            np.concatenate([part.source for part in parts]),
            np.concatenate([part.first for part in parts]),
            np.concatenate([part.number for part in parts]),
        )

    def begins(self, states: int) -> Bools:
        """Return at which of so many states one begins."""
        found = np.zeros(states, dtype=bool)
        found[self.source] = True
        return found

    def ends(self, states: int) -> Bools:
        """Return at which of so many states one may end."""
        found = np.zeros(states, dtype=bool)
        if int(self.number.sum()) * _ENDS_A_STATE < states:
            found[counted_up(self.first, self.number)] = True
            return found
        change = np.bincount(self.first, minlength=states + 1)
        change -= np.bincount(self.first + self.number, minlength=states + 1)
        np.greater(np.cumsum(change[:states]), 0, out=found)
        return found

    def into(self, states: Bools) -> _Pieces:
        """Return those that may end at some states."""
        before = _counted(states)
        return self.which(before[self.first + self.number] > before[self.first])


class _Side:
    """The day and the window once more, read forward or backward.

    Parameters
    ----------
    run : Corridor
        Its gates.
    may_stand : ndarray, shape (places,)
        At which places a row may stand.
    work : WorkSpent
        Bounds the work.
    """

    def __init__(self, run: Corridor, may_stand: Bools, work: WorkSpent) -> None:
        self.run, self.may_stand, self.work = run, may_stand, work
        base = -(-np.maximum(run.low, run.first) // run.stride) * run.stride
        self.base = np.ascontiguousarray(base[:: run.grid], dtype=np.int64)
        room = (run.high[:: run.grid] - self.base) // run.stride + 1
        self.sizes: Ints = np.where(may_stand, np.maximum(room, 0), 0)
        self.width = max(int(room.max()), 1)
        self.states = self.sizes.size * self.width
        self.reach, self.gates = Reach(run, work), run.gates()
        self._needed: dict[int, Ints] = {}

    def needed(self, goal: int) -> Ints:
        """Return a lower bound on the pieces from each place to one of them; 0 beyond it."""
        if goal not in self._needed:
            self.work.add(BOUND_WORK * self.run.length)
            found = np.zeros(self.sizes.size, dtype=np.int64)
            some = pieces_needed(self.run.up_to(goal * self.run.grid + 1))
            found[: goal + 1] = some[:: self.run.grid][: goal + 1]
            self._needed[goal] = found
        return self._needed[goal]

    def states_at(self, begin: int, stop: int) -> Bools:
        """Return the states at some places."""
        counts = np.arange(self.width) < self.sizes[:, np.newaxis]
        counts[:begin] = counts[stop:] = False
        return counts.ravel()

    def about(self, states: Bools, useful: Bools) -> int:
        """Return about how many pieces there are from some states to useful places, by a few of them."""
        all_of_them = np.flatnonzero(states)
        some = np.zeros_like(states)
        some[all_of_them[:: all_of_them.size // _FEW + 1]] = True
        number = self.onward(some, useful, None).source.size
        return number * all_of_them.size // max(int(some.sum()), 1)

    def onward(self, states: Bools, useful: Bools, wanted: Bools | None) -> _Pieces:
        """Return the pieces from some states.

        Parameters
        ----------
        states : ndarray, shape (states,)
            Where they begin.
        useful : ndarray, shape (places,)
            The places at which they may end.
        wanted : ndarray, shape (states,), or None
            States of which each must be able to end at one; None for any.
        """
        run = self.run
        at_samples = np.zeros(run.length + 1, dtype=bool)
        at_samples[: run.length : run.grid] = useful & self.may_stand
        state = np.flatnonzero(states).astype(np.int32)
        place = state // self.width
        index = place.astype(np.int64) * run.grid
        count = self.base[place] + state % self.width * run.stride
        kernel = which.compiled()
        if kernel is not None:
            before = None if wanted is None else _counted(wanted)
            begins = paths.Begins(base=self.base, source=state, index=index, count=count,
                                  before=before, grid=run.grid, width=self.width)  # fmt: skip
            status, spent, pieces = paths.onward(
                kernel, self.gates, begins, at_samples, _BLOCK, self.work.left()
            )
            self.work.note(spent, is_too_much=status == paths.Status.EXHAUSTED)
            return _Pieces(*pieces)
        found, held = [_Pieces(state[:0], state[:0], state[:0])], 0
        for begin in range(0, state.size, _BLOCK):
            part = slice(begin, begin + _BLOCK)
            source, at, least, number = self.reach.spans(index[part], count[part], at_samples)
            ends = at // run.grid
            first = ends * self.width + (least - self.base[ends]) // run.stride
            some = _Pieces(state[part][source], first.astype(np.int32), number)
            found.append(some if wanted is None else some.into(wanted))
            held += found[-1].source.size
            self.work.hold(held * 3 // 2)  # three numbers of four bytes for each
        return _Pieces.joined(found)


def _counted(states: Bools) -> SmallInts:
    """Return how many of some states there are before each, and in all, shape (states + 1,)."""
    found = np.zeros(states.size + 1, dtype=np.int32)
    np.cumsum(states, dtype=np.int32, out=found[1:])
    return found


@dataclass(frozen=True, slots=True)
class _Meeting:
    """Beginnings, and the pieces from them and from their ends that may be parts of a chain.

    Parameters
    ----------
    begins : ndarray, shape (states,)
        The beginnings; their ends are the same states a day later.
    ahead, back : sequence of _Pieces
        The first, second, ... piece from a beginning, and from its end, which is read backward.
    """

    begins: Bools
    ahead: Sequence[_Pieces]
    back: Sequence[_Pieces]

    @property
    def size(self) -> int:
        """How many pieces it holds."""
        return sum(pieces.source.size for pieces in (*self.ahead, *self.back))


class _Circle:
    """The search at one error; parameters as for `fewest_around`."""

    def __init__(self, column: Column, window: int, work: WorkSpent) -> None:
        (channel,) = column.channels
        self.day, self.window, self.work = column.steps, window, work
        self.places = column.steps + window
        places = column.forced[0] + np.arange(self.places)
        samples = places[0] * column.grid + np.arange((self.places - 1) * column.grid + 1)
        samples %= channel.band.low.size
        run = Corridor(
            low=channel.band.low[samples],
            high=channel.band.high[samples],
            grid=column.grid,
            first=channel.first,
            end=None,
            rounding=column.rounding,
            stride=channel.stride,
        )
        may_stand = np.ones(self.places, dtype=bool)
        if column.places is not None:
            may_stand = column.places[places % column.steps]
        self.forward = _Side(run, may_stand, work)
        self.backward = _Side(run.backward(), may_stand[::-1], work)
        self.states, self.width = self.forward.states, self.forward.width
        if self.states > MOST_STATES:
            raise WorkSpent.Exhausted

    def parts(self) -> Iterator[tuple[int, int]]:
        """Yield parts of the window, each many times as long as what was before it.

        Where there are tables enough, the first beginnings have one. Where there are few or none, many
        beginnings at once take hardly longer than few.
        """
        begin, stop = 0, 1
        while begin < self.window:
            yield begin, min(stop, self.window)
            begin, stop = stop, stop + _LONGER * stop

    def least_rows(self) -> int:
        """Return a number of rows that no table can do with less."""
        needed = (self.forward.needed(self.day + begin)[stop - 1] for begin, stop in self.parts())
        return max(min(int(number) for number in needed), 1)

    def chain(self, begin: int, stop: int, rows: int) -> list[int] | None:
        """Return the places of so many rows, the first of which stands in a part of the window.

        None if there is no such table. With fewer rows there may be one.
        """
        meeting = self._met(begin, stop, rows)
        states = None if meeting is None else self._closed(meeting, meeting.size)
        return None if states is None else [state // self.width for state in states]

    def _closed(self, given: _Meeting, held: int) -> list[int] | None:
        """Return the state of each row of a chain that ends as it begins; ``held`` pieces are kept."""
        meeting = self._narrowed(given)
        if meeting is None:
            return None
        if np.count_nonzero(given.begins) == 1:  # what it meets is its own end, and no other's
            return self._states_of(meeting)
        held += meeting.size
        self.work.hold(held * 3 // 2)
        left = np.flatnonzero(meeting.begins)
        middle = left.size // 2
        for half in (left[:middle], left[middle:]):
            if half.size:
                some = _Meeting(self._flags(half), meeting.ahead, meeting.back)
                states = self._closed(some, held)
                if states is not None:
                    return states
        return None

    def _met(self, begin: int, stop: int, rows: int) -> _Meeting | None:
        """Return all pieces of the beginnings in a part of the window, None if they do not meet."""
        forward, backward = self.forward, self.backward
        # A beginning is within reach of the nearest end, and an end within that of the last beginning.
        to_end = forward.needed(self.day + begin)
        to_begin = backward.needed(self._mirrored_place(stop - 1))
        places = np.arange(self.places)
        before_last = places < self.day + stop
        after_first = places <= self._mirrored_place(begin)
        begins = forward.states_at(begin, stop) & np.repeat(to_end <= rows, self.width)
        ahead: list[_Pieces] = []
        back: list[_Pieces] = []
        reached, left = begins, self._mirrored(self._a_day_later(begins))
        for number in range(1, rows + 1):
            to_ahead = (to_end <= rows - len(ahead) - 1) & before_last
            to_back = (to_begin <= rows - len(back) - 1) & after_first
            meets = number == rows
            if forward.about(reached, to_ahead) <= backward.about(left, to_back):
                wanted = self._mirrored(left) if meets else None
                ahead.append(forward.onward(reached, to_ahead, wanted))
                reached = self._ends(ahead[-1])
            else:
                wanted = self._mirrored(reached) if meets else None
                back.append(backward.onward(left, to_back, wanted))
                left = self._ends(back[-1])
            if not reached.any() or not left.any():
                return None
            self.work.hold(_Meeting(begins, ahead, back).size * 3 // 2)
        return _Meeting(begins, ahead, back)

    def _narrowed(self, given: _Meeting) -> _Meeting | None:
        """Return what is left of a meeting if only its beginnings begin; None if they do not meet."""
        ends = self._mirrored(self._a_day_later(given.begins))
        ahead, reached = self._from(given.ahead, given.begins)
        back, left = self._from(given.back, ends)
        meets = reached & self._mirrored(left)
        if not meets.any():
            return None
        ahead, begins = self._to(ahead, meets)
        back, ends = self._to(back, self._mirrored(meets))
        begins &= self._a_day_earlier(self._mirrored(ends))
        return _Meeting(begins, ahead, back) if begins.any() else None

    def _from(self, pieces: Sequence[_Pieces], begins: Bools) -> tuple[list[_Pieces], Bools]:
        """Return the pieces that go on from some states, and the states at which the last ones end."""
        kept = []
        for each in pieces:
            self._note(each)
            kept.append(each.which(begins[each.source]))
            begins = self._ends(kept[-1])
        return kept, begins

    def _to(self, pieces: Sequence[_Pieces], ends: Bools) -> tuple[list[_Pieces], Bools]:
        """Return the pieces that lead to some states, and the states at which the first ones begin."""
        kept = []
        for each in reversed(pieces):
            self._note(each)
            kept.append(each.into(ends))
            ends = kept[-1].begins(self.states)
        return kept[::-1], ends

    def _states_of(self, found: _Meeting) -> list[int]:
        """Return the state of each row of a chain whose beginning is the only one of a meeting.

        Of the states to go on to, the one in their middle is taken: rows with room on all sides make tables
        that are nearer to the plan in the mean than those of the longest pieces.
        """
        ends = self._mirrored(self._a_day_later(found.begins))
        meets = self._from(found.ahead, found.begins)[1]
        meets &= self._mirrored(self._from(found.back, ends)[1])
        forward = self._way(found.ahead, int(np.flatnonzero(found.begins)[0]), meets)
        end = int(np.flatnonzero(ends)[0])
        back = self._way(found.back, end, self._mirrored(self._flags(forward[-1:])))
        return [*forward, *(self._mirrored_state(state) for state in back[-2::-1])][:-1]

    def _way(self, pieces: Sequence[_Pieces], begin: int, goals: Bools) -> list[int]:
        """Return the states on a way from a beginning to one of some goals."""
        narrowed = self._to(pieces, goals)[0]
        go_on = [*(each.begins(self.states) for each in narrowed), goals][1:]
        way = [begin]
        for each, ends in zip(narrowed, go_on, strict=True):
            some = np.flatnonzero(each.which(each.source == way[-1]).ends(self.states) & ends)
            way.append(int(some[some.size // 2]))
        return way

    def _ends(self, pieces: _Pieces) -> Bools:
        self._note(pieces)
        return pieces.ends(self.states)

    def _note(self, pieces: _Pieces) -> None:
        self.work.add(_PIECE_WORK * pieces.source.size + self.states // _STATES_A_GATE)

    def _flags(self, states: Sequence[int] | Ints) -> Bools:
        found = np.zeros(self.states, dtype=bool)
        found[states] = True
        return found

    def _a_day_later(self, states: Bools) -> Bools:
        return np.roll(states, self.day * self.width)

    def _a_day_earlier(self, states: Bools) -> Bools:
        return np.roll(states, -self.day * self.width)

    def _mirrored(self, states: Bools) -> Bools:
        """Return states of the one side as the other side has them."""
        return states.reshape(self.places, self.width)[::-1].ravel()

    def _mirrored_state(self, state: int) -> int:
        return self._mirrored_place(state // self.width) * self.width + state % self.width

    def _mirrored_place(self, place: int) -> int:
        return self.places - 1 - place
