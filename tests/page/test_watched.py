from __future__ import annotations

import os
import threading
from pathlib import Path

from photoperiod.page.watched import Watched, sign_of


def test_a_file_that_is_saved_looks_another_way(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("one")
    watched = Watched([path])
    assert not watched.has_changed()
    path.write_text("three")
    assert watched.has_changed()
    assert not watched.has_changed()


def test_one_that_is_put_in_its_place_or_taken_away_too(tmp_path: Path) -> None:
    path, other = tmp_path / "a.yaml", tmp_path / "b.yaml"
    path.write_text("one")
    other.write_text("two")
    stamp = path.stat()
    os.utime(other, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    watched = Watched([path])
    other.replace(path)  # of the same time and size
    assert watched.has_changed()
    path.unlink()
    assert watched.has_changed()
    assert sign_of(path) is None


def test_one_that_may_be_read_again_too(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("one")
    watched = Watched([path])
    path.chmod(0o200)
    assert watched.has_changed()
    path.chmod(0o600)
    assert watched.has_changed()


def test_other_files_are_watched_from_then_on(tmp_path: Path) -> None:
    path, readings = tmp_path / "a.yaml", tmp_path / "map.csv"
    path.write_text("one")
    readings.write_text("x")
    watched = Watched([path])
    path.write_text("two!")
    watched.watch([path, readings])
    assert watched.has_changed(), "what was saved meanwhile is not forgotten"
    readings.write_text("xy")
    assert watched.has_changed()


def test_waiting_ends_when_a_file_is_saved_or_when_it_is_stopped(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("one")
    watched, stop = Watched([path]), threading.Event()
    writes = threading.Timer(0.05, lambda: path.write_text("three"))
    writes.start()
    assert watched.wait(stop)
    stop.set()
    assert not watched.wait(stop)
    writes.join()
