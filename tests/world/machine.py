"""The simulated board: its clocks, the effects of the player, and a process that can end anywhere.

Time passes only while the player waits. It waits as the real one does, for a step or two after each change;
then the world jumps to the next moment at which something can change.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import signal
from collections import Counter, deque
from collections.abc import Generator
from pathlib import Path

from photoperiod.board.assemble import first_table, start_player
from photoperiod.board.board_file import BoardFile
from photoperiod.board.devices.sysfs import NoWriters
from photoperiod.board.override import Override, as_json, override_file
from photoperiod.board.player import Player
from photoperiod.board.state_store import StateStore
from photoperiod.board.surroundings import Surroundings
from photoperiod.board.table_file import TableFile
from photoperiod.diagnostics.model import Report
from photoperiod.errors import OutsideWorldError
from tests.board.bench import MIDNIGHT
from tests.world.boards import BLUE, SECOND, SENSES, board_of
from tests.world.broker import Listener, Server, WorldBroker
from tests.world.disk import Card, WorldDisk, lose_power
from tests.world.kernel import CONTACT, LUX, Lamp, Part, WorldKernel
from tests.world.known import ByHand
from tests.world.laws import Laws
from tests.world.plan import Plan, make_plan
from tests.world.wrong import PowerCut, ProcessEnd, Violation

#: So many steps after a change come one after the other, as on a board; then the world jumps.
DENSE_STEPS = 5

#: The world never jumps further than this. [s]
MOST_JUMP_S = 10_000.0

#: The last step of a jump comes at least so long before what comes next: a lamp that rises behind a broker
#: has what was right until then. [s]
STEP_BEFORE_S = 0.01

#: The service manager starts a player again after this pause, unless the story says otherwise. [s]
RESTART_S = 10.0

Story = Generator[float, None, None]


class World:
    """A board, its lamps, its keeper and its bad luck.

    Parameters
    ----------
    seed : int
        Everything follows from it.
    folder : Path
        An empty folder.
    """

    def __init__(self, seed: int, folder: Path) -> None:
        self.seed, self.folder = seed, folder
        self.chance = random.Random(seed)
        self.true_unix = MIDNIGHT + self.chance.randrange(86_400) + 0.25
        self.offset_s = self.drift = 0.0
        self.boot, self.boots = 50.0, 0
        self.is_synced: bool | None = True
        self.has_battery = False
        self.steps = 0
        self.history: deque[str] = deque(maxlen=40)
        self.said: list[tuple[int, str]] = []
        self.fuse: int | None = None
        self.ending: type[ProcessEnd] = ProcessEnd
        self.end_now = False
        self.signal: signal.Signals | None = None
        self.down_s = RESTART_S
        self.after_power = "synced"
        self.is_stopping = self.is_over = False
        self.player: Player | None = None
        self.story: Story | None = None
        self.resume_boot = self.boot
        self.quiet = 0
        self.late_s = 0.0
        self.is_held = False
        self.kills_left = 0
        self.jumped_s = 0.0
        self.ends: Counter[str] = Counter()
        self._build()
        self.laws = Laws(self)

    def _build(self) -> None:
        self.second = self.chance.choice(("local", "remote"))
        has_sensors = self.chance.random() < 0.7
        text = BLUE.replace("SENSE", SENSES if has_sensors else "") + SECOND[self.second]
        remote = self.second == "remote"
        text = text.replace(
            "BROKER", "broker: {host: h, topic: reef, table_topic: t}\n" if remote else ""
        )
        self.lamps = [Lamp("blue", has_sensors), Lamp("white", False)]
        self.kernel = WorldKernel(self.effect, self._wrote, self.pass_s)
        self.kernel.build(self.second, lets_go=self.seed % 2 == 1)
        self.kernel.held |= {CONTACT: "0", LUX: "0"}
        self.card = Card(self.chance)
        self.server = (
            Server(self.boot_total, self.chance, Listener(self.boot_total)) if remote else None
        )
        self.board_text = text
        self.path = self.folder / "board.yaml"
        self.path.write_text(text, encoding="utf-8")
        self.plans: dict[bytes, Plan] = {}
        self.table = self.folder / "table.json"
        self.plan = self.new_plan()
        self.put_table(self.plan.raw)

    def new_plan(self, span: tuple[str, str] | None = None) -> Plan:
        """Return a plan that the world knows, whether or not it is played."""
        plan = make_plan(self.chance, ("blue", "white"), span=span)
        self.plans[plan.raw] = plan
        return plan

    def put_table(self, raw: bytes) -> None:
        """Put a table in its place, as a person does."""
        if self.table.exists() and not self.table.is_file():
            self.table.unlink()
        self.table.write_bytes(raw)
        self.card.written_ns[self.table] = int(self.shown * 1e9)

    def table_is_right(self, raw: bytes) -> None:
        """Say which table is the right one from now on."""
        self.laws.expect_table(raw)

    # ---- the keeper

    def set_held(self, is_held: bool) -> None:
        """Say whether a person holds the lamps from now on."""
        self.is_held = self.laws.is_held = is_held
        self.laws.held_steps = 0

    def _store(self) -> StateStore:
        """Return the folder of the player, as the commands of a keeper reach it."""
        disk = WorldDisk(self.card, lambda _: None, lambda: self.shown, lambda *_: None)
        return StateStore(self.folder / "state", disk, self.folder / "run")

    def keeper_holds(self) -> None:
        """Do what `photoperiod hold` does."""
        try:
            self._store().hold("the world")
        except OutsideWorldError as error:
            self.history.append(f"{self.boot:.2f} hold: {error}")
        else:
            self.history.append(f"{self.boot:.2f} the keeper holds")
            self.set_held(True)

    def keeper_releases(self) -> None:
        """Do what `photoperiod release` does; a folder in the place of the hold is removed, too."""
        try:
            self._store().release()
        except OutsideWorldError as error:
            self.history.append(f"{self.boot:.2f} release: {error}")
        else:
            self.history.append(f"{self.boot:.2f} the keeper releases")
            self.set_held(False)

    def keeper_overrides(self, minutes: int, light_percent: float) -> None:
        """Do what `photoperiod override` does for all channels."""
        override = Override(
            boot_id=WorldSystem(self).boot_id,
            from_boot_s=self.boot,
            from_unix_s=self.shown,
            minutes=minutes,
            light_percent={lamp.channel: light_percent for lamp in self.lamps},
        )
        try:
            self._store().disk.replace(override_file(self.folder / "state"), as_json(override))
        except OSError as error:
            self.history.append(f"{self.boot:.2f} override: {error}")
            return
        self.history.append(f"{self.boot:.2f} the keeper gives light by hand, {light_percent:g} %")
        self.laws.by_hand_before = self.laws.by_hand_before or self.laws.by_hand
        self.laws.by_hand = ByHand(self.boot_total(), minutes * 60.0, light_percent > 0)

    def keeper_ends_override(self) -> None:
        """Do what `photoperiod override --end` does."""
        with contextlib.suppress(OSError):
            self._store().disk.remove(override_file(self.folder / "state"))

    def set_clock_right(self) -> None:
        """The network comes, and sets the clock."""
        self.offset_s = self.drift = 0.0
        self.is_synced = True

    # ---- time

    @property
    def shown(self) -> float:
        """The time that the board's clock shows. [Unix seconds]"""
        return self.true_unix + self.offset_s

    def boot_total(self) -> float:
        """Return seconds that nobody can set, not even by a restart. [s]"""
        return self.true_unix

    def pass_s(self, seconds: float) -> None:
        """Let time pass."""
        self.true_unix += seconds
        self.boot += seconds
        self.offset_s += seconds * self.drift
        self.late_s += seconds

    def sleep(self, seconds: float) -> None:
        """Let the machine sleep: its clock goes on, and no process runs."""
        self.pass_s(seconds)
        self.laws.slept(seconds)

    # ---- effects

    def effect(self, what: str) -> None:
        """Note an effect that is about to happen; the process may end before it."""
        if self.fuse is not None or not what.startswith(("sync", "append")):
            self.history.append(f"{self.boot:.2f} {what}")
        if self.fuse is not None:
            self.fuse -= 1
            if self.fuse < 0:
                self.fuse = None
                self.history.append(f"{self.boot:.2f} {self.ending.__name__} before that")
                raise self.ending

    def _wrote(self, part: Part, before: str, after: str) -> None:
        self.laws.wrote(part, before, after)

    def _logged(self, path: Path, lines: bytes) -> None:
        if path.name.startswith("run-"):
            self.laws.logged(lines)

    def say(self, text: str) -> None:
        """Hear what the player says."""
        self.history.append(f"{self.boot:.2f} said: {text}")
        self.said.append((self.steps, text))
        self.laws.said(text)

    # ---- parts

    def part(self, kind: str, channel: str = "blue") -> Part:
        """Return the converter (``output``) or relay of a channel."""
        return self.kernel.parts[f"{kind} of '{channel}'"]

    def is_lit(self, lamp: Lamp) -> bool:
        """Return True if mains reach a lamp."""
        if lamp.channel == "white" and self.server is not None:
            return self.server.listener.is_lit
        return self.kernel.latch(lamp.channel) or lamp.welded

    def level(self, lamp: Lamp) -> float:
        """Return the count at which a lamp burns; 0 if it is dark."""
        if not self.is_lit(lamp):
            return 0.0
        if lamp.channel == "white" and self.server is not None:
            return self.server.listener.level
        return self.kernel.code(lamp.channel) / 40.96

    def sense(self) -> None:
        """Have the sensors say what is."""
        lit = self.is_lit(self.lamps[0])
        self.kernel.held[CONTACT], self.kernel.held[LUX] = str(int(lit)), "80" if lit else "0"

    # ---- the player's process

    def run(self, story: Story) -> None:
        """Play until a story is over; a process that ends is started again.

        Raises
        ------
        Violation
            If something happens that must not.
        """
        self.story, self.resume_boot = story, self.boot
        while not self.is_over:
            disk = WorldDisk(self.card, self.effect, lambda: self.shown, self._logged)
            try:
                code = self._process(disk)
                self.ends[f"exit code {code}"] += 1
            except PowerCut:
                self._lose_power()
            except ProcessEnd:
                self.ends["killed"] += 1
                if self.kills_left:
                    self.kills_left -= 1
            finally:
                disk.end()
                self.kernel.let_go()
                self.player, self.fuse, self.is_stopping = None, None, False
            self._down()

    def _process(self, disk: WorldDisk) -> int:
        self.sense()
        read = board_of(self.path, self.board_text)
        config = read.config
        assert config is not None
        store = StateStore(config.state_folder, disk, config.runtime_folder)
        broker = None if self.server is None else WorldBroker(self.server, self.effect)
        around = Surroundings(
            config=config,
            file=TableFile(self.table, disk),
            store=store,
            system=WorldSystem(self),
            writers=NoWriters(self.kernel, self.kernel.new_lines),
            stream=None,
            broker=broker,
            say=self.say,
        )
        self.broker, self.store = broker, store
        file = BoardFile(read.document, Report(config.name), config)
        try:
            store.lock()
            loaded, refused = first_table(file, around)
            if loaded is None:
                self.say(f"error: {refused}")
                self.laws.not_started("PHO506")
                return 4
            player = start_player(around, loaded, refused)
        except OutsideWorldError as error:
            self.say(f"error: {error.code} {error}")
            self.laws.not_started(error.code)
            return 4
        self.player = player
        if self.kills_left:
            self.fuse, self.down_s = self.chance.randrange(8), 1.0
        self.laws.began()
        self.quiet = 0
        try:
            code = player.run()
        except OutsideWorldError as error:
            raise Violation(f"the player ended by itself: {error}") from error
        self.laws.ended(code)
        return code

    def _lose_power(self) -> None:
        self.ends["power cut"] += 1
        lose_power(self.card)
        self.kernel.lose_power()
        shutil.rmtree(self.folder / "run", ignore_errors=True)
        if self.is_held and not (self.folder / "state" / "hold").exists():
            self.set_held(False)  # it was in memory alone, and `hold` has said so
        shown, left_s = self.shown, max(self.resume_boot - self.boot, 0.0)
        self.pass_s(self.down_s)
        self.boots, self.boot, self.down_s = self.boots + 1, 20.0, 0.0
        self.resume_boot = self.boot + left_s
        self.is_synced = self.after_power == "synced"
        self.has_battery = self.after_power == "battery"
        self.drift = self.offset_s = 0.0
        if self.after_power in ("last", "1970"):
            self.offset_s = (0.0 if self.after_power == "1970" else shown) - self.true_unix
        self.laws.power_came_back()

    def _down(self) -> None:
        """Let time pass without a player; the story goes on."""
        until, self.down_s = self.boot + self.down_s, RESTART_S
        while self.resume_boot <= until and not self.is_over:
            self._pass_until(self.resume_boot)
            self._resume()
            self.end_now, self.signal = False, None
        self._pass_until(until)
        self.laws.was_down()

    def _pass_until(self, boot: float) -> None:
        self.pass_s(max(boot - self.boot, 0.0))

    def _resume(self) -> None:
        assert self.story is not None
        self.quiet = 0
        try:
            pause_s = next(self.story)
            self.resume_boot = self.boot + pause_s
        except StopIteration:
            self.is_over = True
        if self.player is not None and self.broker is not None:
            self.broker.look()  # a line that breaks is noticed at once

    # ---- the player waits

    def wait(self, seconds: float) -> signal.Signals | None:
        """Let the world go on until the player's next step, or until a signal."""
        if self.is_stopping:
            self.pass_s(seconds)
            self.sense()
            return None
        self.steps += 1
        self.jumped_s = 0.0
        self.laws.after_step()
        self.quiet += 1
        until = self.boot + self._gap_s(seconds)
        while self.resume_boot <= until:
            self._jump_until(self.resume_boot)
            self._resume()
            if self.is_over:
                return self._stop(signal.SIGTERM)
            if self.end_now:
                self.end_now, self.fuse = False, None
                raise self.ending
            if self.signal is not None:
                number, self.signal = self.signal, None
                return self._stop(number)
            assert self.player is not None
            until = self.boot + self.player._period_s - self.shown % self.player._period_s
        self._jump_until(until)
        self._begin_step()
        player = self.player
        if player is not None and self.jumped_s > player._period_s:
            player._step_boot_s += self.jumped_s - player._period_s
        return None

    def _jump_until(self, boot: float) -> None:
        """Let time pass; what the steps that are left out would have renewed at the broker is renewed."""
        broker = self.broker
        self.jumped_s += max(boot - self.boot, 0.0)
        while broker is not None and boot - self.boot > broker.renew_every_s:
            self.pass_s(broker.renew_every_s)
            broker.look()
            if broker.is_connected:
                broker.renew()
        self._pass_until(boot)

    def _stop(self, number: signal.Signals) -> signal.Signals:
        self.is_stopping = number != signal.SIGHUP
        self._begin_step()
        return number

    def _begin_step(self) -> None:
        self.late_s = 0.0
        self.sense()
        if self.broker is not None:
            self.broker.look()
        self.laws.step_begins()

    def _gap_s(self, seconds: float) -> float:
        """Return how long the player waits, jump and all. [s]

        In the steps that are left out nothing would have happened: no row, no fault, no keeper. Only the time
        of the last step is moved, so that the player does not take the jump for a sleep of the machine.
        """
        player = self.player
        assert player is not None
        dense = DENSE_STEPS if self.server is None else DENSE_STEPS + 3
        further = self.quiet - dense
        if further <= 0:
            return seconds
        period = player._period_s
        row_s = self.plans[player.loaded.raw].next_row_s(self.shown)
        most_s = (
            MOST_JUMP_S if not self.drift else MOST_JUMP_S / 4
        )  # a clock that drifts is not stepped
        left_s = self.resume_boot - self.boot - STEP_BEFORE_S
        gap = min(period * 4.0 ** min(further, 6), most_s, row_s, left_s)
        gap = seconds + max(int(gap - seconds) // period, 0) * period
        if gap >= row_s - 1:
            self.quiet = dense - 1
        settles = not player.clock.is_trusted and self.is_synced
        if settles or (self.server is not None and (self.server.delays or self.server.loses)):
            gap = min(gap, seconds)
        return gap


class WorldSystem:
    """The machine of the world; see `photoperiod.board.system.System`."""

    def __init__(self, world: World) -> None:
        self.world = world

    @property
    def boot_id(self) -> str:
        return f"start {self.world.boots}"

    def unix_s(self) -> float:
        return self.world.shown

    def boot_s(self) -> float:
        return self.world.boot

    def is_synchronised(self) -> bool | None:
        return self.world.is_synced

    def has_battery_clock(self) -> bool:
        return self.world.has_battery

    def wait(self, seconds: float) -> int | None:
        return self.world.wait(seconds)

    def sleep(self, seconds: float) -> None:
        self.world.wait(seconds)

    def tell_service(self, state: str) -> None:
        pass
