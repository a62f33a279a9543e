"""The player's own folder: its state, a copy of the last good table, the hold, and the lock.

A file is written beside the old one and then moved into its place, so that a power failure leaves the
old one whole.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from photoperiod.board.disk import Disk, Entry, LocalDisk
from photoperiod.errors import OutsideWorldError, os_reason

FORMAT = "photoperiod-state"

#: No state file is larger. [bytes]
MAX_BYTES = 2**20


@dataclass(frozen=True, slots=True)
class RememberedOutput:
    """The converter code that a channel was set to last, and whether its relay was closed."""

    code: int
    relay: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a player remembers across restarts.

    Parameters
    ----------
    boot_id : str
        The run of the machine in which it was written.
    boot_s : float
        When it was written, since the machine started. [s]
    unix_s : float
        When it was written, by the clock. [Unix seconds]
    is_trusted : bool
        Whether that clock was trusted.
    outputs : mapping of channel to RememberedOutput
        The outputs that are known.
    """

    boot_id: str
    boot_s: float
    unix_s: float
    is_trusted: bool
    outputs: Mapping[str, RememberedOutput] = field(default_factory=dict)


class StateStore:
    """The player's own folder, and what serves while that can't be written.

    Parameters
    ----------
    folder : Path
        The folder.
    disk : Disk or None
        What reads and writes it; None for the disk of this machine.
    runtime : Path or None
        A folder in memory that several players may share. A hold and the lock go there while the state
        folder can't be written, as when a memory card dies; None if there is none.
    """

    def __init__(self, folder: Path, disk: Disk | None = None, runtime: Path | None = None) -> None:
        self.folder, self.disk, self.runtime = folder, disk or LocalDisk(), runtime
        self._is_held_twice = False
        self._mark = hashlib.sha256(os.path.realpath(folder).encode()).hexdigest()[:12]

    @property
    def hold_file(self) -> Path:
        """The file that keeps the lamps off while it exists."""
        return self.folder / "hold"

    def _beside(self, name: str) -> Path | None:
        """Return a file of this player in the runtime folder."""
        return None if self.runtime is None else self.runtime / f"{name}-{self._mark}"

    def make(self) -> None:
        """Make the folder.

        Raises
        ------
        OutsideWorldError
            PHO502 if that fails.
        """
        try:
            self.disk.make_folder(self.folder)
        except OSError as error:
            raise _cannot_write(self.folder, error) from error

    def lock(self) -> None:
        """Take the lock of a player; the kernel releases it however the process ends.

        It is taken in the runtime folder, if there is one, and in the state folder, if it can be
        written. If neither can be, the locks on the devices must do.

        Raises
        ------
        OutsideWorldError
            PHO509 if another player has it.
        """
        for path in self._lock_files:
            try:
                self.disk.make_folder(path.parent)
                if self.disk.lock(path):
                    continue
                other = self.disk.read(path, 20).decode("ascii", "replace").strip()
            except OSError:
                continue
            raise OutsideWorldError(
                "PHO509",
                f"another player uses '{self.folder}'" + (f", process {other}" if other else ""),
                "stop it first, or give each player a state folder of its own",
            )

    @property
    def _lock_files(self) -> list[Path]:
        beside = self._beside("lock")
        return [self.folder / "lock", *([] if beside is None else [beside])]

    def is_locked(self) -> bool:
        """Return True if a player runs; False too if its lock cannot be seen."""
        return any(map(self.disk.is_locked, self._lock_files))

    def read_state(self) -> State | None:
        """Return the state that was saved last; None if there is none, or none that can be used."""
        saved = self._state_in(self.folder / "state.json")
        beside = self._beside("state")
        newer = None if beside is None else self._state_in(beside)
        # Of the same moment the second one is newer: it was written because the first could not be.
        if newer is None or (
            saved is not None and saved.boot_id == newer.boot_id and saved.boot_s > newer.boot_s
        ):
            return saved
        return newer

    def _state_in(self, path: Path) -> State | None:
        try:
            return state_of_data(json.loads(self.disk.read(path, MAX_BYTES)))
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError,
                OverflowError):  # fmt: skip
            return None

    def write_state(self, state: State) -> OSError | None:
        """Save the state; return why the folder refuses it, if it is in the runtime folder instead.

        A player that is started again in this run of the machine must not take lamps for lit that went dark.

        Raises
        ------
        OSError
            If neither can be written: the old state is still there.
        """
        raw = json.dumps(state_data(state)).encode()
        try:
            self.disk.replace(self.folder / "state.json", raw)
        except OSError as error:
            beside = self._beside("state")
            if beside is None:
                raise
            try:
                self.disk.make_folder(beside.parent)
                self.disk.replace(beside, raw)
            except OSError:
                raise error from None
            return error
        return None

    @property
    def good_table(self) -> Path:
        """The copy of the last table that could be played."""
        return self.folder / "table.good"

    def is_held(self, before: bool = False) -> bool:
        """Return True if a person holds the lamps off; ``before`` if the disk cannot tell.

        A disk that fails must not light lamps on which somebody works.
        """
        beside = self._beside("hold")
        try:
            if beside is not None and self.disk.look(beside) is not None:
                self._is_held_twice = True
                return True
        except OSError:
            return before
        try:
            found = self.disk.look(self.hold_file)
            is_released = self._is_released(found)
            if found is not None:
                return not is_released
            is_lost = self.disk.look(self.folder) is None and not self._was_second_removed()
            return before and not is_released and is_lost
        except OSError:
            return before

    def _was_second_removed(self) -> bool:
        """Return True if a second hold was there, and its folder still is: only a release removes it."""
        return (
            self._is_held_twice
            and self.runtime is not None
            and self.disk.look(self.runtime) is not None
        )

    def _is_released(self, found: Entry | None) -> bool:
        """Return True if the hold that is there was released although it could not be removed."""
        released = self._beside("released")
        try:
            if released is None or self.disk.look(released) is None:
                return False
            return self.disk.read(released, 100) == _stamp(found)
        except OSError:
            return False

    def hold(self, why: str) -> Path:
        """Hold the lamps off until `release`; return the file that does it.

        A second one goes to the runtime folder, if that can be written: a card that dies later, so that
        nothing can be read any more, must not light lamps on which somebody works.

        Raises
        ------
        OutsideWorldError
            PHO502 if neither folder can be written.
        """
        beside = self._beside("hold")
        is_beside = beside is not None and self._write_hold(beside, why) is None
        fault = self._write_hold(self.hold_file, why)
        if fault is None:
            return self.hold_file
        if beside is not None and is_beside:
            return beside
        raise OutsideWorldError(
            "PHO502",
            f"can't write '{self.hold_file}': {os_reason(fault)}",
            "stop the player (`systemctl stop photoperiod`, or SIGTERM): it sets the safe state",
        ) from fault

    def _write_hold(self, path: Path, why: str) -> OSError | None:
        """Write a hold, and return why that failed, if it did."""
        try:
            self.disk.make_folder(path.parent)
            try:
                self.disk.replace(path, (why + "\n").encode())
            except (
                OSError
            ):  # a full disk often has room for a name, and the name alone holds the lamps
                self.disk.touch(path)
        except OSError as error:
            return error
        return None

    def release(self) -> bool:
        """Release the lamps; return True if they were held.

        Raises
        ------
        OutsideWorldError
            PHO502 if the hold can be neither removed nor marked as released.
        """
        beside, was_held = self._beside("hold"), self.is_held()
        try:
            if self.disk.look(self.hold_file) is not None:
                self.disk.remove(self.hold_file)
            self.disk.make_folder(self.folder)  # a hold outlives its folder
        except OSError as error:
            self._mark_released(error)
        try:  # the second hold goes last: until then, and after a failure, the lamps are held
            if beside is not None and self.disk.look(beside) is not None:
                self.disk.remove(beside)
        except OSError as error:
            raise _cannot_write(beside or self.hold_file, error, "remove it by hand") from error
        return was_held

    def _mark_released(self, error: OSError) -> None:
        released = self._beside("released")
        try:
            if released is None:
                raise error
            self.disk.make_folder(released.parent)
            self.disk.replace(released, _stamp(self.disk.look(self.hold_file)))
        except OSError:
            raise _cannot_write(
                self.hold_file, error, "remove it by hand; if it is a folder, empty it first"
            ) from error

    def mend(self, is_held: bool) -> None:
        """Make good what a disk that failed has left; OSError if that fails.

        A folder that has vanished is made again, with its lock and its hold. A hold that was released when
        it could not be removed is removed: the mark that it was released goes with the next restart.
        """
        if self.disk.look(self.folder) is not None:
            if self._is_released(self.disk.look(self.hold_file)):
                self._remove_released()
            return
        self.disk.make_folder(self.folder)
        self.disk.lock(self.folder / "lock")
        if is_held:
            self._write_hold(self.hold_file, "held before this folder was lost")

    def _remove_released(self) -> None:
        """Remove a hold that was released, and then the mark of it."""
        released = self._beside("released")
        if self.disk.look(self.hold_file) is not None:
            self.disk.remove(self.hold_file)
        if released is not None:
            self.disk.remove(released)


