"""The folder of a player: state, hold and lock."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.board.disk import Entry, LocalDisk
from photoperiod.board.state_store import (
    RememberedOutput,
    State,
    StateStore,
    state_data,
    state_of_data,
)
from photoperiod.errors import OutsideWorldError

STATE = State(boot_id="b", boot_s=5.5, unix_s=1e9, is_trusted=True,
              outputs={"blue": RememberedOutput(7, True)})  # fmt: skip


def test_a_state_comes_back_as_it_was(tmp_path: Path) -> None:
    keep = StateStore(tmp_path)
    assert keep.read_state() is None
    keep.write_state(STATE)
    assert keep.read_state() == STATE
    assert sorted(p.name for p in tmp_path.iterdir()) == ["state.json"]


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b"{}", b'{"format": 1}', b"\xff", b"[" * 10**6,
                                 b'{"format":"photoperiod-state","version":1,"boot_id":"b",'
                                 b'"boot_s":NaN,"unix_s":1,"is_trusted":true,"outputs":{}}'])  # fmt: skip
def test_a_broken_state_is_none(tmp_path: Path, raw: bytes) -> None:
    (tmp_path / "state.json").write_bytes(raw)
    assert StateStore(tmp_path).read_state() is None


STATES = st.builds(
    State,
    boot_id=st.text(max_size=9),
    boot_s=st.integers(0, 10**12).map(lambda ms: ms / 1000),
    unix_s=st.integers(-(10**12), 10**13).map(lambda ms: ms / 1000),
    is_trusted=st.booleans(),
    outputs=st.dictionaries(
        st.text(max_size=5), st.builds(RememberedOutput, st.integers(0, 65_535), st.booleans())
    ),
)


@given(STATES)
def test_every_state_comes_back_from_its_bytes(state: State) -> None:
    raw = json.dumps(state_data(state))
    assert state_of_data(json.loads(raw)) == state


def test_a_state_that_is_cut_off_or_changed_never_raises(tmp_path: Path) -> None:
    keep = StateStore(tmp_path)
    keep.write_state(STATE)
    raw = (tmp_path / "state.json").read_bytes()
    for at in range(len(raw)):
        (tmp_path / "state.json").write_bytes(raw[:at])
        assert keep.read_state() is None
        for change in (0x01, 0x10, 0x80):
            changed = raw[:at] + bytes([raw[at] ^ change]) + raw[at + 1 :]
            (tmp_path / "state.json").write_bytes(changed)
            found = keep.read_state()
            assert found is None or isinstance(found, State)


def test_a_state_that_cannot_be_written_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep = StateStore(tmp_path)
    keep.write_state(STATE)

    def fail(_target: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OSError, match="Input/output"):
        keep.write_state(State(boot_id="c", boot_s=1, unix_s=2, is_trusted=False))
    assert keep.read_state() == STATE
    assert sorted(p.name for p in tmp_path.iterdir()) == ["state.json"]


def test_one_player_only(tmp_path: Path) -> None:
    """The kernel releases the lock of a process that is killed."""
    store = StateStore(tmp_path)
    assert not store.is_locked()
    code = (
        "import sys; from pathlib import Path; from photoperiod.board.state_store import StateStore\n"
        f"StateStore(Path({str(tmp_path)!r})).lock(); print('locked', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None and other.stdout.readline() == b"locked\n"
        assert store.is_locked()
        with pytest.raises(OutsideWorldError, match=f"process {other.pid}") as caught:
            store.lock()
        assert caught.value.code == "PHO509"
        other.kill()
    assert not store.is_locked()
    store.lock()
    assert StateStore(tmp_path).is_locked()


def test_a_hold_is_there_until_released(tmp_path: Path) -> None:
    keep = StateStore(tmp_path / "new")
    assert not keep.is_held() and not keep.release()
    keep.hold("why")
    assert keep.is_held() and keep.hold_file.read_text() == "why\n"
    assert keep.release() and not keep.is_held()


def test_numbers_beyond_all_measure_are_no_state(tmp_path: Path) -> None:
    keep = StateStore(tmp_path)
    for boot in ("1e999", "1" + "0" * 400):
        text = (
            '{"format": "photoperiod-state", "version": 1, "boot_id": "x", "boot_s": BOOT, "unix_s": 1,'
            ' "is_trusted": true, "outputs": {"blue": {"code": 1e999, "relay": true}}}'
        )
        (tmp_path / "state.json").write_text(text.replace("BOOT", boot))
        assert keep.read_state() is None


def test_a_hold_needs_no_room_for_its_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("photoperiod.board.disk.replace_file", refuse)
    keep = StateStore(tmp_path)
    keep.hold("why")
    assert keep.is_held()


@pytest.fixture
def broken(tmp_path: Path) -> StateStore:
    """A store whose folder can't be made: a file stands in its way, as on a card that is full of errors."""
    (tmp_path / "card").write_text("")
    return StateStore(tmp_path / "card" / "state", runtime=tmp_path / "run")


