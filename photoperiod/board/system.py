"""Time, sleep and signals of a Linux machine, as one object that tests can replace."""

from __future__ import annotations

import contextlib
import ctypes
import os
import select
import signal
import socket
import threading
import time
from pathlib import Path
from typing import Protocol

from photoperiod.errors import WrongUse

#: The signals that a player handles: stop, interrupt, read the table again.
SIGNALS = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)

#: The system's own time service creates this file once it has set the clock since the start.
_SYNCHRONISED_FILE = Path("/run/systemd/timesync/synchronized")

#: A signal to stop is obeyed within this time, whatever hangs [s]; it ends with this exit code then.
END_S, EXIT_LATE = 4.5, 4

_TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised


class System(Protocol):
    """The machine that a player runs on."""

    @property
    def boot_id(self) -> str:
        """A text that differs for each start of the machine; empty if there is none."""

    def unix_s(self) -> float:
        """Return the time that the machine's clock shows, right or wrong. [Unix seconds]"""

    def boot_s(self) -> float:
        """Return the time since the machine started. Nobody can set it; sleep is included. [s]"""

    def wait(self, seconds: float) -> int | None:
        """Sleep, and return the number of a signal that ended it early, or that came before. [s]"""

    def sleep(self, seconds: float) -> None:
        """Sleep, whatever signals have come. [s]"""

    def is_synchronised(self) -> bool | None:
        """Return whether the system says that its clock is right; None if it cannot say."""

    def has_battery_clock(self) -> bool:
        """Return True if a battery clock set the system's clock when the machine started."""

    def tell_service(self, state: str) -> None:
        """Tell the service manager that the player is ready (``READY=1``) or alive (``WATCHDOG=1``)."""


def boot_id() -> str:
    """Return a text that differs for each start of the machine; empty if there is none."""
    return _first_line(Path("/proc/sys/kernel/random/boot_id"))


def boot_s() -> float:
    """Return the time since the machine started. [s]"""
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def _end_now() -> None:
    """End without waiting for anything."""
    with contextlib.suppress(OSError):
        os.set_blocking(2, False)  # nobody may be reading
        os.write(2, b"stopped late: something hangs, and lamps may burn\n")
    os._exit(EXIT_LATE)


class LinuxSystem:
    """The machine that runs this process.

    Signals are written to a socket on which `wait` listens. So a signal that comes while outputs are
    being set is not lost and does not leave them half set. Blocking signals would not be enough:
    threads that libraries have started do not block them, and there a signal would end the process.
    """

    def __init__(self) -> None:
        if not hasattr(time, "CLOCK_BOOTTIME"):
            raise WrongUse("a player for a board needs Linux")
        self.boot_id = boot_id()
        self._receiver, self._sender = socket.socketpair()
        self._receiver.setblocking(False)
        self._sender.setblocking(False)
        signal.set_wakeup_fd(self._sender.fileno(), warn_on_full_buffer=False)
        self._end_signal: int | None = None
        for number in SIGNALS:
            signal.signal(number, self._keep_end_signal)

    def _keep_end_signal(self, number: int, _frame: object) -> None:
        """Keep a signal that ends the player: the socket may be full of other signals.

        The process ends within `END_S` even if what it does then hangs.
        """
        if number == signal.SIGHUP:
            return
        if self._end_signal is None:
            last = threading.Timer(END_S, _end_now)
            last.daemon = True
            last.start()
        self._end_signal = number

    def unix_s(self) -> float:
        """Return the time that the machine's clock shows. [Unix seconds]"""
        return time.time()

    def boot_s(self) -> float:
        """Return the time since the machine started. [s]"""
        return boot_s()

    def sleep(self, seconds: float) -> None:
        """Sleep, whatever signals have come. [s]"""
        time.sleep(seconds)

    def wait(self, seconds: float) -> int | None:
        """Sleep, and return the number of a signal that ended it early, or that came before. [s]"""
        if self._end_signal is not None:
            return self._end_signal
        ready, _, _ = select.select([self._receiver], [], [], max(seconds, 0.0))
        if not ready:
            return None
        numbers = self._receiver.recv(65_536)  # all that came meanwhile; many SIGHUPs count as one
        return next((number for number in numbers if number != signal.SIGHUP), numbers[0])

    def is_synchronised(self) -> bool | None:
        """Return whether the system says that its clock is right; None if it cannot say.

        A service that steers the clock tells the kernel; a service that only steps it leaves a file.
        """
        if _SYNCHRONISED_FILE.exists():
            return True
        state = _adjtimex()
        return None if state < 0 else state != _TIME_ERROR

    def has_battery_clock(self) -> bool:
        """Return True if a battery clock set the system's clock when the machine started."""
        clocks = Path("/sys/class/rtc").glob("rtc*/hctosys")
        return any(_first_line(path) == "1" for path in clocks)

    def tell_service(self, state: str) -> None:
        """Tell the service manager, if one asked for it; it never waits, and nothing can go wrong.

        Source: sd_notify(3), "Notes": a datagram to the socket of NOTIFY_SOCKET; @ is an abstract name.
        """
        address = os.environ.get("NOTIFY_SOCKET", "")
        if not address:
            return
        with (
            contextlib.suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK) as line,
        ):
            line.sendto(state.encode(), "\0" + address[1:] if address[0] == "@" else address)


def _adjtimex() -> int:
    """Return the state of the kernel's clock; -1 if it cannot be read. Nothing is changed."""
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
