"""Years beside the tank: the real player of a board in a simulated world, with faults of every kind.

    python benchmarks/world.py --years 100        # until so many board-years are played
    python benchmarks/world.py --seconds 120      # as many as fit into this time
    python benchmarks/world.py --seed 7 --worlds 1   # one world alone, as a violation names it

A world is a board of its own for some days; everything in it follows from its seed. The world jumps from
one possible change to the next. At the end stands what was met, and ``violations: 0``.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.world.faults import FAULTS  # noqa: E402
from tests.world.story import STATES, Told, all_pairs, play  # noqa: E402
from tests.world.wrong import Violation  # noqa: E402

DAYS_OF_A_YEAR = 365.25

#: After so many violations the rest is not worth the time.
MOST_VIOLATIONS = 20


def main() -> int:
    """Play worlds, and return 1 if a law was broken in any."""
    options = _options()
    began_s, told, bad = time.monotonic(), Told(), []
    seed, shown_s = options.seed, began_s
    while not _is_over(options, told, seed - options.seed, time.monotonic() - began_s):
        try:
            told.add(play(seed, options.days))
        except KeyboardInterrupt:
            break  # what was met until now is told
        except Violation as violation:
            bad.append(seed)
            print(f"{violation}\n", flush=True)
            if len(bad) >= MOST_VIOLATIONS:
                break
        seed += 1
        if time.monotonic() - shown_s > 60:
            shown_s = time.monotonic()
            print(
                f"{told.days / DAYS_OF_A_YEAR:.1f} board-years, seeds to {seed - 1}",
                file=sys.stderr,
                flush=True,
            )
    _print(told, range(options.seed, seed), time.monotonic() - began_s, len(bad))
    return 1 if bad else 0


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--years", type=float, help="board-years to play")
    parser.add_argument("--seconds", type=float, help="stop after this time [s]")
    parser.add_argument("--worlds", type=int, help="stop after so many worlds")
    parser.add_argument("--seed", type=int, default=0, help="the first world; the next ones follow")
    parser.add_argument("--days", type=float, default=20.0, help="days of each world")
    options = parser.parse_args()
    if options.years is None and options.seconds is None and options.worlds is None:
        options.years = 1.0
    return options


def _is_over(options: argparse.Namespace, told: Told, worlds: int, seconds: float) -> bool:
    limits = (
        (options.years, told.days / DAYS_OF_A_YEAR),
        (options.seconds, seconds),
        (options.worlds, worlds),
    )
    return any(limit is not None and done >= limit for limit, done in limits)


def _print(told: Told, seeds: range, seconds: float, bad: int) -> None:
    total = sum(told.faults.values())
    beyond = sum(count for name, count in told.faults.items() if FAULTS[name].is_beyond)
    print(f"seeds {seeds.start} to {seeds.stop - 1}, {seconds:.0f} s")
    print(f"{told.days / DAYS_OF_A_YEAR:.2f} board-years, {told.steps:,} steps")
    print(f"{total:,} faults, {total / max(told.days, 1e-9):.2f} a day; outside the player's reach:"
          f" {100 * beyond / max(total, 1):.1f} %")  # fmt: skip
    for name in FAULTS:
        mark = " (outside the player's reach)" if FAULTS[name].is_beyond else ""
        print(f"{told.faults[name]:8,}  {name}{mark}")
    ends = ", ".join(f"{what}: {count:,}" for what, count in sorted(told.ends.items()))
    print(f"ends of processes: {ends}")
    pairs = all_pairs()
    missing = [f"{name} / {state}" for name, state in pairs if not told.pairs[(name, state)]]
    print(f"pairs of fault and player state: {len(pairs) - len(missing)} of {len(pairs)}"
          f" ({len(FAULTS)} faults, {len(STATES)} states)")  # fmt: skip
    if 0 < len(missing) <= 40:
        print(f"not reached: {'; '.join(missing)}")
    print(f"violations: {bad}")


if __name__ == "__main__":
    sys.exit(main())