def test_a_hold_has_a_second_way(broken: StateStore, tmp_path: Path) -> None:
    other = StateStore(tmp_path / "other", runtime=tmp_path / "run")
    path = broken.hold("why")
    assert path.parent == tmp_path / "run" and path.read_text() == "why\n"
    assert broken.is_held() and not other.is_held()  # the runtime folder is shared
    assert broken.release() and not broken.is_held() and not broken.is_held(before=True)


def test_a_hold_is_known_though_nothing_can_be_read_any_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = StateStore(tmp_path / "state", runtime=tmp_path / "run")
    store.hold("why")
    really = LocalDisk.look

    def fail(disk: LocalDisk, path: Path) -> Entry | None:
        if path.is_relative_to(store.folder):
            raise OSError(errno.EIO, "Input/output error", str(path))
        return really(disk, path)

    with monkeypatch.context() as patch:
        patch.setattr(LocalDisk, "look", fail)
        assert store.is_held()  # a player that begins knows nothing from before
    assert store.release() and not store.is_held()


def test_a_hold_that_can_be_written_nowhere_says_what_else_to_do(tmp_path: Path) -> None:
    (tmp_path / "card").write_text("")
    for runtime in (None, tmp_path / "card" / "run"):
        store = StateStore(tmp_path / "card" / "state", runtime=runtime)
        with pytest.raises(OutsideWorldError, match="can't write") as caught:
            store.hold("why")
        assert "SIGTERM" in caught.value.help


