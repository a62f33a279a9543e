"""Rows of the growth table tell the truth: `method`, `is_best`, error and bound against the verifier.

The rows are measured as `benchmarks/growth.py` measures them, in processes of their own, and what they tell
is taken from there. The verifier knows no code of the fit.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from photoperiod.drive.grid import Row
from tests.oracle.plain_day import Claim, Day
from tests.oracle.verify import JointClaim, faults, joint_faults

BENCHMARKS = Path(__file__).resolve().parents[2] / "benchmarks"


@pytest.fixture(scope="module")
def growth() -> Iterator[ModuleType]:
    """The benchmark, as a module; it finds its neighbours beside it."""
    spec = importlib.util.spec_from_file_location("growth", BENCHMARKS / "growth.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["growth"] = module
    sys.path.insert(0, str(BENCHMARKS))
    try:
        spec.loader.exec_module(module)
        yield module
    finally:
        sys.path.remove(str(BENCHMARKS))
        del sys.modules["growth"]


#: Rows on coarse grids, which the verifier goes through in seconds.
SMALL = {
    "few rows": {"rows": 6},
    "more rows": {"rows": 8},
    "5 % levels": {"level_step": "5"},
    "log-law": {"response": "log-law", "floor_light": 0.001},
    "too few rows for anything": {"rows": 2},
    "two channels": {"channels": 2, "rows": 6},
}


@pytest.mark.parametrize("name", list(SMALL))
def test_what_a_row_tells_stands_before_the_verifier(growth: ModuleType, name: str) -> None:
    more = {"axis": "small", "name": name, "level_step": "2", "time_step_s": 900, **SMALL[name]}
    case = growth.Case(**more)
    told = growth.measured(case).told
    targets, times = growth.targets_of(case)
    assert len(told["rows"]) == len(told["proofs"]) == len(targets) == case.channels
    for rows, proof, target in zip(told["rows"], told["proofs"], targets, strict=True):
        claim = Claim(
            rows=[Row(*row) for row in rows], row_limit=case.rows, error=proof["error"],
            bound=proof["bound"], sample_s=proof["sample_s"], tolerance_s=proof["tolerance_s"],
        )  # fmt: skip
        found = faults(claim, target.reachable, times, target.path)
        if name == "too few rows for anything":
            # Lit needs a row, dark another: more stand than the controller holds, and `method` says so.
            assert told["methods"] == ["forced"] or len(rows) <= case.rows
        else:
            assert not found and len(rows) <= case.rows
    # The words of the row are those of its worst table.
    is_best = all(proof["error"] <= 1.05 * proof["bound"] + 1e-6 for proof in told["proofs"])
    assert told["is_best"] == is_best
    assert (told["error"], told["bound"]) in [(p["error"], p["bound"]) for p in told["proofs"]]
    if name != "too few rows for anything":
        assert told["methods"] == ["exact"] and is_best


def test_what_channels_with_one_column_tell_stands_before_the_verifier(growth: ModuleType) -> None:
    case = growth.Case(
        axis="small", name="shared", channels=2, is_shared=True, rows=8, level_step="2", time_step_s=900
    )  # fmt: skip
    told = growth.measured(case).told
    targets, times = growth.targets_of(case)
    proofs = told["proofs"]
    claims = [
        Claim(rows=[Row(*row) for row in rows], row_limit=case.rows, error=proof["error"], bound=0.0,
              sample_s=proof["sample_s"], tolerance_s=proof["tolerance_s"])
        for rows, proof in zip(told["rows"], proofs, strict=True)
    ]  # fmt: skip
    assert (told["error"], told["bound"]) == (proofs[0]["joint_error"], proofs[0]["joint_bound"])
    joint = JointClaim(
        claims=claims, weights=[1.0, 1.0], floors=[proof["floor"] for proof in proofs],
        error=told["error"], bound=told["bound"],
    )  # fmt: skip
    reachables, paths = [each.reachable for each in targets], [each.path for each in targets]
    assert joint_faults(joint, reachables, times, paths) == []
    assert told["is_best"] and told["error"] <= 1.05 * told["bound"] + 1e-5


def test_a_row_that_takes_too_long_or_too_much_says_so(growth: ModuleType) -> None:
    late = growth.measured(growth.Case(axis="x", name="slow", dates=3650), most_s=1)
    assert not late.told and late.stopped == "stopped after 1 s of processor time"
    wide = growth.Case(axis="x", name="wide", channels=16, rows=24, is_shared=True)
    full = growth.measured(wide, most_mb=150)
    assert not full.told and full.stopped == "stopped: it asked for more than 150 MB"
    for outcome in (late, full):
        assert outcome.stopped in growth.cells(outcome) and "-" in growth.cells(outcome)


def test_a_row_from_a_coarser_grid_of_times_is_not_called_the_best(growth: ModuleType) -> None:
    case = growth.Case(axis="time steps", name="steps of 5 s", time_step_s=5)
    told = growth.measured(case).told
    (target,), times = growth.targets_of(case)
    ((rows,), (proof,)) = told["rows"], told["proofs"]
    assert told["methods"] == ["coarser-times"] and told["is_best"] is False
    assert {second % 5 for second, _, _ in rows} == {0}
    claim = Claim(
        rows=[Row(*row) for row in rows], row_limit=case.rows, error=told["error"], bound=0.0,
        sample_s=proof["sample_s"], tolerance_s=proof["tolerance_s"],
    )  # fmt: skip
    measured = Day(claim, target.reachable, times, target.path).error()
    assert measured == pytest.approx(told["error"], abs=1e-9) and measured > 1.05 * told["bound"]


def test_a_row_that_is_not_proven_is_told_so(growth: ModuleType) -> None:
    proof = {"plain_s": 1.0, "cpu_s": 2.0, "methods": ["best-found"], "is_closest": False}
    told = proof | {"is_best": False, "error": 0.03, "bound": 0.02}
    outcome = growth.Outcome(case=growth.PLAIN, told=told, peak_mb=50.0)
    assert growth.cells(outcome)[1:] == ("2.0", "50 MB", "best-found", "no", "3.000", "2.000")


def test_the_page_has_every_row_and_says_what_is_not_proven(growth: ModuleType) -> None:
    lines = (BENCHMARKS.parent / "docs" / "speed.md").read_text(encoding="utf-8").splitlines()
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in lines if " MB |" in line]
    names = [row[0].split(" (tables: ")[0] for row in rows]
    assert sorted(names) == sorted(case.name for case in growth.cases())
    for _, _, _, method, best, error, least in rows:
        # Joint errors count as best with 1e-5 more than others; both are below the digits of the page.
        is_near = float(error) <= 1.05 * float(least) + 0.002
        assert best.startswith("yes") == is_near and (method == "exact") == is_near
