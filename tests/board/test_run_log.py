"""The log: one file for each date, whole records, and a disk that is full."""

from __future__ import annotations

import contextlib
import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from photoperiod.board.disk import LocalDisk
from photoperiod.board.events import Event
from photoperiod.board.run_log import HEADER, RunLog, event_record, record
from photoperiod.player.outputs import OutputState
from tests.board.bench import MIDNIGHT, STEADY, Bench

GIVEN = OutputState(80, 80.0, 7.998046875, 3276, True, 0.64)


def lines(folder: Path, date: str = "2027-03-02") -> list[bytes]:
    return (folder / f"run-{date}.csv").read_bytes().split(b"\r\n")


def test_a_record_says_what_compare_reads(tmp_path: Path) -> None:
    log = RunLog(tmp_path, LocalDisk())
    log.write(MIDNIGHT, 0.0, [record(MIDNIGHT, "blue", GIVEN, has_relay=True),
                              record(MIDNIGHT, "blue", GIVEN, has_relay=False),
                              event_record(MIDNIGHT, "start")])  # fmt: skip
    assert lines(tmp_path) == [
        HEADER.strip(),
        b"2027-03-02T00:00:00Z,blue,80,3276,7.998,80,64,on,",
        b"2027-03-02T00:00:00Z,blue,80,3276,7.998,80,64,,",
        b"2027-03-02T00:00:00Z,,,,,,,,start",
        b"",
    ]


def test_a_file_for_each_date_with_one_header(tmp_path: Path) -> None:
    log = RunLog(tmp_path, LocalDisk())
    for unix_s in (MIDNIGHT - 1, MIDNIGHT, MIDNIGHT + 1):
        log.write(unix_s, 0.0, [event_record(unix_s, "start")])
    again = RunLog(tmp_path, LocalDisk())
    again.write(MIDNIGHT + 2, 0.0, [event_record(MIDNIGHT + 2, "start")])
    assert len(lines(tmp_path, "2027-03-01")) == 3
    assert lines(tmp_path).count(HEADER.strip()) == 1 and len(lines(tmp_path)) == 5


TORN = [
    (HEADER + b"2027-03-02T00:00:00Z,blue,80,32", HEADER),
    (HEADER + b"a,b\r\n2027-03-02T00:00:00Z,blue,80,3276,7.9\r", HEADER + b"a,b\r\n"),
    (HEADER + b"\0" * 300, HEADER),
    (HEADER[:20], b""),
    (HEADER[:20] + b"\0" * 50, b""),
    (b"\0" * 50, b""),
    (b"somebody's own text", b"somebody's own text\r\n"),
]


@pytest.mark.parametrize(("found", "kept"), TORN)
def test_a_torn_record_does_not_spoil_the_next(tmp_path: Path, found: bytes, kept: bytes) -> None:
    """Half a number reads like a number, so what was torn is cut off."""
    (tmp_path / "run-2027-03-02.csv").write_bytes(found)
    RunLog(tmp_path, LocalDisk()).write(MIDNIGHT, 0.0, [event_record(MIDNIGHT, "start")])
    head = kept or HEADER
    assert (tmp_path / "run-2027-03-02.csv").read_bytes() == (
        head + b"2027-03-02T00:00:00Z,,,,,,,,start\r\n"
    )


def test_what_was_torn_on_another_date_is_removed_at_the_start(tmp_path: Path) -> None:
    torn = tmp_path / "run-2027-03-01.csv"
    torn.write_bytes(HEADER + b"2027-03-01T23:59:00Z,blue,80,32\0\0\0")
    (tmp_path / "sensed-2027-03-01.csv").write_bytes(b"somebody's own")
    (tmp_path / "run-notes.txt").write_bytes(b"somebody's own")
    RunLog(tmp_path, LocalDisk()).mend()
    assert torn.read_bytes() == HEADER
    assert (tmp_path / "run-notes.txt").read_bytes() == b"somebody's own"
    assert (tmp_path / "sensed-2027-03-01.csv").read_bytes() == b"somebody's own"
    RunLog(tmp_path / "none", LocalDisk()).mend()
    assert not (tmp_path / "none").exists()


