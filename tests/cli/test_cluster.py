"""A cluster on this machine: a scheduler and workers as processes, some of them killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from photoperiod.cli import cluster
from photoperiod.cli.parallel import Told
from photoperiod.errors import OutsideWorldError
from tests.cli.cluster_process import LONG_S, Cluster, wait_until
from tests.conftest import ROOT, SCHEDULE, Run, changed

Write = Callable[..., Path]

DATE = ("--date", "2027-03-02")

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    found = Cluster(tmp_path_factory.mktemp("cluster"))
    yield found
    found.end()


@pytest.fixture
def there(scheduler: Cluster, monkeypatch: pytest.MonkeyPatch) -> Iterator[Cluster]:
    """Give a scheduler without workers; those that a test starts end with it."""
    # A busy scheduler is not taken for none, however short a command waits for workers.
    connect = cluster._client
    monkeypatch.setattr(cluster, "_client", lambda address, _wait_s: connect(address, LONG_S))
    yield scheduler
    scheduler.stop_workers()


@pytest.fixture
def mortal(tmp_path: Path) -> Iterator[Cluster]:
    """Give a scheduler that a test may kill."""
    folder = tmp_path / "cluster"
    folder.mkdir()
    found = Cluster(folder)
    yield found
    found.end()


def content(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_folders_and_words_are_those_of_one_machine_in_the_order_of_files(
    there: Cluster, run: Run, write: Write, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    there.start("one")
    there.start("two")
    monkeypatch.chdir(tmp_path)  # the workers stand in another folder
    monkeypatch.setenv("COLUMNS", "90")
    split = SCHEDULE.index("tubes:")
    write("parts: 1\n" + SCHEDULE[SCHEDULE.index("controller:") : split], "p.yaml")
    texts = {
        "b": SCHEDULE,
        "bad": changed(("kind: ramps", "kind: rams")),
        "a": "schedule: 1\nparts: p.yaml\n" + SCHEDULE[split:],
        "c": changed(("light_percent: 80", "light_percent: 70")),
    }
    files = [write(text, f"{name}.yaml").name for name, text in texts.items()]
    files.insert(3, "missing.yaml")
    seen = []
    for how in (("--jobs", "1"), ("--cluster", there.address)):
        told = run("compile", *files, *DATE, "-o", "out", *how)
        made = content(tmp_path / "out")
        exported = run("export", "json", *files, *DATE, "-o", "out", *how)
        seen.append((told, made, exported, content(tmp_path / "out")))
        for name in ("a", "b", "c"):
            (tmp_path / "out" / f"{name}.json").unlink()
            for path in (tmp_path / "out" / name).iterdir():
                path.unlink()
            (tmp_path / "out" / name).rmdir()
    alone, by_cluster = seen
    assert alone == by_cluster
    (code, out, err), made, *_ = by_cluster
    assert code == 4 and len(made) == 15
    assert out.index("out/b") < out.index("out/a") < out.index("out/c")
    assert err.index("'rams' is not allowed here") < err.index("can't read 'missing.yaml'")
    # one file alone; and what stands in the way is told, and nothing lost
    (tmp_path / "other").mkdir()
    assert run("compile", files[0], *DATE, "-o", "other/b", "--cluster", there.address)[0] == 0
    assert content(tmp_path / "other" / "b") == {
        name.removeprefix("b/"): each for name, each in made.items() if name.startswith("b/")
    }
    (tmp_path / "other" / "b" / "notes.txt").write_text("mine")
    code, _, err = run("compile", files[0], *DATE, "-o", "other/b", "--cluster", there.address)
    assert code == 4 and "PHO503" in err
    assert (tmp_path / "other" / "b" / "notes.txt").read_text() == "mine"


#: A worker that makes no more tanks than a file says, and leaves a letter for each. It is read twice.
HELD = """
import time
from pathlib import Path
from photoperiod.cli import cluster
letters, most = Path({!r}), Path({!r})
letters.touch()
def held(*given, worked=cluster._worked):
    while letters.stat().st_size >= int(most.read_text() or 0):
        time.sleep(0.02)
    told = worked(*given)
    with letters.open("a") as stream:
        stream.write("x")
    return told
if cluster._worked.__name__ != "held":
    cluster._worked = held
