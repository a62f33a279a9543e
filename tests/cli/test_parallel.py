"""Many schedules in one command."""

from __future__ import annotations

import contextlib
import errno
import functools
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from pathlib import Path
from typing import Any

import click
import pytest

from photoperiod.cli import loading, parallel
from photoperiod.program import seasons_ahead
from tests.conftest import ROOT, SCHEDULE, Run, changed


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


def test_the_bytes_do_not_hang_on_how_many_work(
    run: Run, write: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "90")  # else what pytest's readline tells the processes
    files = [write(changed(("Test bench", name)), f"{name}.yaml") for name in ("one", "two")]
    files.insert(1, write(changed(("kind: ramps", "kind: rams")), "bad.yaml"))
    seen = []
    for jobs in (1, 2):
        code, out, err = run("compile", *files, "--jobs", jobs, "-o", tmp_path / "out")
        assert code == 1
        made = {path: path.read_bytes() for path in (tmp_path / "out").rglob("*.*")}
        assert len(made) == 10
        seen.append((out, err, made))
        shutil.rmtree(tmp_path / "out")
    for alone, together in zip(*seen, strict=True):
        assert alone == together
    for wrong in ("0", "-1", "x", "1.5"):
        code, _, err = run("compile", *files, "--jobs", wrong, "-o", tmp_path / "out")
        assert code == 2 and "--jobs" in err


