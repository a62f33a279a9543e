"""Which single rows of finished tables go elsewhere, so that the doses of zones are met.

Each row that moves changes the light of its channel, and so the doses of all zones that it lights, by an
amount that does not depend on rows that are no neighbours of it. So a few moves are chosen by their sums.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from photoperiod.arrays import Floats
from photoperiod.drive.grid import Row
from photoperiod.setpoints.row_moves import RowMove, RowMoves
from photoperiod.solve.trial import SLACK, Trial
from photoperiod.units import UMOL_PER_MOL

#: So many rows are moved at once, and so many sets of moves are followed from one number of rows to the next.
MOST_MOVES, WIDTH = 4, 100

#: So often the best moves are made where none meets the doses.
ROUNDS = 4

#: Doses are met if they are off by at most this share of what is allowed: a replay adds up in another order.
MET = 0.98


@dataclass(frozen=True, slots=True)
class _Move:
    """A move of one row, and by how much it changes the dose of each zone. [mol m⁻² d⁻¹]"""

    channel: str
    of_table: RowMove
    more: tuple[float, ...]


class SingleRows:
    """The moves of single rows of a trial's tables, and which of them meet doses.

    Parameters
    ----------
    trial : Trial
        The tables.
    tables : mapping of channel to RowMoves
        What the rows of the channels that may move may do.
    wanted : mapping of zone to (float, float)
        Least and most dose that is asked for. [mol m⁻² d⁻¹]
    allowed : mapping of zone to float
        How far outside it may be, above 0. [mol m⁻² d⁻¹]
    """

    def __init__(
        self,
        trial: Trial,
        tables: Mapping[str, RowMoves],
        wanted: Mapping[str, tuple[float, float]],
        allowed: Mapping[str, float],
    ) -> None:
        self.trial, self.first, self.zones = trial, dict(tables), list(wanted)
        self.tables = dict(tables)
        self.doses = np.array([trial.day.zones[id].dli.replay for id in self.zones])
        self.low, self.high = (np.array([wanted[id][end] for id in self.zones]) for end in (0, 1))
        # Nothing is allowed where no channel that moves lights the zone.
        self.allowed = np.array([max(allowed[id], SLACK) for id in self.zones])
        self._take([move for id in self.tables for move in self._moves(id)])

    def sets(self) -> Iterator[dict[str, tuple[Row, ...]]]:
        """Yield the rows of the tables that change so that doses are met; few moves first.

        Where no few moves meet them, the best are made, and it begins again from there.
        """
        for _ in range(ROUNDS):
            before = self._worst(self.doses)
            if not self.moves:
                return
            best: tuple[int, ...] = ()
            least = float(before)
            for kept in self._sets_by_number():
                worst = self._worst(self._after(kept))
                for each, off in zip(kept, worst.tolist(), strict=True):
                    if off > MET:
                        break
                    yield self._rows(each)
                at = int(worst.argmin())
                if worst[at] < least:
                    best, least = kept[at], float(worst[at])
            if least >= before:
                return
            self._make(best)

    def _sets_by_number(self) -> Iterator[list[tuple[int, ...]]]:
        """Yield the best sets of one move, of two, and so on, each list with the best first."""
        kept: list[tuple[int, ...]] = [()]
        for _ in range(MOST_MOVES):
            doses = self._after(kept)
            kept = self._best(kept, self._worst(doses[:, None, :] + self.more[None, :, :]))
            if not kept:
                return
            yield kept

    def _best(self, kept: Sequence[tuple[int, ...]], worst: Floats) -> list[tuple[int, ...]]:
        """Return the best sets of one move more, by how bad each pair of a set and a move is."""
        found: dict[tuple[int, ...], None] = {}
        for at in np.argsort(worst, axis=None, kind="stable").tolist():
            before, move = kept[at // len(self.moves)], at % len(self.moves)
            if self._is_allowed(before, move):
                found.setdefault(tuple(sorted((*before, move))))
                if len(found) == WIDTH:
                    break
        return list(found)

    def _is_allowed(self, moves: Sequence[int], another: int) -> bool:
        """Return whether a move goes together with others."""
        b = self.moves[another]
        return all(
            a.channel != b.channel
            or self.tables[a.channel].are_apart(a.of_table.number, b.of_table.number)
            for a in (self.moves[at] for at in moves)
        )

    def _after(self, sets: Sequence[tuple[int, ...]]) -> Floats:
        """Return the doses after each of some sets of as many moves, shape (sets, zones). [mol m⁻² d⁻¹]"""
        found = np.tile(self.doses, (len(sets), 1))
        for moves in zip(*sets, strict=True):
            found += self.more[list(moves)]
        return found

    def _worst(self, doses: Floats) -> Floats:
        """Return by how much doses are off, in what is allowed; the worst of all zones.

        It is rounded, so that a tie is a tie on every machine.
        """
        off = np.maximum(np.maximum(self.low - doses, doses - self.high), 0.0)
        worst: Floats = np.round((off / self.allowed).max(axis=-1), 9)
        return worst

    def _rows(self, moves: Sequence[int]) -> dict[str, tuple[Row, ...]]:
        """Return the rows of all tables that are others after some moves."""
        found = {}
        for id, table in self.tables.items():
            mine = [each for each in (self.moves[at] for at in moves) if each.channel == id]
            rows = table.moved([each.of_table for each in mine])
            if rows != self.first[id].rows:
                found[id] = rows
        return found

    def _make(self, moves: Sequence[int]) -> None:
        """Make some moves for good, and find out what may be moved then."""
        changed = {self.moves[at].channel for at in moves}
        self.doses = self._after([tuple(moves)])[0]
        rows = self._rows(moves)
        for id in sorted(changed):
            self.tables[id] = self.first[id].after(rows.get(id, self.first[id].rows))
        self._take(
            [
                move
                for id in self.tables
                for move in (
                    self._moves(id)
                    if id in changed
                    else (each for each in self.moves if each.channel == id)
                )
            ]
        )

    def _take(self, moves: list[_Move]) -> None:
        """Take moves as those that there are; ``more`` has what each adds, shape (moves, zones)."""
        self.moves = moves
        self.more = np.array([move.more for move in moves]).reshape(-1, len(self.zones))

    def _moves(self, id: str) -> list[_Move]:
        """Return the moves of the table of a channel."""
        ppfd = [
            next((p for c, p in self.trial.day.zones[zone].sources if c.channel.id == id), 0.0)
            for zone in self.zones
        ]
        return [
            _Move(id, move, tuple(each * move.more_s / UMOL_PER_MOL for each in ppfd))
            for move in self.tables[id].single
        ]