"""


def test_workers_that_are_killed_leave_whole_folders_or_are_told_to_have_left_none(
    there: Cluster, write: Write, run: Run, tmp_path: Path
) -> None:
    most, out = tmp_path / "most", tmp_path / "out"
    most.write_text("3")
    letters = {name: tmp_path / name for name in ("one", "two")}
    for name, path in letters.items():
        there.start(name, HELD.format(str(path), str(most)))
    there.wait_for(*letters)
    files = [
        write(changed(("light_percent: 80", f"light_percent: {n + 20}")), f"tank-{n:02}.yaml")
        for n in range(16)
    ]

    def kill_both() -> None:
        wait_until(lambda: all(path.stat().st_size == 3 for path in letters.values()))
        wait_until(lambda: (out / "tank-01").exists())
        there.workers["one"].kill()
        there.workers["one"].wait()
        most.write_text("9")  # the other goes on with all of them
        wait_until(lambda: letters["two"].stat().st_size == 9)
        there.workers["two"].kill()

    with ThreadPoolExecutor() as beside:
        killer = beside.submit(kill_both)
        code, told, err = run("compile", *files, *DATE, "-o", out,
                              "--cluster", there.address, "--cluster-wait", "1")  # fmt: skip
        killer.result()
    assert code == 4
    assert "Traceback" not in err
    made = sorted(path.name for path in out.iterdir())
    missing = [line.split("'")[1] for line in err.splitlines() if "error PHO520" in line]
    assert missing and len(made) > 2
    assert [Path(name).stem for name in missing] == sorted(Path(name).stem for name in missing)
    assert sorted([*made, *(Path(name).stem for name in missing)]) == [f.stem for f in files]
    assert "no worker was left for 1 s" in err
    assert told.count("wrote table.csv") == len(made)
    here = tmp_path / "here"
    whole = [file for file in files if file.stem in made]
    assert run("compile", *whole, *DATE, "-o", here, "--jobs", "1")[0] == 0
    assert content(out) == content(here)


def test_a_scheduler_that_vanishes_is_told_of_with_what_is_missing(
    mortal: Cluster, write: Write, tmp_path: Path
) -> None:
    mortal.start("one", "import time; from photoperiod.cli import compile as c\n"
                "def slow(*_): time.sleep(60)\nc.compile_file = slow\n")  # fmt: skip
    mortal.wait_for("one")
    files = [write(SCHEDULE, f"{name}.yaml") for name in ("a", "b")]
    process = subprocess.Popen(
        [sys.executable, "-m", "photoperiod", "compile", *files, *DATE, "-o", tmp_path / "out",
         "--cluster", mortal.address, "--cluster-wait", "5"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    wait_until(lambda: (tmp_path / "out").exists())
    mortal.wait_until(lambda client: any(client.processing().values()))
    mortal.scheduler.send_signal(signal.SIGKILL)
    out, err = process.communicate(timeout=LONG_S)
    assert (process.returncode, out) == (4, "")
    lines = [line for line in err.splitlines() if "PHO520" in line]
    assert [line.split("'")[1] for line in lines] == [str(file) for file in files]
    assert "Traceback" not in err
    assert list((tmp_path / "out").iterdir()) == []


def test_a_worker_of_another_version_or_without_the_program_is_refused_by_name(
    there: Cluster, write: Write, run: Run, tmp_path: Path
) -> None:
    path = write(SCHEDULE)
    command = ("compile", path, *DATE, "-o", tmp_path / "out", "--cluster", there.address)
    code, _, err = run(*command, "--cluster-wait", "1")
    assert code == 4 and "error PHO519: the cluster has no worker, after 1 s" in err
    there.start("the-old-one", "import photoperiod\nphotoperiod.__version__ = '9.9.9'\n")
    there.wait_for("the-old-one")
    code, _, err = run(*command)
    assert code == 4
    assert "error PHO519: worker 'the-old-one' at tcp://127.0.0.1:" in err
    assert "has photoperiod 9.9.9, and this side 0.1.0" in err
    there.stop_workers()
    there.start("the-empty-one", "import sys\nsys.modules['photoperiod'] = None\n")
    there.wait_for("the-empty-one")
    code, _, err = run(*command)
    assert code == 4
    assert "worker 'the-empty-one' at tcp://127.0.0.1:" in err and "can't run photoperiod" in err
    assert not (tmp_path / "out").exists()


def test_nobody_at_the_address_and_no_library(
    run: Run, write: Write, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(SCHEDULE)
    for address in ("tcp://127.0.0.1:1", "nonsense://x", ""):
        code, _, err = run(
            "export", "c", path, "-o", tmp_path / "t.h", "--cluster", address, "--cluster-wait", "1"
        )
        assert code == 4 and f"error PHO519: no scheduler answers at '{address}'" in err
    monkeypatch.setitem(sys.modules, "distributed", None)
    code, _, err = run("compile", path, "-o", tmp_path / "out", "--cluster", "tcp://127.0.0.1:1")
    assert code == 4 and "error PHO521" in err and "'.[cluster]'" in err


def test_what_does_not_go_with_a_cluster(run: Run, write: Write, tmp_path: Path) -> None:
    path = write(SCHEDULE)
    for command, words in (
        (("compile", path, *DATE, "--ledger", "l.json"), "--cluster goes without --ledger"),
        (("compile", path, "--jobs", "2"), "--cluster goes without --jobs"),
        (("export", "c", path, *DATE, "--ledger", "l.json"), "--cluster goes without --ledger"),
        (("export", "c", path, "--cluster-wait", "0"), "--cluster-wait"),
    ):
        code, _, err = run(*command, "-o", tmp_path / "out", "--cluster", "tcp://127.0.0.1:1")
        assert code == 2 and words in err


def test_a_worker_that_comes_later_with_another_version_is_refused_too() -> None:
    with pytest.raises(OutsideWorldError, match=r"a worker has .* and the command .*9\.9"):
        cluster._worked({"photoperiod": "9.9"}, {}, len, ("abc",))


def test_what_a_worker_prints_is_as_the_other_side_would_have_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    monkeypatch.delenv("NO_COLOR", raising=False)
    found = cluster._worked(cluster.identity(), {"NO_COLOR": "1"}, os.environ.get, ("COLUMNS", 3))
    assert found == Told("", "", 3)
    assert os.environ["COLUMNS"] == "40" and "NO_COLOR" not in os.environ
