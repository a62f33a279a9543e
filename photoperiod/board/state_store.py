"""The player's own folder: its state, a copy of the last good table, the hold, and the lock.

A file is written beside the old one and then moved into its place, so that a power failure leaves the
old one whole.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from photoperiod.board.disk import Disk, LocalDisk
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
    """The player's own folder.

    Parameters
    ----------
    folder : Path
        The folder.
    disk : Disk or None
        What reads and writes it; None for the disk of this machine.
    """

    def __init__(self, folder: Path, disk: Disk | None = None) -> None:
        self.folder, self.disk = folder, disk or LocalDisk()

    @property
    def hold_file(self) -> Path:
        """The file that keeps the lamps off while it exists."""
        return self.folder / "hold"

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

    @property
    def _lock_file(self) -> Path:
        return self.folder / "lock"

    def lock(self) -> None:
        """Take the lock of a player; the kernel releases it however the process ends.

        Raises
        ------
        OutsideWorldError
            PHO509 if another player has it, PHO502 if its file cannot be written.
        """
        try:
            if self.disk.lock(self._lock_file):
                return
            other = self.disk.read(self._lock_file, 20).decode("ascii", "replace").strip()
        except OSError as error:
            raise _cannot_write(self._lock_file, error) from error
        raise OutsideWorldError(
            "PHO509",
            f"another player uses '{self.folder}'" + (f", process {other}" if other else ""),
            "stop it first, or give each player a state folder of its own",
        )

    def is_locked(self) -> bool:
        """Return True if a player runs; False too if its lock cannot be seen."""
        return self.disk.is_locked(self._lock_file)

    def read_state(self) -> State | None:
        """Return the state that was saved last; None if there is none, or none that can be used."""
        try:
            raw = self.disk.read(self.folder / "state.json", MAX_BYTES)
            return state_of_data(json.loads(raw))
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError,
                OverflowError):  # fmt: skip
            return None

    def write_state(self, state: State) -> None:
        """Save the state; raises OSError if that fails, and the old state is still there then."""
        self.disk.replace(self.folder / "state.json", json.dumps(state_data(state)).encode())

    @property
    def good_table(self) -> Path:
        """The copy of the last table that could be played."""
        return self.folder / "table.good"

    def is_held(self, before: bool = False) -> bool:
        """Return True if a person holds the lamps off; ``before`` if the disk cannot tell.

        A disk that fails must not light lamps on which somebody works.
        """
        try:
            if self.disk.look(self.hold_file) is not None:
                return True
            return before and self.disk.look(self.folder) is None
        except OSError:
            return before

    def hold(self, why: str) -> None:
        """Hold the lamps off until `release`.

        Raises
        ------
        OutsideWorldError
            PHO502 if the file cannot be written.
        """
        self.make()
        try:
            self.disk.replace(self.hold_file, (why + "\n").encode())
        except OSError as error:
            try:  # a full disk often has room for a name, and the name alone holds the lamps
                self.disk.touch(self.hold_file)
            except OSError:
                raise _cannot_write(self.hold_file, error) from error

    def release(self) -> bool:
        """Release the lamps; return True if they were held.

        Raises
        ------
        OutsideWorldError
            PHO502 if the file cannot be removed.
        """
        try:
            self.disk.remove(self.hold_file)
        except FileNotFoundError:
            return False
        except OSError as error:
            raise _cannot_write(self.hold_file, error) from error
        return True


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


def _cannot_write(path: Path, error: OSError) -> OutsideWorldError:
    reason = os_reason(error)
    return OutsideWorldError(
        "PHO502",
        f"can't write '{path}': {reason}",
        "make the folder, owned by whoever runs the player",
    )