def test_a_hold_on_a_card_that_became_read_only_can_be_released(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = StateStore(tmp_path / "state", runtime=tmp_path / "run")
    store.hold("why")

    really = store.disk.remove

    def refuse(path: Path) -> None:
        if path.parent == store.folder:
            raise OSError(errno.EROFS, "Read-only file system", str(path))
        really(path)

    with monkeypatch.context() as patch:
        patch.setattr(store.disk, "remove", refuse)
        assert store.release()
        with pytest.raises(OSError, match="Read-only"):
            store.mend(is_held=False)
    assert store.hold_file.exists() and not store.is_held() and not store.is_held(before=True)
    store.hold("again")  # another hold than the one that was released
    assert store.is_held()
    with monkeypatch.context() as patch:
        patch.setattr(store.disk, "remove", refuse)
        with pytest.raises(OutsideWorldError, match="read-only"):
            StateStore(tmp_path / "state", store.disk).release()
    assert store.is_held()


def test_a_released_hold_does_not_come_back_with_a_restart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The mark that it was released lies in memory, and is lost with the power."""
    store = StateStore(tmp_path / "state", runtime=tmp_path / "run")
    store.hold("why")
    really = store.disk.remove

    def refuse(path: Path) -> None:
        if path.parent == store.folder:
            raise OSError(errno.EROFS, "Read-only file system", str(path))
        really(path)

    with monkeypatch.context() as patch:
        patch.setattr(store.disk, "remove", refuse)
        assert store.release()
    assert store.hold_file.exists()
    store.mend(is_held=False)  # the card can be written again
    assert not store.hold_file.exists()
    shutil.rmtree(tmp_path / "run")
    assert not store.is_held()
    store.hold("again")
    store.mend(is_held=True)
    assert store.is_held()


def test_a_state_that_the_card_refuses_is_kept_in_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A player that stopped, and is started again, must not take its lamps for lit."""
    store = StateStore(tmp_path / "state", runtime=tmp_path / "run")
    store.disk.make_folder(store.folder)
    lit = State(boot_id="b", boot_s=100.0, unix_s=5100.0, is_trusted=True,
                outputs={"blue": RememberedOutput(2000, relay=True)})  # fmt: skip
    dark = replace(
        lit, boot_s=160.0, unix_s=5160.0, outputs={"blue": RememberedOutput(0, relay=False)}
    )
    store.write_state(lit)
    really = store.disk.replace

    def refuse(path: Path, raw: bytes) -> None:
        if path.parent == store.folder:
            raise OSError(errno.ENOSPC, "No space left on device", str(path))
        really(path, raw)

    with monkeypatch.context() as patch:
        patch.setattr(store.disk, "replace", refuse)
        fault = store.write_state(dark)
        assert fault is not None and fault.errno == errno.ENOSPC
        patch.setattr(store, "runtime", store.folder)
        with pytest.raises(OSError, match="No space"):
            store.write_state(dark)
    assert store.read_state() == dark
    assert store.write_state(replace(dark, outputs=lit.outputs)) is None
    assert store.read_state() == dark  # of the same moment: what came after the card refused
    last = replace(lit, boot_s=220.0, unix_s=5220.0)
    store.write_state(last)
    assert store.read_state() == last  # the card can be written again
    store.write_state(replace(lit, boot_id="an earlier start", boot_s=9000.0))
    assert store.read_state() == dark  # what is in memory is of this start
    shutil.rmtree(tmp_path / "run")
    found = store.read_state()
    assert found is not None and found.boot_id == "an earlier start"


def test_a_release_that_fails_releases_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = StateStore(tmp_path / "state", runtime=tmp_path / "run")
    store.hold("why")
    really = store.disk.look

    def hangs(path: Path) -> Entry | None:
        if path.parent == store.folder:
            raise TimeoutError(errno.ETIMEDOUT, "It hangs")
        return really(path)

    with monkeypatch.context() as patch:
        patch.setattr(store.disk, "look", hangs)
        with pytest.raises(OutsideWorldError, match="hangs"):
            store.release()
        assert store.is_held()
    assert store.is_held() and store.release() and not store.is_held()


def test_a_hold_that_is_a_folder_holds_and_says_how_to_end_it(tmp_path: Path) -> None:
    store = StateStore(tmp_path)
    store.hold_file.mkdir()
    (store.hold_file / "something").touch()
    assert store.is_held()
    assert store.hold("why") == store.hold_file and store.is_held()
    with pytest.raises(OutsideWorldError) as caught:
        store.release()
    assert "if it is a folder, empty it first" in caught.value.help and store.is_held()
    (store.hold_file / "something").unlink()
    assert store.release() and not store.is_held()


def test_a_lock_without_the_state_folder(broken: StateStore, tmp_path: Path) -> None:
    broken.lock()
    assert broken.is_locked()
    with pytest.raises(OutsideWorldError, match="another player uses"):
        StateStore(broken.folder, runtime=tmp_path / "run").lock()
    StateStore(tmp_path / "other", runtime=tmp_path / "run").lock()  # another player's


def test_a_folder_that_vanished_is_made_again(tmp_path: Path) -> None:
    store = StateStore(tmp_path / "state")
    store.hold("why")
    store.lock()
    shutil.rmtree(store.folder)
    assert store.is_held(before=True)
    store.mend(is_held=True)
    assert store.hold_file.exists() and StateStore(store.folder).is_locked()
    store.release()
    before = store.disk.look(store.folder)
    store.mend(is_held=True)  # it is there: nothing is to be mended
    assert not store.is_held() and store.disk.look(store.folder) == before


def test_a_hold_that_was_released_is_not_taken_for_one_that_was_lost(tmp_path: Path) -> None:
    """The folder vanishes right after the release: the second hold tells which it was."""
    store = StateStore(tmp_path / "state", runtime=tmp_path / "run")
    keeper = StateStore(tmp_path / "state", runtime=tmp_path / "run")
    keeper.hold("why")
    assert store.is_held()
    keeper.release()
    shutil.rmtree(tmp_path / "state")
    assert not store.is_held(before=True)
    keeper.hold("why")
    assert store.is_held()
    shutil.rmtree(tmp_path / "state")
    shutil.rmtree(tmp_path / "run")
    assert store.is_held(before=True)  # both are gone: that is no release
    alone = StateStore(tmp_path / "other")
    assert alone.is_held(before=True)
