"""A long sweep in chunks: what they led to stands in a state file, and processes of their own work them off.

A script that sweeps says what it adds up (`Sums`), gives its chunks to a `Sweep`, and is started again by it
with some numbers of chunks, for each of which it prints what came of it (`answer`).
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import threading
import time
from collections import Counter, deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from photoperiod.formats.atomic import replace_file

#: Of failures so many are kept, each with what shows it again.
MOST_KEPT = 100


@dataclass(frozen=True)
class Sums:
    """What a sweep adds up, by the keys of its state file, beside failures, processor time and memory.

    Parameters
    ----------
    counters : tuple of str
        Each says of some words how often they were met.
    numbers : tuple of str
        Each is a number.
    sets : tuple of str
        Each is some words that were met.
    counts_chunks : bool
        Whether the state holds how many chunks are done, one after the other, and not which.
    """

    counters: tuple[str, ...]
    numbers: tuple[str, ...]
    sets: tuple[str, ...] = ()
    counts_chunks: bool = False

    def nothing(self) -> dict[str, Any]:
        """Return what a chunk led to that was not worked off."""
        return {
            **{key: {} for key in self.counters},
            **{key: [] for key in self.sets},
            **dict.fromkeys(self.numbers, 0),
            "failures": [],
            "cpu_s": 0.0,
            "peak_mib": 0.0,
        }

    def read(self, path: Path) -> dict[str, Any]:
        """Return the state of a file; that of a sweep that begins, if there is none."""
        if path.exists():
            state: dict[str, Any] = json.loads(path.read_bytes())
            return state
        return self.nothing() | {"chunks": 0 if self.counts_chunks else [], "failed": 0}

    def done(self, state: Mapping[str, Any]) -> set[int]:
        """Return which chunks are done."""
        return set(range(state["chunks"])) if self.counts_chunks else set(state["chunks"])

    def add(self, state: dict[str, Any], number: int, found: Mapping[str, Any]) -> None:
        """Add what a chunk led to."""
        if self.counts_chunks:
            state["chunks"] += 1
        else:
            state["chunks"] = sorted([*state["chunks"], number])
        for key in self.counters:
            state[key] = dict(sorted((Counter(state[key]) + Counter(found[key])).items()))
        for key in self.sets:
            state[key] = sorted({*state[key], *found[key]})
        for key in (*self.numbers, "cpu_s"):
            state[key] += found[key]
        state["failed"] += len(found["failures"])
        state["failures"] = (state["failures"] + found["failures"])[:MOST_KEPT]
        state["peak_mib"] = max(state["peak_mib"], found["peak_mib"])


@dataclass(frozen=True)
class Limits:
    """How long, and how much at a time.

    Parameters
    ----------
    until_s : float
        No chunk is begun, and none goes on, after this, by the monotonic clock. [s]
    hangs_s : float
        A chunk that takes longer hangs, and counts as a failure. [s]
    chunks_a_process : int
        So many are worked off by one process, so that what they leave behind can't pile up.
    """

    until_s: float
    hangs_s: float
    chunks_a_process: int


class Sweep:
    """Chunks that are left, and the processes that work them off.

    Parameters
    ----------
    sums : Sums
        What is added up.
    state : dict
        What the chunks led to that are done.
    path : Path
        The state file; it is written after each chunk.
    chunks : int
        How many there are in all.
    limits : Limits
        How long, and how much at a time.
    """

    def __init__(
        self, sums: Sums, state: dict[str, Any], path: Path, chunks: int, limits: Limits
    ) -> None:
        self.sums, self.state, self.path, self.limits = sums, state, path, limits
        self._lock = threading.Lock()
        done = sums.done(state)
        self._left = deque(number for number in range(chunks) if number not in done)

    def go(self, command: Callable[[list[int]], list[str]], processes: int = 1) -> None:
        """Work until nothing is left, or the time is over.

        Parameters
        ----------
        command : callable
            Returns the command that works off some chunks, and prints a line for each.
        processes : int
            How many at a time; one, where the state does not hold which chunks are done.
        """
        assert processes == 1 or not self.sums.counts_chunks
        threads = [threading.Thread(target=self._work, args=(command,)) for _ in range(processes)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def _work(self, command: Callable[[list[int]], list[str]]) -> None:
        while time.monotonic() < self.limits.until_s:
            with self._lock:
                count = min(self.limits.chunks_a_process, len(self._left))
                numbers = [self._left.popleft() for _ in range(count)]
            if not numbers:
                return
            undone = self._by_a_process(numbers, command(numbers))
            with self._lock:
                self._left.extendleft(reversed(undone))

    def _by_a_process(self, numbers: list[int], command: list[str]) -> list[int]:
        """Let a process work off some chunks; return those to which it did not come."""
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            for at, number in enumerate(numbers):
                left_s = max(self.limits.until_s - time.monotonic(), 0.0)
                watch = threading.Timer(min(self.limits.hangs_s, left_s), process.kill)
                watch.start()
                line = process.stdout.readline()
                watch.cancel()
                is_whole = line.endswith("\n")
                if not is_whole and time.monotonic() >= self.limits.until_s:
                    return numbers[at:]
                if is_whole:
                    self._note(number, json.loads(line))
                else:  # it was killed by the system, or it hung
                    why = f"chunk {number}: hung, or its process ended"
                    self._note(number, self.sums.nothing() | {"failures": [why]})
                    process.kill()
                    return numbers[at + 1 :]
                if time.monotonic() >= self.limits.until_s:
                    process.kill()
                    return numbers[at + 1 :]
        return []

    def _note(self, number: int, found: Mapping[str, Any]) -> None:
        with self._lock:
            self.sums.add(self.state, number, found)
            replace_file(self.path, json.dumps(self.state, indent=1).encode())


def answer(numbers: Iterable[int], work: Callable[[int], Mapping[str, Any]]) -> int:
    """Print for each chunk a line of JSON that says what it led to, its time and the peak of memory."""
    for number in numbers:
        before = _cpu_s()
        found = {
            **work(number),
            "cpu_s": _cpu_s() - before,
            "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        }
        print(json.dumps(found), flush=True)
    return 0


def finish(state: Mapping[str, Any], told: Iterable[str]) -> int:
    """Print what a sweep led to, its failures last; return the exit code."""
    for line in (*told, *state["failures"], f"failures: {state['failed']}"):
        print(line)
    return 1 if state["failed"] else 0


def _cpu_s() -> float:
    """Return the processor time of this process and of the commands that it ran. [s]"""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system
