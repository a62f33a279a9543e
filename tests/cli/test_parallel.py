"""Many schedules in one command."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from photoperiod.cli import parallel
from tests.conftest import SCHEDULE, Run, changed


@pytest.fixture
def exported(run: Run, write: Callable[..., Path], tmp_path: Path) -> Callable[..., Path]:
    def export(kind: str, *changes: tuple[str, str], dates: tuple[str, ...] = ()) -> Path:
        target = tmp_path / f"table.{kind}"
        code, _, err = run("export", kind, write(changed(*changes)), *dates, "-o", target)
        assert code == 0, err
        return target

    return export


def test_many_schedules_come_into_a_folder_each_as_if_alone(
    run: Run, write: Callable[..., Path], tmp_path: Path, exported: Callable[..., Path]
) -> None:
    alone = exported("json").read_bytes()
    files = [write(SCHEDULE, "one.yaml"), write(changed(("kind: ramps", "kind: rams")), "two.yaml"),
             write(SCHEDULE, "three.yaml")]  # fmt: skip
    code, _, err = run("export", "json", *files, "-o", tmp_path / "out")
    assert code == 1  # one of them has a fault, the others are written
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["one.json", "three.json"]
    assert (tmp_path / "out" / "three.json").read_bytes() == alone
    assert err.index("one.json") < err.index("'rams' is not allowed here") < err.index("three.json")
    code, _, err = run("export", "json", files[0], files[0], "-o", tmp_path / "out")
    assert code == 2 and "under one name" in err
    code, _, err = run("export", "json", files[0], "-", "-o", tmp_path / "out")
    assert code == 2 and "none of them is '-'" in err


def test_many_schedules_are_compiled_each_into_a_folder(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    files = [write(SCHEDULE, "one.yaml"), write(changed(("Test bench", "Other")), "two.yaml")]
    code, out, err = run("compile", *files, "-o", tmp_path / "out")
    assert code == 0, err
    assert run("compile", files[1], "-o", tmp_path / "alone")[0] == 0
    for path in (tmp_path / "alone").iterdir():
        assert (tmp_path / "out" / "two" / path.name).read_bytes() == path.read_bytes()
    assert out.index("Test bench") < out.index("Other")
    code, _, err = run(
        "compile", *files, "-o", tmp_path / "out", "--date", "2027-03-02", "--ledger", "l"
    )
    assert code == 2 and "one FILE at a time" in err


def test_no_more_processes_are_asked_for_than_windows_can_wait_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """On Windows more than 61 raise ValueError: documentation of `ProcessPoolExecutor`, max_workers."""
    asked: list[int] = []

    def no_pool(workers: int, **_: object) -> None:
        asked.append(workers)
        raise LookupError

    monkeypatch.setattr(parallel, "ProcessPoolExecutor", no_pool)
    monkeypatch.setattr("os.cpu_count", lambda: 128)
    for tasks in (100, 3):
        with pytest.raises(LookupError):
            parallel.on_all_cores(len, [("x",)] * tasks)
    assert asked == [61, 3]