def test_a_player_mends_its_log_when_it_starts(tmp_path: Path) -> None:
    (tmp_path / "log").mkdir()
    for name in ("run", "sensed"):
        (tmp_path / "log" / f"{name}-2027-03-01.csv").write_bytes(b"head\r\nhalf a rec")
    Bench(tmp_path, STEADY).run()
    for name in ("run", "sensed"):
        assert (tmp_path / "log" / f"{name}-2027-03-01.csv").read_bytes() == b"head\r\n"


def test_a_log_that_somebody_moved_is_begun_anew(tmp_path: Path) -> None:
    log = RunLog(tmp_path, LocalDisk())
    log.write(MIDNIGHT, 0.0, [event_record(MIDNIGHT, Event.START)])
    (tmp_path / "run-2027-03-02.csv").rename(tmp_path / "away")
    log.write(MIDNIGHT + 1, 1.0, [event_record(MIDNIGHT + 1, Event.STOP)])
    log.sync(2.0, now=True)
    assert log.fault is None
    assert lines(tmp_path)[0] == HEADER.strip() and lines(tmp_path)[1].endswith(b"stop")
    assert (tmp_path / "away").read_bytes().endswith(b"start\r\n")


def test_the_disk_is_asked_once_a_minute(tmp_path: Path, syncs: list[int]) -> None:
    log = RunLog(tmp_path, LocalDisk())
    for second in range(600):
        log.write(MIDNIGHT + second, 1000.0 + second, [event_record(MIDNIGHT, "start")])
    assert 9 <= len(syncs) <= 11
    log.sync(1600.0, now=True)
    assert 10 <= len(syncs) <= 12


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 KiB."""
    mount_point = tmp_path / "disk"
    mount_point.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(mount_point)]
    if os.geteuid() != 0 or subprocess.run(command, check=False).returncode != 0:
        assert not os.environ.get("CI"), "continuous integration must mount the small disk"
        pytest.skip("a small disk can't be mounted here")
    yield mount_point
    subprocess.run(["umount", str(mount_point)], check=True)


def test_a_really_full_disk(small_disk: Path) -> None:
    log = RunLog(small_disk, LocalDisk())
    filler = small_disk / "filler"
    log.write(MIDNIGHT, 0.0, [event_record(MIDNIGHT, "start")])
    target = os.open(filler, os.O_WRONLY | os.O_CREAT)
    with contextlib.suppress(OSError):
        while True:
            os.write(target, b"x" * 512)
    os.close(target)
    many = [record(MIDNIGHT + 1, "blue", GIVEN, has_relay=True)] * 200
    log.write(MIDNIGHT + 1, 1.0, [*many, event_record(MIDNIGHT + 1, "hold")])
    assert log.fault == "no space left on device"
    log.write(MIDNIGHT + 2, 2.0, [event_record(MIDNIGHT + 2, "release")])
    filler.unlink()
    log.write(MIDNIGHT + 3, 3.0, many)  # not before its time
    assert log.fault is not None
    log.write(MIDNIGHT + 20, 20.0, [event_record(MIDNIGHT + 20, "stop")])
    assert log.fault is None
    log.sync(20.0, now=True)
    held = lines(small_disk)
    assert held[:2] == [HEADER.strip(), b"2027-03-02T00:00:00Z,,,,,,,,start"]
    assert [line.rsplit(b",", 1)[-1] for line in held[2:]] == [b"hold", b"release", b"stop", b""]


def test_a_link_in_the_place_of_a_log_is_told(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=30)
    (tmp_path / "log").mkdir()
    (tmp_path / "log" / "run-2027-03-02.csv").symlink_to(tmp_path / "elsewhere")
    bench.run()
    alarm = (
        "alarm: the log can't be written: it is a link, and a player writes through none: remove it"
    )
    assert alarm in bench.said and not (tmp_path / "elsewhere").exists()
