"""Time, sleep and signals of a Linux machine, behind one door so that tests can stand in for it."""

from __future__ import annotations

import ctypes
import select
import signal
import socket
import time
from pathlib import Path
from typing import Protocol

from photoperiod.errors import WrongUse

#: What a player listens to: stop, interrupt, look at the table again.
SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)

#: What the system's own clock service leaves once it has set the clock since the board started.
_SYNCHRONISED_FILE = Path("/run/systemd/timesync/synchronized")

_TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised


class World(Protocol):
    """The machine that a player runs on."""

    @property
    def boot_id(self) -> str:
        """What tells one start of the machine from another; empty if nothing does."""

    def unix_s(self) -> float:
        """Return the time as the machine's clock has it, right or wrong. [Unix seconds]"""

    def boot_s(self) -> float:
        """Return the time since the machine started; nobody can set it, and sleep counts. [s]"""

    def wait(self, seconds: float) -> int | None:
        """Sleep, and return the number of a signal that ended it early. [s]"""

    def is_synchronised(self) -> bool | None:
        """Return whether the system says its clock is right; None if it can't say."""

    def has_battery_clock(self) -> bool:
        """Return whether a battery clock set the system's clock as the machine started."""


class Linux:
    """The machine that runs this.

    Signals are written to a socket that sleep listens to, so that one that comes while outputs are
    set is neither lost nor leaves them half set. Blocking them would not do: libraries have begun
    threads already that do not, and there a signal would end the process.
    """

    def __init__(self) -> None:
        if not hasattr(time, "CLOCK_BOOTTIME"):
            raise WrongUse("a player for a board needs Linux")
        self.boot_id = _first_line(Path("/proc/sys/kernel/random/boot_id"))
        self._heard, self._told = socket.socketpair()
        self._heard.setblocking(False)
        self._told.setblocking(False)
        signal.set_wakeup_fd(self._told.fileno(), warn_on_full_buffer=False)
        self._last_word: int | None = None
        for number in SIGNALS:
            signal.signal(number, self._hear)

    def _hear(self, number: int, _frame: object) -> None:
        """Keep a signal that ends the player: the socket may be full of others."""
        if number != signal.SIGHUP:
            self._last_word = number

    def unix_s(self) -> float:
        """Return the time as the machine's clock has it. [Unix seconds]"""
        return time.time()

    def boot_s(self) -> float:
        """Return the time since the machine started. [s]"""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def wait(self, seconds: float) -> int | None:
        """Sleep, and return the number of a signal that ended it early. [s]"""
        if self._last_word is not None:
            return self._last_word
        ready, _, _ = select.select([self._heard], [], [], max(seconds, 0.0))
        if not ready:
            return None
        heard = self._heard.recv(65_536)  # all that came meanwhile; many SIGHUPs are one
        return next((number for number in heard if number != signal.SIGHUP), heard[0])

    def is_synchronised(self) -> bool | None:
        """Return whether the system says its clock is right.

        The kernel knows it from whichever service steers the clock; services that only step it
        leave a file instead.
        """
        if _SYNCHRONISED_FILE.exists():
            return True
        told = _adjtimex()
        return None if told < 0 else told != _TIME_ERROR

    def has_battery_clock(self) -> bool:
        """Return whether a battery clock set the system's clock as the machine started."""
        clocks = Path("/sys/class/rtc").glob("rtc*/hctosys")
        return any(_first_line(path) == "1" for path in clocks)


def _adjtimex() -> int:
    """Return the state of the kernel's clock; -1 if it may not be asked. Nothing is changed."""
    room = ctypes.create_string_buffer(512)  # struct timex, modes 0: it has 208 bytes or fewer
    try:
        return int(ctypes.CDLL(None).adjtimex(room))
    except (OSError, AttributeError):
        return -1


def _first_line(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return ""
