from __future__ import annotations

import os
from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.schedule.files import bytes_beside, bytes_of, files_of
from tests.conftest import ROOT


def test_a_file_or_why_not(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"12345")
    assert bytes_of(tmp_path / "a", 3) == b"123"
    assert bytes_beside(tmp_path, "a", 9) == b"12345"
    for name in ("b", ".", "a\0"):
        with pytest.raises(OutsideWorldError, match="can't read"):
            bytes_of(tmp_path / name, 9)
        assert isinstance(bytes_beside(tmp_path, name, 9), str)
    assert "comes from no file" in str(bytes_beside(None, "a", 9))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes on Windows")
def test_a_pipe_beside_a_schedule_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    writer = os.open(tmp_path / "pipe", os.O_RDWR)
    os.write(writer, b"12345")
    assert bytes_beside(tmp_path, "pipe", 5) == "it is a pipe or a device, not a file"
    os.close(writer)


def test_parts_lie_where_readings_may_lie(tmp_path: Path) -> None:
    """One rule for both: by a relative path, also upward, also through a link."""
    (tmp_path / "tanks").mkdir()
    (tmp_path / "shared.yaml").write_bytes(b"x")
    (tmp_path / "tanks" / "link.yaml").symlink_to(tmp_path / "shared.yaml")
    for name in ("../shared.yaml", "link.yaml"):
        raw = f"parts: {name}\nchannels: {{a: {{full_ppfd: {{readings: {name}}}}}}}\n".encode()
        assert files_of(raw, tmp_path / "tanks") == {name: b"x"}


def test_all_that_is_read_for_a_schedule_is_found() -> None:
    examples = ROOT / "examples"
    raw = (examples / "hall-left.yaml").read_bytes()
    assert files_of(raw, examples) == {
        "parts/hall.yaml": (examples / "parts/hall.yaml").read_bytes()
    }
    raw = (examples / "measured-reef.yaml").read_bytes()
    found = files_of(raw, examples)
    assert "readings/map.csv" in found
    assert all(content == (examples / name).read_bytes() for name, content in found.items())


def test_readings_of_parts_are_found_too(tmp_path: Path) -> None:
    (tmp_path / "p").mkdir()
    (tmp_path / "p" / "parts.yaml").write_text("ballasts: {a: {response: {readings: s.csv}}}")
    (tmp_path / "p" / "s.csv").write_bytes(b"1,2")
    found = files_of(b"parts: p/parts.yaml\n", tmp_path)
    assert sorted(found) == ["p/parts.yaml", "p/s.csv"] and found["p/s.csv"] == b"1,2"
    found = files_of(b"parts: p/none.yaml\n", tmp_path)
    assert found == {"p/none.yaml": "no such file or folder"}
    for broken in (b"", b"\xff", b"[", b"3", b"parts: 3"):
        assert files_of(broken, tmp_path) == {}