def say(what: str) -> int:
    """Do what a task is told to; workers import this."""
    if what == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if what == "stumble":
        raise LookupError(what)
    if what == "deaf":
        signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGTERM])
    click.echo(what)
    return 0


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere each process begins anew")
def test_workers_begin_with_what_they_need_and_with_the_environment_of_now(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The task itself imports nothing: what is there was there before."""
    task = ("('numpy' in __import__('sys').modules, __import__('os').environ['COLUMNS'])",)
    for value in ("40", "77"):  # the second pool is forked from the same process as the first
        monkeypatch.setenv("COLUMNS", value)
        found = [each.result for each in parallel.each_told(eval, [task] * 2, ("a", "b"), 2)]
        assert found == [(True, value)] * 2


def test_one_that_fails_does_not_stop_the_others(capsys: pytest.CaptureFixture[str]) -> None:
    for jobs in (1, 2):
        words = ("first", "stumble", "last")
        assert parallel.run_all(say, [(word,) for word in words], words, jobs) == 3
        out, err = capsys.readouterr()
        assert out == "first\nlast\n"
        assert err.startswith(
            "This is a bug in photoperiod, not in your file: LookupError: stumble"
        )


def test_what_windows_lacks_is_asked_for_first(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delattr("os.sched_getaffinity", raising=False)
    monkeypatch.delattr("signal.pthread_sigmask", raising=False)
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    assert parallel.run_all(say, [("first",), ("last",)], ("first", "last"), None) == 0
    assert capsys.readouterr().out == "first\nlast\n"


class NoRoom(ProcessPoolExecutor):
    """A system that has no room: for a pool, for its first process, or for the second pool."""

    made = 0

    def __init__(self, *arguments: Any, where: str, **named: Any) -> None:
        NoRoom.made += 1
        if where == "pool":
            raise OSError(errno.EROFS, "read-only file system")
        super().__init__(*arguments, **named)

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        raise OSError(errno.EMFILE, "too many open files")


@pytest.mark.parametrize("where", ["pool", "process"])
def test_where_no_process_can_begin_all_is_done_in_this_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], where: str
) -> None:
    monkeypatch.setattr(parallel, "_Pool", functools.partial(NoRoom, where=where))
    assert parallel.run_all(say, [("first",), ("last",)], ("first", "last"), 2) == 0
    assert capsys.readouterr().out == "first\nlast\n"
    with parallel.helpers(2) as found:
        assert (found is None) == (where == "pool")
    assert NoRoom.made > 0


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere each process begins anew")
def test_nothing_is_imported_from_the_folder_where_the_command_works(tmp_path: Path) -> None:
    (tmp_path / "numpy.py").write_text("", encoding="utf-8")
    script = tmp_path / "elsewhere" / "script.py"
    script.parent.mkdir()
    script.write_text(
        "from photoperiod.cli.parallel import each_told\n"
        "if __name__ == '__main__':\n"
        "    task = (\"__import__('numpy').__file__\",)\n"
        "    print(*(each.result for each in each_told(eval, [task] * 2, ('a', 'b'), 2)))\n",
        encoding="utf-8",
    )
    found = subprocess.run(
        [sys.executable, script],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert len(found.stdout.split()) == 2 and str(tmp_path) not in found.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
def test_one_whose_process_is_killed_is_told_and_the_others_are_done(
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = ("first", "die", "last")
    assert parallel.run_all(say, [(word,) for word in words], words, 2) == 4
    out, err = capsys.readouterr()
    assert out == "first\nlast\n"
    assert err.startswith("error PHO518: the process that worked on 'die' was killed\n  try: ")


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("what", ["Ctrl-C", "terminated", "killed"])
def test_what_is_interrupted_leaves_whole_folders_and_no_process(
    write: Callable[..., Path], tmp_path: Path, what: str
) -> None:
    # Forty are done in a quarter of a second: on a busy machine the signal could come after the last.
    files = [write(SCHEDULE, f"tank-{n}.yaml") for n in range(400)]
    out, temporary = tmp_path / "out", tmp_path / "temporary"
    temporary.mkdir()
    process = subprocess.Popen(
        [sys.executable, "-m", "photoperiod", "compile", *files, "--jobs", "2", "-o", out],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True, cwd=ROOT,
        env={**os.environ, "TMPDIR": str(temporary)},
    )  # fmt: skip
    wait_until(lambda: (out / "tank-0").exists())
    if what == "Ctrl-C":  # a terminal sends it to all processes
        os.killpg(process.pid, signal.SIGINT)
    else:
        process.send_signal(signal.SIGTERM if what == "terminated" else signal.SIGKILL)
    _, err = process.communicate(timeout=60)  # it ends when the last process closes the pipe
    # With -m, Python may end itself by the signal that its command has answered: see the year below.
    assert process.returncode in {"Ctrl-C": (130, -2), "terminated": (-15,), "killed": (-9,)}[what]
    assert "Traceback" not in err
    assert (
        what == "killed" or list(temporary.iterdir()) == []
    )  # the socket of the process that forks others
    made = list(out.iterdir())
    assert 0 < len(made) < len(files)
    for folder in made:
        assert folder.name.startswith("tank-")  # nothing half-done beside them
        held = {path.name for path in folder.iterdir()}
        assert held == {
            "table.csv",
            "table.json",
            "summary.json",
            "typing-sheet.txt",
            "manifest.json",
        }


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
def test_an_idle_worker_ends_with_its_parent_though_a_signal_is_lost(tmp_path: Path) -> None:
    """A signal that comes just before a process falls asleep wakes it as little as one that is held back."""
    script = tmp_path / "script.py"
    script.write_text(
        "import os, signal\n"
        "from photoperiod.cli.parallel import each_told\n"
        "from tests.cli.test_parallel import say\n"
        "if __name__ == '__main__':\n"
        "    for each in each_told(say, [('deaf',)] * 2 + [('x',)], ('a', 'b', 'c'), 2):\n"
        "        if each.out == 'x\\n':\n"
        "            os.kill(os.getpid(), signal.SIGKILL)\n",
        encoding="utf-8",
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, env=environment, start_new_session=True
    ) as process:
        try:
            process.communicate(timeout=30)  # it ends when the last process closes the pipe
        finally:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
    assert process.returncode == -signal.SIGKILL


@pytest.fixture
def sky(write: Callable[..., Path]) -> Path:
    """A file whose days follow sun and moon."""
    return write((ROOT / "examples" / "natural-year.yaml").read_text(encoding="utf-8"), "sky.yaml")


DATES = ("--from", "2027-03-24", "--to", "2027-03-31")


def test_the_bytes_do_not_hang_on_how_many_work_on_the_dates_of_one_file(
    run: Run, sky: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loading, "WORTH_HELP_DAYS", 8)
    given: list[int] = []

    class Counted(seasons_ahead.Helpers):
        def __post_init__(self) -> None:
            given.append(self.workers)

    monkeypatch.setattr(seasons_ahead, "Helpers", Counted)
    made = []
    for jobs in (1, 2):
        code, _, err = run("export", "json", sky, *DATES, "--jobs", jobs, "-o", tmp_path / "t.json")
        assert code == 0, err
        made.append((tmp_path / "t.json").read_bytes())
    assert made[0] == made[1] and given == [1]  # beside this process
    # A few dates take less time than a process takes to begin.
    assert run("export", "json", sky, *DATES[:3], "2027-03-30", "-o", tmp_path / "t.json")[0] == 0
    # Without dates in the sky there is nothing to share out.
    code, _, err = run("export", "json", write_plain(tmp_path), *DATES, "-o", tmp_path / "t.json")
    assert code == 0 and given == [1], err


def write_plain(folder: Path) -> Path:
    (folder / "plain.yaml").write_text(SCHEDULE, encoding="utf-8")
    return folder / "plain.yaml"


def helpers_there(_: str) -> int:
    """Return how many helpers a process has; workers import this."""
    with parallel.helpers(None) as found:
        return 0 if found is None else found.workers


def test_a_process_that_helps_has_no_helpers_and_one_core_has_none(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(parallel, "_cores", lambda: 3)
    assert helpers_there("here") == 2
    found = parallel.each_told(helpers_there, [("a",), ("b",)], ("a", "b"), 2)
    assert [each.result for each in found] == [0, 0]
    monkeypatch.setattr(parallel, "_cores", lambda: 1)
    assert helpers_there("here") == 0


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("what", ["Ctrl-C", "terminated", "killed"])
def test_a_year_that_is_interrupted_leaves_nothing_behind(
    sky: Path, tmp_path: Path, what: str
) -> None:
    out = tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-m", "photoperiod", "compile", sky, "--from", "2027-01-01", "--to", "2027-12-31",
         "--jobs", "2", "-o", out],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True, cwd=ROOT,
    )  # fmt: skip
    wait_until(lambda: helpers_of(process.pid) > 0 if sys.platform == "linux" else True)
    if what == "Ctrl-C":  # a terminal sends it to all processes
        os.killpg(process.pid, signal.SIGINT)
    else:
        process.send_signal(signal.SIGTERM if what == "terminated" else signal.SIGKILL)
    _, err = process.communicate(timeout=60)  # it ends when the last process closes the pipe
    # With -m, Python ends itself by a signal that came while it made a class of text, such as a dataclass.
    assert process.returncode in {"Ctrl-C": (130, -2), "terminated": (-15,), "killed": (-9,)}[what]
    assert not out.exists()
    # A helper that begins just as this one is killed finds nothing there, and says so.
    assert what == "killed" or "Traceback" not in err


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere each process begins anew")
def test_ctrl_c_while_processes_get_ready_is_answered_in_a_word(
    write: Callable[..., Path], tmp_path: Path
) -> None:
    """The process from which they are forked takes most of a second to import what they need."""
    files = [write(SCHEDULE, f"tank-{n}.yaml") for n in range(2)]
    process = subprocess.Popen(
        [sys.executable, "-m", "photoperiod", "compile", *files, "-o", tmp_path / "out", "--jobs", "2"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True, cwd=ROOT,
    )  # fmt: skip
    wait_until(
        lambda: any(b"_multiarray_umath" in each for each in loaded_by_children(process.pid))
    )
    os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=60)
    # With -m, Python ends itself by a signal that came while it made a class of text.
    assert process.returncode in (130, -2)
    assert "Traceback" not in err


def loaded_by_children(pid: int) -> list[bytes]:
    """Return which files are loaded in the processes that a process has begun."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [Path(f"/proc/{child}/maps").read_bytes() for child in children]


def helpers_of(pid: int) -> int:
    """Return how many processes were forked from the one that is ready for it."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return sum(
        len(Path(f"/proc/{child}/task/{child}/children").read_text().split()) for child in children
    )


def linger(path: str, tidy_s: float) -> int:
    """Hold a file as if in the middle of writing it, and tidy up; workers import this."""
    Path(path).touch()
    try:
        time.sleep(60)
    finally:
        time.sleep(tidy_s)
        Path(path).unlink()
    return 0


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("what", [signal.SIGINT, getattr(signal, "SIGKILL", None)])
def test_a_worker_in_the_middle_of_its_work_tidies_up_when_its_parent_ends(
    tmp_path: Path, what: int
) -> None:
    """Once the first has ended, the other one is told again."""
    held = [tmp_path / name for name in ("one", "two")]
    script = (
        "from photoperiod.cli.parallel import run_all\nfrom tests.cli.test_parallel import linger\n"
        f"run_all(linger, {list(zip(map(str, held), (0, 0.5), strict=True))!r}, ['one', 'two'], 2)"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", script], stderr=subprocess.PIPE, text=True, cwd=ROOT
    )
    wait_until(lambda: all(path.exists() for path in held))
    process.send_signal(what)
    err = process.communicate(timeout=30)[1]
    assert "Traceback" not in err if what != signal.SIGINT else "KeyboardInterrupt" in err
    assert list(tmp_path.iterdir()) == []


def wait_until(is_so: Callable[[], bool]) -> None:
    end = time.monotonic() + 60
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_no_more_processes_are_asked_for_than_windows_can_wait_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """On Windows more than 61 raise ValueError: documentation of `ProcessPoolExecutor`, max_workers."""
    asked: list[int] = []

    def no_pool(workers: int, **_: object) -> None:
        asked.append(workers)
        raise LookupError

    monkeypatch.setattr(parallel, "_Pool", no_pool)
    monkeypatch.setattr(parallel, "_cores", lambda: 128)
    for tasks in (100, 3):
        with pytest.raises(LookupError):
            parallel.run_all(len, [("x",)] * tasks, ["x"] * tasks, None)
    assert asked == [61, 3]
