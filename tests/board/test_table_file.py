"""The file of a table: read once it has come to rest, whatever stands in its place."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from photoperiod.board.config import BoardConfig
from photoperiod.board.disk import LocalDisk
from photoperiod.board.state_store import StateStore
from photoperiod.board.table_file import TableFile, keep_good_table, load_table
from photoperiod.errors import OutsideWorldError
from tests.board.bench import STEADY, Bench, table


@pytest.fixture
def config(tmp_path: Path) -> BoardConfig:
    config = Bench(tmp_path, STEADY).board_file().config
    assert config is not None
    return config


def test_a_file_is_new_once_it_has_come_to_rest(tmp_path: Path, config: BoardConfig) -> None:
    file = TableFile(tmp_path / "table.json", LocalDisk())
    file.load(config)
    assert not file.has_changed() and not file.has_changed()
    file.path.write_bytes(STEADY[:100])
    assert not file.has_changed()  # it may grow
    file.path.write_bytes(STEADY)
    assert not file.has_changed() and file.has_changed()
    file.load(config)
    assert not file.has_changed()
    file.path.rename(tmp_path / "away")
    assert not file.has_changed() and not file.is_there() and file.mtime_s is None
    (tmp_path / "away").rename(file.path)
    assert not file.has_changed() and file.has_changed()  # it is read again


def test_what_the_player_writes_itself_is_not_read_again(
    tmp_path: Path, config: BoardConfig
) -> None:
    file = TableFile(tmp_path / "table.json", LocalDisk())
    file.load(config)
    file.write(table((0, 70)))
    assert not file.has_changed() and not file.has_changed()
    assert file.load(config).raw == table((0, 70))


def test_a_pipe_is_no_table(tmp_path: Path, config: BoardConfig) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OutsideWorldError, match="it is a pipe or a device, not a file") as caught:
        load_table(tmp_path / "pipe", config, LocalDisk())
    assert caught.value.code == "PHO501"


def test_the_good_table_is_written_only_if_it_is_another(
    tmp_path: Path, config: BoardConfig
) -> None:
    store = StateStore(tmp_path)
    loaded = TableFile(tmp_path / "table.json", LocalDisk()).load(config)
    keep_good_table(store, loaded)
    before = store.disk.look(store.good_table)
    keep_good_table(store, loaded)
    assert store.disk.look(store.good_table) == before
    assert store.good_table.read_bytes() == STEADY
