"""A kernel in memory: files of sysfs and GPIO lines, which refuse what the real one refuses."""

from __future__ import annotations

import errno
import os
from dataclasses import dataclass

from photoperiod.board.devices.lines import FoundLine, LineUse

IIO = "bus/iio/devices/iio:device0"


@dataclass(slots=True)
class FakeLine:
    """A GPIO line of a fake kernel. Its direction and value stand in two files of its folder."""

    folder: str
    name: str
    chip: str
    label: str
    holder: str | None = None
    falls_to: str | None = None  # what a resistor makes of it when it is let go; None: it stays

    @property
    def offset(self) -> int:
        return int(self.folder.rpartition("/")[2])


class FakeLines:
    """The kernel's lines for one writer: a line is its own until it lets go.

    Source: Documentation/userspace-api/gpio/gpio-v2-get-line-ioctl.rst (EBUSY, as is, output values).
    """

    def __init__(self, kernel: FakeKernel) -> None:
        self.kernel = kernel
        self.line: FakeLine | None = None
        self.use: LineUse | None = None

    def find(self) -> list[FoundLine]:
        return [
            FoundLine(line.chip, line.label, line.offset, line.name, line.holder)
            for line in self.kernel.lines
            if self.kernel.exists(line.folder)
        ]

    def take(self, chip: str, offset: int, use: LineUse) -> bool:
        (line,) = (one for one in self.kernel.lines if (one.chip, one.offset) == (chip, offset))
        if line is not self.line or use != self.use:
            self.let_go()
            if line.holder is not None or not self.kernel.lock(f"{line.folder}/value"):
                raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
            self._direct(line, use)  # a request that fails leaves the line to nobody
            line.holder, self.line, self.use = use.consumer, line, use
            self.kernel.holders.append(self)
        return self.get()

    def _direct(self, line: FakeLine, use: LineUse) -> None:
        if not use.is_output:
            self.kernel.write(f"{line.folder}/direction", "in")
        elif self.kernel.read(f"{line.folder}/direction") != "out":
            first = "high" if use.active_low else "low"
            self.kernel.write(f"{line.folder}/direction", first)

    def get(self) -> bool:
        line, use = self._requested()
        return (self.kernel.read(f"{line.folder}/value") == "1") != use.active_low

    def set(self, is_active: bool) -> None:
        line, use = self._requested()
        self.kernel.write(f"{line.folder}/value", str(int(is_active != use.active_low)))

    def _requested(self) -> tuple[FakeLine, LineUse]:
        if self.line is None or self.use is None:
            raise OSError(errno.EBADF, os.strerror(errno.EBADF))
        return self.line, self.use

    def let_go(self) -> None:
        """End the request, as the kernel does when a process ends."""
        line, self.line = self.line, None
        if line is not None:
            line.holder = None
            if line.falls_to is not None:
                self.kernel.fall(f"{line.folder}/value", line.falls_to)


