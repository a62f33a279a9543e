"""What must hold of lamps after every step: dark in time, no brighter than planned, no quicker than soft."""

from __future__ import annotations

import math

from tests.board.bench import FLOOR
from tests.world.broker import EXPIRE_S
from tests.world.kernel import Lamp
from tests.world.known import Known
from tests.world.plan import SOFT_SLOPE, code_of

#: Whoever can reach a device again sets it within so many steps: a pause of 5 s after a failure, a look at
#: what it puts out, and the setting (docs/board.md: "tries again every five seconds").
STEPS_TO_SET = 4

#: The same for a topic: that a refusal is over is known after one message more.
STEPS_OF_A_LINE = 7

#: What a sensor says counts after 10 s (docs/board.md), and an alarm may take two steps more. [s]
SENSE_S = 31.0

#: A plan of a step a minute rises by 1.5 counts at most, and counts are whole; codes are, too. [counts]
LEAP_COUNTS = 2.1


class LampLaws(Known):
    """The laws of lamps."""

    def _local_lamp(self, lamp: Lamp, wanted: tuple[int, ...]) -> None:
        world, channel = self.world, lamp.channel
        can_switch = self.reached[f"relay of '{channel}'"] >= STEPS_TO_SET
        can_set = self.reached[f"output of '{channel}'"] >= STEPS_TO_SET
        latch, code = world.kernel.latch(channel), world.kernel.code(channel)
        is_dark = not any(wanted)
        if is_dark and can_switch:
            self.require(not latch, f"'{channel}' is planned dark, and its relay is closed")
        if is_dark and can_set:
            self.require(
                code <= 1, f"'{channel}' is planned dark, and its converter holds code {code}"
            )
        if can_set and latch:
            most = code_of(max(wanted) + 1)
            self.require(
                is_dark or code <= most, f"'{channel}' has code {code}, above the plan's {most}"
            )
        if is_dark and world.is_lit(lamp):
            self.dark_steps[channel] += 1
            self._lit_in_the_dark(lamp)
        else:
            self.dark_steps[channel] = 0
            self.weld_since_s = math.inf if channel == "blue" else self.weld_since_s

    def _lit_in_the_dark(self, lamp: Lamp) -> None:
        """A lamp burns in planned darkness: that must be out of reach, and alarmed where it can be seen."""
        world, channel = self.world, lamp.channel
        assert world.player is not None
        if not self._can_be_seen(lamp):
            return
        by_sensor = lamp.welded or world.part("relay", channel).lies
        if by_sensor:
            self.weld_since_s = min(self.weld_since_s, world.boot_total())
            if (
                world.boot_total() - self.weld_since_s < SENSE_S
                or self.steps_of_process <= STEPS_TO_SET
            ):
                return
        alarms = [text for text in world.player.alarms.texts if f"'{channel}'" in text]
        if self.dark_steps[channel] > STEPS_TO_SET:
            self.require(
                bool(alarms), f"'{channel}' burns in planned darkness, and no alarm says so"
            )

    def _remote_lamp(self, lamp: Lamp, wanted: tuple[int, ...]) -> None:
        world = self.world
        assert world.server is not None and world.player is not None
        listener = world.server.listener
        if not any(wanted) and listener.is_lit:
            self.require(
                self.line_steps < STEPS_OF_A_LINE, "'white' is planned dark, and its listener burns"
            )
            self.dark_steps["white"] += 1
        else:
            self.dark_steps["white"] = 0
        if all(wanted) and not listener.is_lit:
            self.require(
                self.line_steps < STEPS_OF_A_LINE,
                "'white' is planned lit, and its listener is dark",
            )
        if listener.is_lit and self.line_steps >= STEPS_OF_A_LINE:
            self.require(
                listener.count <= max(wanted) + 1,
                f"'white' has {listener.count}, above the plan's {wanted}",
            )
        left_s = listener.until_s - world.boot_total()
        self.require(left_s <= EXPIRE_S, "a message to a listener lives longer than it may")

    def _rises(self) -> None:
        """No lamp gets brighter faster than a soft start lets it."""
        for lamp, level, ceiling in self._ceilings():
            if self._is_in_hand(lamp):
                self.require(
                    level <= ceiling + LEAP_COUNTS,
                    f"'{lamp.channel}' rose to {level:.1f} counts, and a soft start allows {ceiling:.1f}",
                )
                self.ceiling[lamp.channel] = min(ceiling, max(level, FLOOR))
            else:
                self._follow(lamp, level, ceiling)

    def _follow(self, lamp: Lamp, level: float, ceiling: float) -> None:
        """Nobody could do anything about a lamp: animals have got what it gave."""
        self.ceiling[lamp.channel] = max(min(ceiling, max(level, FLOOR)), level)

    def _follow_out_of_reach(self) -> None:
        """What a lamp gives that was out of reach at the last step was not begun by the step that follows."""
        for lamp, level, ceiling in self._ceilings():
            if self._is_in_hand(lamp):
                self.ceiling[lamp.channel] = ceiling
            else:
                self._follow(lamp, level, ceiling)

    def _ceilings(self) -> list[tuple[Lamp, float, float]]:
        now_s = self.world.boot_total()
        gone_s, self.looked_s = now_s - self.looked_s, now_s
        found = []
        for lamp in self.world.lamps:
            ceiling = min(self.ceiling[lamp.channel] + gone_s * float(SOFT_SLOPE), 100.0)
            found.append((lamp, self.world.level(lamp), ceiling))
        return found

    def _is_in_hand(self, lamp: Lamp) -> bool:
        """Return True if the player alone decides how a lamp burns."""
        if not self._is_local(lamp):
            return True  # a listener, too, has rules
        keys = (f"relay of '{lamp.channel}'", f"output of '{lamp.channel}'")
        return all(self.reached.get(key, 0) > 0 for key in keys) and not lamp.welded