def _stamp(found: Entry | None) -> bytes:
    """Return what marks a hold, so that the next one is another; that no hold is there, too."""
    return b"none" if found is None else f"{found.inode} {found.mtime_ns}".encode()


def state_data(state: State) -> dict[str, Any]:
    """Return a state as plain data; times are kept to a millisecond."""
    return {
        "format": FORMAT,
        "version": 1,
        "boot_id": state.boot_id,
        "boot_s": round(state.boot_s, 3),
        "unix_s": round(state.unix_s, 3),
        "is_trusted": state.is_trusted,
        "outputs": {
            id: {"code": output.code, "relay": output.relay} for id, output in state.outputs.items()
        },
    }


def state_of_data(data: Any) -> State | None:
    """Return a state from plain data; None if the data are of another format or time is no number.

    Raises
    ------
    ValueError, KeyError, TypeError, AttributeError, OverflowError
        If the data have another shape.
    """
    if data["format"] != FORMAT or data["version"] != 1:
        return None
    state = State(
        boot_id=str(data["boot_id"]),
        boot_s=float(data["boot_s"]),
        unix_s=float(data["unix_s"]),
        is_trusted=data["is_trusted"] is True,
        outputs={
            str(id): RememberedOutput(int(output["code"]), output["relay"] is True)
            for id, output in data["outputs"].items()
        },
    )
    return state if math.isfinite(state.boot_s) and math.isfinite(state.unix_s) else None


def _cannot_write(path: Path, error: OSError, help: str = "") -> OutsideWorldError:
    reason = os_reason(error)
    return OutsideWorldError(
        "PHO502",
        f"can't write '{path}': {reason}",
        help or "make the folder, owned by whoever runs the player",
    )
