"""The player's own folder: its state, a copy of the last good table, the hold, and the lock.

A file is written beside the old one and then moved into its place, so that a power failure leaves the
old one whole.
"""

from __future__ import annotations

import fcntl
import json
import math
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.formats.atomic import replace_file, sync_folder

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
    """The player's own folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock: int | None = None  # an open file: the lock ends when the process closes it

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
            self.folder.mkdir(parents=True, exist_ok=True)
            if not os.access(self.folder, os.W_OK):
                raise PermissionError(None, "Permission denied")
        except OSError as error:
            raise _cannot_write(self.folder, error) from error

    def lock(self) -> None:
        """Take the lock of a player; the kernel releases it however the process ends.

        Raises
        ------
        OutsideWorldError
            PHO509 if another player has it, PHO502 if its file cannot be written.
        """
        path = self.folder / "lock"
        try:
            held = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as error:
            raise _cannot_write(path, error) from error
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            other = os.read(held, 20).decode("ascii", "replace").strip()
            os.close(held)
            raise OutsideWorldError(
                "PHO509",
                f"another player uses '{self.folder}'" + (f", process {other}" if other else ""),
                "stop it first, or give each player a state folder of its own",
            ) from error
        os.ftruncate(held, 0)
        os.write(held, f"{os.getpid()}\n".encode())
        self._lock = held

    def is_locked(self) -> bool:
        """Return True if a player runs; False too if its lock cannot be seen."""
        try:
            seen = os.open(self.folder / "lock", os.O_RDONLY | os.O_CLOEXEC)
        except OSError:
            return False
        try:
            fcntl.flock(seen, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except OSError:
            return True
        finally:
            os.close(seen)
        return False

    def read_state(self) -> State | None:
        """Return the state that was saved last; None if there is none, or none that can be used."""
        try:
            with (self.folder / "state.json").open("rb") as file:
                return state_of_data(json.loads(file.read(MAX_BYTES)))
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError,
                OverflowError):  # fmt: skip
            return None

    def write_state(self, state: State) -> None:
        """Save the state; raises OSError if that fails, and the old state is still there then."""
        replace_file(self.folder / "state.json", json.dumps(state_data(state)).encode())

    @property
    def good_table(self) -> Path:
        """The copy of the last table that could be played."""
        return self.folder / "table.good"

    def is_held(self, before: bool = False) -> bool:
        """Return True if a person holds the lamps off; ``before`` if the disk cannot tell.

        A disk that fails must not light lamps on which somebody works.
        """
        try:
            self.hold_file.stat()
        except FileNotFoundError:
            return before and not self.folder.exists()
        except OSError:
            return before
        return True

    def hold(self, why: str) -> None:
        """Hold the lamps off until `release`.

        Raises
        ------
        OutsideWorldError
            PHO502 if the file cannot be written.
        """
        self.make()
        try:
            replace_file(self.hold_file, (why + "\n").encode())
        except OSError as error:
            try:  # a full disk often has room for a name, and the name alone holds the lamps
                self.hold_file.touch()
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
            self.hold_file.unlink()
            sync_folder(self.folder)
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