class FakeKernel:
    """Files of sysfs in memory, which refuse what the kernel refuses.

    What is written when is kept in `writes`; `gone` are beginnings of names that have vanished. What is in
    `frozen` is read, whatever is held: a latch that says what it was told earlier.
    """

    def __init__(self) -> None:
        self.held: dict[str, str] = {}
        self.read_only: set[str] = set()
        self.gone: set[str] = set()
        self.frozen: dict[str, str] = {}
        self.locked: set[str] = set()  # by another player
        self.holders: list[FakeLines] = []  # those that have requested a line
        self.hung: set[str] = set()  # beginnings of names that answer no more
        self.lines: list[FakeLine] = []
        self.writes: list[tuple[str, str]] = []
        self.bits = 12
        self.least_duty = 0

    def add_converter(self, channels: int = 1, device: str = IIO) -> FakeKernel:
        for n in range(channels):
            self.held[f"{device}/out_voltage{n}_raw"] = "0"
        self.held[f"{device}/name"] = "dac-front"
        return self

    def add_led(self, name: str = "relay-blue", most: int = 255) -> FakeKernel:
        folder = f"class/leds/{name}"
        self.held |= {
            f"{folder}/brightness": "0",
            f"{folder}/max_brightness": str(most),
            f"{folder}/trigger": "[none] timer heartbeat",
        }
        self.read_only.add(f"{folder}/max_brightness")
        return self

    def add_pwm(self) -> FakeKernel:
        self.held |= {"class/pwm/pwmchip0/export": "", "class/pwm/pwmchip0/npwm": "2"}
        return self

    def add_gpio(
        self, name: str = "relay-white", chip: str = "gpiochip0", label: str = "expander"
    ) -> FakeKernel:
        folder = f"lines/{chip}/{self._count(chip)}"
        self.held |= {f"{folder}/direction": "in", f"{folder}/value": "0"}
        self.lines.append(FakeLine(folder, name, chip, label))
        return self

    def _count(self, chip: str) -> int:
        return sum(line.chip == chip for line in self.lines)

    # ---- what a player sees

    def _must_exist(self, name: str) -> None:
        if not self.exists(name) or any(n.startswith(name + "/") for n in self.held):
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT), name)

    def _refuse(self, name: str, number: int = errno.EINVAL) -> None:
        raise OSError(number, os.strerror(number), name)

    def read(self, name: str) -> str:
        self._must_exist(name)
        return self.frozen.get(name, self.held[name])

    def names(self, name: str) -> list[str]:
        inside = {n[len(name) + 1 :].split("/")[0] for n in self.held if n.startswith(name + "/")}
        return sorted(n for n in inside if self.exists(f"{name}/{n}"))

    def exists(self, name: str) -> bool:
        if any(name.startswith(hung) for hung in self.hung):
            raise TimeoutError(errno.ETIMEDOUT, "It hangs: no answer within 2 s")
        if any(name.startswith(gone) for gone in self.gone):
            return False
        return name in self.held or any(n.startswith(name + "/") for n in self.held)

    def may_write(self, name: str) -> bool:
        return name in self.held and self.exists(name) and name not in self.read_only

    def lock(self, name: str) -> bool:
        return name not in self.locked

    def new_lines(self) -> FakeLines:
        return FakeLines(self)

    def fall(self, name: str, text: str) -> None:
        """A resistor makes this of a line that was let go."""
        self.held[name] = text

    def let_go(self) -> None:
        """Let all lines go: the process that had them has ended."""
        while self.holders:
            self.holders.pop().let_go()

    def write(self, name: str, text: str) -> None:
        self._must_exist(name)
        if name in self.read_only:
            self._refuse(name, errno.EACCES)
        folder, _, leaf = name.rpartition("/")
        if leaf == "export":
            self._export(name, folder, self._number(name, text))
        elif leaf == "trigger":
            self.held[name] = f"[{text}]"
            self.held[f"{folder}/brightness"] = "0"
        elif leaf == "polarity":
            if self.held[f"{folder}/enable"] == "1":
                self._refuse(name, errno.EBUSY)
            self.held[name] = text
        elif leaf == "direction":
            if text not in ("in", "out", "low", "high"):
                self._refuse(name)
            self.held[name] = "in" if text == "in" else "out"
            if text != "in":
                self.held[f"{folder}/value"] = "1" if text == "high" else "0"
        else:
            self.held[name] = str(self._accepted(name, folder, leaf, self._number(name, text)))
        self.writes.append((name, text))

    def _number(self, name: str, text: str) -> int:
        if not text.strip().isdecimal():
            self._refuse(name)
        return int(text)

    def _accepted(self, name: str, folder: str, leaf: str, number: int) -> int:
        now = {leaf: int(self.held[f"{folder}/{leaf}"]) for leaf in ("period", "duty_cycle")
               if f"{folder}/{leaf}" in self.held}  # fmt: skip
        if leaf.endswith("_raw") and number >= 2**self.bits:
            self._refuse(name)
        elif leaf == "brightness":
            return min(number, int(self.held[f"{folder}/max_brightness"]))
        elif (
            (leaf == "period" and (number == 0 or number < now["duty_cycle"]))
            or (leaf == "duty_cycle" and (number > now["period"] or 0 < number < self.least_duty))
            or (leaf == "enable" and number and not now["period"])
        ):
            self._refuse(name)
        elif leaf == "value":
            if self.held[f"{folder}/direction"] != "out":
                self._refuse(name, errno.EPERM)
            return int(number > 0)
        return number

    def _export(self, name: str, folder: str, number: int) -> None:
        made = f"{folder}/pwm{number}"
        if number >= int(self.held[f"{folder}/npwm"]):
            self._refuse(name, errno.ENODEV)
        if self.exists(made):
            self._refuse(name, errno.EBUSY)
        fresh = {"period": "0", "duty_cycle": "0", "enable": "0", "polarity": "normal"}
        self.held |= {f"{made}/{leaf}": text for leaf, text in fresh.items()}
