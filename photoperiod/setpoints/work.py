"""How much work the searches may do, counted in gates that are looked at.

With these limits a channel takes a second on a small machine at the most with the compiled kernel, and
some seconds without it; nearly all take a small part of that. What is limited is work, and not time, so
that the same input gives the same rows on every machine.
"""

from __future__ import annotations

#: The exact search of one channel.
SINGLE_WORK = 200_000_000

#: The exact search of channels that share one column of times.
SHARED_WORK = 180_000_000

#: The second objective of one channel.
REFINEMENT_WORK = 30_000_000

#: What else a certificate says.
EXTRA_WORK = 10_000_000


#: To look for the lower bound on pieces takes as long as so many gates of cones for each gate.
BOUND_WORK = 20


#: Numbers of eight bytes that one part of a search may hold at once: a bound on memory.
MOST_HELD = 6_000_000


class WorkSpent:
    """A bound on the work of a search, counted in gates that were looked at.

    Parameters
    ----------
    limit : int
        When so many gates were looked at, `Exhausted` is raised.
    """

    class Exhausted(Exception):
        """The work is spent."""

    def __init__(self, limit: int) -> None:
        self.limit, self.spent = limit, 0

    def left(self) -> tuple[int, int, int]:
        """Return what is spent, what may be spent, and what may be held at once: for the kernel."""
        return self.spent, self.limit, MOST_HELD

    def note(self, spent: int, *, is_too_much: bool) -> None:
        """Note what the kernel has spent in all; `Exhausted` is raised if it says that it was too much."""
        self.spent = spent
        if is_too_much:
            raise self.Exhausted

    def hold(self, numbers: int) -> None:
        """Refuse to hold so many numbers of eight bytes at once, before memory is taken for them."""
        if numbers > MOST_HELD:
            raise self.Exhausted

    def add(self, gates: int) -> None:
        """Count some work."""
        self.spent += gates
        if self.spent > self.limit:
            raise self.Exhausted
