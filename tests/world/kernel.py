"""The devices of a simulated board, and the lamps behind them."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from dataclasses import dataclass

from tests.board.fake_kernel import IIO, FakeKernel

LED = "class/leds/relay-blue"
PWM = "class/pwm/pwmchip0"
PIN = "lines/gpiochip0/0"
CONTACT, LUX = "senses/contact", "senses/lux"


@dataclass(slots=True)
class Part:
    """A converter or relay of the board, and what has become of it.

    Parameters
    ----------
    file : str
        The file by which it is set.
    folder : str
        Where all its files are.
    """

    file: str
    folder: str
    gone: bool = False
    hangs: bool = False
    refuses: bool = False
    forbidden: bool = False
    stuck: bool = False  # takes what is written, and does nothing
    lies: bool = False  # says that it holds what was written last
    taken: bool = False  # by another player
    told: str = ""  # what was written last

    @property
    def in_reach(self) -> bool:
        """True if whoever writes it sets it."""
        ways = (self.gone, self.hangs, self.refuses, self.forbidden, self.stuck, self.taken)
        return not any(ways)


class WorldKernel(FakeKernel):
    """The files of the devices; each write is an effect.

    Parameters
    ----------
    effect : callable
        Told of each write before it happens.
    wrote : callable
        Told of file, text before and text after a write that had an effect.
    pass_s : callable
        Lets time pass: whoever asks a device that hangs waits.
    """

    def __init__(
        self,
        effect: Callable[[str], None],
        wrote: Callable[[Part, str, str], None],
        pass_s: Callable[[float], None],
    ) -> None:
        super().__init__()
        self._effect, self._wrote, self._pass_s = effect, wrote, pass_s
        self.parts: dict[str, Part] = {}
        self.sensors_fail = False

    def build(self, second: str, *, lets_go: bool) -> None:
        """Make the devices: a converter and a relay, and a pulse-width output and a line if there are two.

        The line keeps its level when its process ends, or a resistor opens its relay then.
        """
        self.add_converter().add_led()
        self.parts = {
            "output of 'blue'": Part(f"{IIO}/out_voltage0_raw", IIO),
            "relay of 'blue'": Part(f"{LED}/brightness", LED),
        }
        if second == "local":
            self.add_pwm().add_gpio()
            self.lines[0].falls_to = "0" if lets_go else None
            self.parts |= {
                "output of 'white'": Part(f"{PWM}/pwm0/duty_cycle", PWM),
                "relay of 'white'": Part(f"{PIN}/value", PIN),
            }

    def lose_power(self) -> None:
        """All outputs fall back: relays open, converters to nothing, exported files vanish."""
        for part in self.parts.values():
            part.taken = False
        self.held[f"{IIO}/out_voltage0_raw"] = "0"
        self.held[f"{LED}/brightness"] = "0"
        for name in [n for n in self.held if n.startswith(f"{PWM}/pwm0")]:
            del self.held[name]
        for line in self.lines:
            self.held |= {f"{line.folder}/direction": "in", f"{line.folder}/value": "0"}

    def fall(self, name: str, text: str) -> None:
        part = self.part_of(name)
        if part is None or not part.stuck:
            super().fall(name, text)

    def part_of(self, name: str) -> Part | None:
        """Return the part to which a file belongs."""
        return next(
            (p for p in self.parts.values() if name == p.folder or name.startswith(f"{p.folder}/")),
            None,
        )

    # ---- what a player sees

    def _meet(self, name: str) -> Part | None:
        part = self.part_of(name)
        if part is not None and part.hangs:
            self._pass_s(0.05)
            raise TimeoutError(errno.ETIMEDOUT, "It hangs: no answer within 0.05 s")
        if part is not None and part.gone:
            self._refuse(name, errno.ENOENT)
        return part

    def exists(self, name: str) -> bool:
        try:
            self._meet(name)
        except FileNotFoundError:
            return False
        return name in self.held or any(n.startswith(name + "/") for n in self.held)

    def read(self, name: str) -> str:
        if name.startswith("senses/"):
            if self.sensors_fail:
                self._refuse(name, errno.EIO)
            return self.held[name]
        part = self._meet(name)
        if name not in self.held:
            self._refuse(name, errno.ENOENT)
        if part is not None and name == part.file and part.lies and part.told:
            return part.told
        return self.held[name]

    def may_write(self, name: str) -> bool:
        part = self._meet(name)
        return (part is None or not part.forbidden) and super().may_write(name)

    def lock(self, name: str) -> bool:
        part = self._meet(name)
        return part is None or not part.taken

    def write(self, name: str, text: str) -> None:
        self._effect(f"write {name} {text}")
        part = self._meet(name)
        if part is not None and part.forbidden:
            self._refuse(name, errno.EACCES)
        if part is None or name != part.file:
            super().write(name, text)
            self.writes.clear()
            return
        if part.refuses:
            raise OSError(errno.EIO, os.strerror(errno.EIO), name)
        before = self.held.get(name, "")
        if part.stuck:
            part.told = text
            return
        super().write(name, text)
        self.writes.clear()
        part.told = self.held[name]
        self._wrote(part, before, self.held[name])

    # ---- what is

    def latch(self, channel: str) -> bool:
        """Return True if the relay's latch is closed."""
        return self.held.get(self.parts[f"relay of '{channel}'"].file, "0") != "0"

    def code(self, channel: str) -> int:
        """Return the converter code that a channel has, of 12 bits."""
        text = int(self.held.get(self.parts[f"output of '{channel}'"].file, "0"))
        if channel == "blue":
            return text
        period = int(self.held.get(f"{PWM}/pwm0/period", "0") or 0)
        return int(text / period * 4096 + 0.5) if period else 0


@dataclass(slots=True)
class Lamp:
    """A lamp behind its contactor. A welded contact stays closed whatever its coil is told."""

    channel: str
    has_sensor: bool
    welded: bool = False
