"""A run that is interrupted or killed at any of its steps leaves what was there, or what is new."""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.formats.atomic import create_file, replace_file, replace_folder, write_file
from tests.conftest import ROOT
from tests.formats.folders import NEW, OLD, SWAPS, choose, contents, names
from tests.formats.steps import Stopper


def interrupt() -> None:
    raise KeyboardInterrupt


def every_stop(
    run: Callable[[Path], None], prepare: Callable[[Path], None], folder: Path, *, after: bool
) -> Iterator[Path]:
    """Interrupt a run at each of its calls to the system, each in a folder of its own."""
    for at in itertools.count(1):
        place = folder / f"{at}"
        place.mkdir()
        prepare(place)
        stopper = Stopper(interrupt, at, after=after)
        with pytest.MonkeyPatch.context() as patch:
            stopper.arm(patch.setattr)
            try:
                run(place)
            except KeyboardInterrupt:
                pass
            else:  # one that comes while a folder is being removed may be lost in the library
                if stopper.calls < at:
                    return
        yield place


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("swap", SWAPS)
def test_an_interrupt_at_any_step_leaves_the_old_folder_or_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, swap: str, after: bool
) -> None:
    choose(swap, tmp_path, monkeypatch)
    seen = []
    for place in every_stop(
        lambda folder: replace_folder(folder / "out", NEW),
        lambda folder: replace_folder(folder / "out", OLD),
        tmp_path,
        after=after,
    ):
        found = contents(place / "out")
        assert found in (OLD, NEW), place.name
        assert ".out.photoperiod-old" not in names(place) or found == NEW
        seen.append(found)
        replace_folder(place / "out", NEW)
        assert contents(place / "out") == NEW
    # making a folder and 3 files alone takes 1 + 3·3 calls, and 3 to sync it, before the swap
    assert seen[:10] == [OLD] * 10
    assert seen[-1] == NEW


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("write", [replace_file, write_file])
def test_an_interrupt_at_any_step_leaves_the_old_file_or_the_new_one(
    tmp_path: Path, write: Callable[[Path, bytes], None], after: bool
) -> None:
    seen = []
    for place in every_stop(
        lambda folder: write(folder / "file", b"new"),
        lambda folder: write(folder / "file", b"old"),
        tmp_path,
        after=after,
    ):
        seen.append((place / "file").read_bytes())
        assert len(names(place)) <= 2
    assert set(seen) == {b"old", b"new"}
    assert seen == sorted(seen, reverse=True)  # old ones first


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
def test_an_interrupt_at_any_step_leaves_a_created_file_whole_or_none(
    tmp_path: Path, after: bool
) -> None:
    seen = []
    for place in every_stop(
        lambda folder: create_file(folder / "file", b"new"), lambda _: None, tmp_path, after=after
    ):
        path = place / "file"
        seen.append(path.read_bytes() if path.exists() else None)
    assert set(seen) == {None, b"new"}


def test_ctrl_c_again_and_again_waits_for_the_swap_to_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    choose("two steps", tmp_path, monkeypatch)
    target = tmp_path / "out"
    replace_folder(target, OLD)
    rename = os.rename

    def interrupted(path: Path, to: Path) -> None:
        signal.raise_signal(signal.SIGINT)
        rename(path, to)
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(os, "rename", interrupted)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(KeyboardInterrupt):
            replace_folder(target, NEW)
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
    assert contents(target) == NEW
    assert names(tmp_path) == ["out"]


#: Forks a run for each of its calls to the system, and has it killed there.
KILLED = """
import itertools, os, signal, sys
from pathlib import Path
from photoperiod.formats import atomic
from tests.formats.steps import Stopper
from tests.formats.folders import NEW, OLD

folder, swap, after = Path(sys.argv[1]), sys.argv[2], sys.argv[3] == "after"
if swap == "two steps":
    atomic._exchange = lambda one, other: False
for at in itertools.count(1):
    target = folder / str(at) / "out"
    atomic.replace_folder(target, OLD)
    child = os.fork()
    if child == 0:
        Stopper(lambda: os.kill(os.getpid(), signal.SIGKILL), at, after=after).arm(setattr)
        atomic.replace_folder(target, NEW)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if os.WIFEXITED(status):
        assert os.WEXITSTATUS(status) == 0
        break
    assert os.WTERMSIG(status) == signal.SIGKILL
print(at - 1)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a run that is killed is forked")
@pytest.mark.parametrize("when", ["before", "after"])
@pytest.mark.parametrize("swap", SWAPS)
def test_a_run_that_is_killed_at_any_step_leaves_the_old_folder_or_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, swap: str, when: str
) -> None:
    choose(swap, tmp_path, monkeypatch)
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), swap, when],
        cwd=ROOT, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    kills = int(done.stdout)
    assert kills > 15
    hidden = 0
    for at in range(1, kills + 1):
        target = tmp_path / str(at) / "out"
        if target.exists():
            assert contents(target) in (OLD, NEW)
        else:  # killed between the two steps
            hidden += 1
            assert contents(target.with_name(".out.photoperiod-old")) == OLD
        # the next run fails, and still the old folder is back
        with pytest.raises(OutsideWorldError):
            replace_folder(target, {"no/such/folder": b""})
        assert contents(target) in (OLD, NEW)
        replace_folder(target, NEW)
        assert contents(target) == NEW
    assert hidden == (1 if swap == "two steps" else 0)
