"""Gates and what they let through, against trying everything."""

from __future__ import annotations

from dataclasses import replace

from photoperiod.setpoints.corridor import one_line_ends
from tests.setpoints.test_segments import corners_after, small_runs


def test_one_line_ends_where_some_count_has_a_line_to_the_end() -> None:
    answers = []
    for run, _ in small_runs(400, 300):
        if run.end not in (None, 0):
            continue
        lines = [
            count
            for count in range(max(int(run.low[0]), run.first), int(run.high[0]) + 1)
            if any(index == run.length for index, _ in corners_after(run, 0, count))
        ]
        wanted = run.end is None or bool(lines)
        assert one_line_ends(run) == wanted, run
        answers.append(wanted and run.end is not None)
    assert 5 < sum(answers) < len(answers)


def test_counts_that_are_held_to_the_end_are_in_all_gates_from_there() -> None:
    for run, _ in small_runs(401, 100):
        low, high = run.held_to_end()
        for index in range(run.length):
            for count in range(int(run.high.max()) + 2):
                inside = all(run.low[s] <= count <= run.high[s] for s in range(index, run.length))
                assert (low[index] <= count <= high[index]) == inside


def test_begins_are_in_the_first_gate_and_on_the_stride() -> None:
    for run, _ in small_runs(402, 50):
        for stride in (1, 3):
            strided = replace(run, stride=stride)
            wanted = [
                count
                for count in range(20)
                if run.low[0] <= count <= run.high[0] and count >= run.first and not count % stride
            ]
            assert strided.begins(range(20)).tolist() == wanted


def test_the_kernel_gets_the_same_gates() -> None:
    for run, _ in small_runs(403, 20):
        gates = run.gates()
        assert gates.low.tolist() == run.low.tolist()
        assert gates.high.tolist() == run.high.tolist()
        assert (gates.first, gates.end, gates.stride) == (run.first, run.end, run.stride)
        assert len(gates.lines) == (2 if run.rounding == "toward-last-row" else 1)
