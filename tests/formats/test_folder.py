"""The folder that compile writes: its files, and which folders it may replace."""

from __future__ import annotations

import json
from hashlib import sha256
from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.formats.folder import render_all, write_folder
from photoperiod.program.model import Program
from tests.conftest import SCHEDULE, compiled
from tests.formats.conftest import MARCH, NEW_TUBES

OLD = {
    "table.csv": b"old",
    "manifest.json": json.dumps(
        {"format": "photoperiod-manifest", "files": {"table.csv": {}}}
    ).encode(),
}
NEW = {**OLD, "table.csv": b"new"}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_the_manifest_is_last_and_lists_every_other_file_with_its_digest() -> None:
    files = render_all(compiled(SCHEDULE).program, [])
    assert list(files) == [
        "table.csv", "table.json", "summary.json", "typing-sheet.txt", "manifest.json",
    ]  # fmt: skip
    listed = json.loads(files.pop("manifest.json"))["files"]
    assert listed == {
        name: {"bytes": len(content), "sha256": sha256(content).hexdigest()}
        for name, content in files.items()
    }


def test_the_same_schedule_and_dates_give_the_same_bytes(
    march: tuple[Program, dict[str, bytes]],
) -> None:
    assert render_all(compiled(NEW_TUBES, MARCH).program, []) == march[1]


def test_a_folder_of_an_earlier_run_is_replaced(tmp_path: Path) -> None:
    for files in (OLD, NEW):
        write_folder(tmp_path / "out", files)
        assert contents(tmp_path / "out") == files
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_folder(tmp_path / "out", OLD)
    assert contents(tmp_path / "out") == OLD


def test_a_folder_with_files_of_others_is_refused(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, OLD)
    (target / "diary.txt").write_text("mine")
    with pytest.raises(OutsideWorldError, match=r"not written by compile: diary\.txt") as caught:
        write_folder(target, NEW)
    assert caught.value.code == "PHO503"
    assert contents(target) == {**OLD, "diary.txt": b"mine"}


@pytest.mark.parametrize("manifest", [b"", b"[]", b"\xff", b'{"format": "other", "files": {}}'])
def test_a_manifest_that_is_not_ours_makes_no_folder_ours(tmp_path: Path, manifest: bytes) -> None:
    target = tmp_path / "out"
    target.mkdir()
    (target / "manifest.json").write_bytes(manifest)
    with pytest.raises(OutsideWorldError) as caught:
        write_folder(target, NEW)
    assert caught.value.code == "PHO503"
    assert contents(target) == {"manifest.json": manifest}


def test_a_file_where_the_folder_should_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(OutsideWorldError, match="is not a folder") as caught:
        write_folder(tmp_path / "out", OLD)
    assert caught.value.code == "PHO502"
    assert (tmp_path / "out").read_text() == "mine"
