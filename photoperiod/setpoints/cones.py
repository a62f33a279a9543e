"""What one piece from a corner can reach: the cone of slopes that pass all gates, over many corners."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

from photoperiod.arrays import AnyInts, Bools, Floats, Ints, SmallInts
from photoperiod.kernel import paths, which
from photoperiod.setpoints.corridor import FLOAT_SLACK, Corridor
from photoperiod.setpoints.work import WorkSpent

#: Corners whose cones are followed at once, and the gates looked at first and at most in one go.
#: They fit the cache of a small processor; how few pieces are found does not depend on them.
_BLOCK = 512
_CHUNK = 96
_CHUNK_MOST = 384

#: Corners that are worked out at once where they need not all be held: a bound on memory.
_MOST_AT_ONCE = 500_000

#: Stretches of counts: source, index, least count, how many from it on.
Spans = tuple[SmallInts, SmallInts, SmallInts, SmallInts]


class Reach:
    """What one piece from a corner can reach: the cone of slopes, vectorised over corners."""

    def __init__(self, run: Corridor, work: WorkSpent) -> None:
        self.run, self.work = run, work
        self.lines = run.lines()
        self.size = self.lines[0][1].size
        self.last = self.size - 1
        self._gates: paths.Gates | None = None

    def corners(
        self, index: AnyInts, count: AnyInts, useful: Bools
    ) -> tuple[SmallInts, SmallInts, SmallInts]:
        """Return all useful corners that one piece reaches.

        Parameters
        ----------
        index, count : ndarray, shape (corners,)
            Where the pieces begin.
        useful : ndarray, shape (length + 1,)
            The indices at which a piece may end.

        Returns
        -------
        source, index, count : ndarray, shape (found,)
            Number of the beginning corner, and where the piece may end.
        """
        source, at, least, number = self.spans(index, count, useful)
        total = int(number.sum())
        self.work.add(total)
        self.work.hold(total + total // 2)  # three numbers of four bytes for each
        return self._expanded(source, at, least, number)

    def streamed(self, index: AnyInts, count: AnyInts, useful: Bools) -> Iterator[Spans]:
        """Yield the same as stretches of counts, a part at a time, by numpy, so that few are held."""
        ends = np.flatnonzero(useful)
        if not ends.size:
            return
        self.last = int(ends[-1])
        for found in self._chunks(index, count, useful):
            number = found[3]
            total = int(number.sum())
            self.work.add(total)
            if 0 < total <= _MOST_AT_ONCE:
                yield found
                continue
            parts = np.cumsum(number, dtype=np.int64) // _MOST_AT_ONCE
            heads = np.flatnonzero(np.diff(parts, prepend=-1)).tolist()
            if not heads:
                continue
            for head, stop in zip(heads, [*heads[1:], number.size], strict=True):
                source, at, least, many = (part[head:stop] for part in found)
                yield source, at, least, many

    def _expanded(
        self, source: SmallInts, at: SmallInts, least: SmallInts, number: SmallInts
    ) -> tuple[SmallInts, SmallInts, SmallInts]:
        """Return the corners of some stretches."""
        count = counted_up(least, number, self.run.stride)
        return np.repeat(source, number), np.repeat(at, number), count

    def spans(
        self, index: AnyInts, count: AnyInts, useful: Bools
    ) -> tuple[SmallInts, SmallInts, SmallInts, SmallInts]:
        """Return the same as stretches of counts: source, index, least count, how many from it on.

        The counts of a stretch are multiples of the run's stride, or the end of the run.
        """
        ends = np.flatnonzero(useful)
        if not ends.size:
            index, count = index[:0], count[:0]
        else:  # from beyond the last useful end nothing is reached
            self.last = int(ends[-1])
        kernel = which.compiled()
        if kernel is not None:
            return self._compiled_spans(kernel, index, count, useful)
        found: list[Spans] = []
        held = 0
        for chunk in self._chunks(index, count, useful):
            found.append(chunk)
            held += chunk[0].size
            self.work.hold(2 * held)
        if not found:
            empty = np.zeros(0, dtype=np.int32)
            return empty, empty, empty, empty
        source, at, least, number = (np.concatenate(part) for part in zip(*found, strict=True))
        return source, at, least, number

    def _chunks(self, index: AnyInts, count: AnyInts, useful: Bools) -> Iterator[Spans]:
        """Yield stretches of counts, chunk by chunk of gates."""
        for sign, low, high in self.lines:
            gates = _Windows(low, high, useful, self.last)
            for start in range(0, index.size, _BLOCK):
                part = np.arange(start, min(start + _BLOCK, index.size))
                cone = _Cone.open_at(part, index[part], count[part], sign)
                for passed in self._through(cone, gates):
                    yield self._counts_in(passed)

    def _compiled_spans(
        self, kernel: ModuleType, index: AnyInts, count: AnyInts, useful: Bools
    ) -> tuple[SmallInts, SmallInts, SmallInts, SmallInts]:
        """Return the same, by the compiled kernel."""
        if self._gates is None:
            self._gates = self.run.gates()
        status, spent, found = paths.spans(
            kernel, self._gates, index.astype(np.int64), count.astype(np.int64), useful,
            self.work.left(),
        )  # fmt: skip
        self.work.note(spent, is_too_much=status == paths.Status.EXHAUSTED)
        source, at, least, number = np.ascontiguousarray(found.T)
        return source, at, least, number

    def _through(self, cone: _Cone, gates: _Windows) -> Iterator[_ConeAt]:
        """Yield the cones at all useful indices, gate by gate, until none is open any more.

        Many gates are looked at in one go, because numpy is slow at few numbers. The chunks grow,
        because most cones close within the first.
        """
        offset, chunk = 1, _CHUNK
        while cone.source.size:
            self.work.add(cone.source.size * chunk)
            distance = np.arange(offset, offset + chunk)
            down, up, useful = gates.of(cone.index + offset, chunk)
            base = cone.base[:, None]
            for slopes in (down, up):
                slopes -= base
                slopes /= distance
            # What earlier chunks left of the cone goes on in the first gate of this one.
            up[:, 0] = np.minimum(up[:, 0], cone.steepest)
            down[:, 0] = np.maximum(down[:, 0], cone.flattest)
            np.minimum.accumulate(up, axis=1, out=up)
            np.maximum.accumulate(down, axis=1, out=down)
            is_open = down <= up + FLOAT_SLACK
            alive = is_open[:, -1].copy()
            place = np.flatnonzero(np.logical_and(is_open, useful, out=is_open))
            if place.size:
                row = place // chunk
                on = place - row * chunk + offset
                yield _ConeAt(
                    source=cone.source[row],
                    distance=on,
                    at=cone.index[row] + on,
                    base=cone.base[row],
                    flattest=down.ravel()[place],
                    steepest=up.ravel()[place],
                )
            cone = _Cone(
                source=cone.source[alive],
                index=cone.index[alive],
                base=cone.base[alive],
                flattest=down[alive, -1],
                steepest=up[alive, -1],
            )
            offset += chunk
            chunk = min(chunk * 2, _CHUNK_MOST)

    def _counts_in(self, cone: _ConeAt) -> tuple[SmallInts, SmallInts, SmallInts, SmallInts]:
        """Return the whole counts within some cones: source, index, least count, how many."""
        run, at = self.run, cone.at
        least = np.ceil(cone.base + cone.flattest * cone.distance - FLOAT_SLACK).astype(np.int64)
        most = np.floor(cone.base + cone.steepest * cone.distance + FLOAT_SLACK).astype(np.int64)
        is_end = at == run.length
        if not is_end.any():
            least = np.maximum(np.maximum(least, run.first), run.low[at])
            most = np.minimum(most, run.high[at])
            if run.stride > 1:
                least = -(-least // run.stride) * run.stride
            return self._some(cone, least, most)
        inner = np.minimum(at, run.length - 1)  # a corner stands inside its own gate
        corner = np.maximum(np.maximum(least, run.first), run.low[inner])
        most = np.where(is_end, most, np.minimum(most, run.high[inner]))
        least = np.where(is_end, least, -(-corner // run.stride) * run.stride)
        if run.end is not None:
            hit = is_end & (least <= run.end) & (most >= run.end)
            least = np.where(is_end, run.end, least)
            most = np.where(is_end, np.where(hit, run.end, run.end - 1), most)
        return self._some(cone, least, most)

    def _some(self, cone: _ConeAt, least: Ints, most: Ints) -> Spans:
        """Return the counts from one to another within each cone that has any."""
        stride = self.run.stride
        number = (most - least if stride == 1 else (most - least) // stride) + 1
        some = number > 0
        self.work.add(int(np.count_nonzero(some)))
        found = (cone.source[some], cone.at[some], least[some], number[some])
        source, at, count, many = (part.astype(np.int32) for part in found)
        return source, at, count, many


def counted_up(first: AnyInts, number: AnyInts, stride: int = 1) -> SmallInts:
    """Return numbers that count up from each first one, so many of each, side by side."""
    total = int(number.sum())
    counted = np.full(total, stride, dtype=np.int32)
    if total:
        counted[0] = first[0]
        counted[np.cumsum(number[:-1])] = first[1:] - (first[:-1] + (number[:-1] - 1) * stride)
    return np.cumsum(counted, dtype=np.int32, out=counted)


class _Windows:
    """Gates in a row from any index on; behind the last useful place they let nothing through."""

    def __init__(self, low: Floats, high: Floats, useful: Bools, last: int) -> None:
        room = low.size + _CHUNK_MOST + _CHUNK
        self.low, self.high = np.full(room, np.inf), np.full(room, -np.inf)
        self.useful = np.zeros(room, dtype=bool)
        self.low[: last + 1], self.high[: last + 1] = low[: last + 1], high[: last + 1]
        self.useful[: last + 1] = useful[: last + 1]

    def of(self, begin: AnyInts, chunk: int) -> tuple[Floats, Floats, Bools]:
        """Return lower ends, upper ends and usefulness of some gates, shape (begins, chunk) each."""
        shape = (self.low.size - chunk + 1, chunk)

        def windows(values: Any) -> Any:
            view = np.ndarray(shape, values.dtype, values, strides=2 * values.strides)
            return view[begin]

        return windows(self.low), windows(self.high), windows(self.useful)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cone:
    """Lines from some corners: the slopes that pass all gates so far, all of shape (corners,).

    ``source`` is the number of the corner, ``index`` and ``base`` its sample and count. [counts]
    ``flattest`` and ``steepest`` bound the slopes. [counts per sample]
    """

    source: Ints
    index: AnyInts
    base: Floats
    flattest: Floats
    steepest: Floats

    @classmethod
    def open_at(cls, source: Ints, index: AnyInts, count: AnyInts, sign: int) -> _Cone:
        """Return the cones before any gate: all slopes, or all that rise or fall as ``sign`` says."""
        return cls(
            source=source,
            index=index,
            base=count.astype(np.float64),
            flattest=np.full(source.size, -np.inf if sign <= 0 else 0.0),
            steepest=np.full(source.size, np.inf if sign >= 0 else 0.0),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _ConeAt:
    """Cones at the indices ``at``, ``distance`` samples after their corners; else as `_Cone`."""

    source: Ints
    distance: Ints
    at: Ints
    base: Floats
    flattest: Floats
    steepest: Floats
