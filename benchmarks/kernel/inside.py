"""What `run.py` runs inside the small kernel: it makes devices, plays a day on them, and damages them.

The devices are the kernel's own simulations: gpio-sim for lines, the IIO dummy for a converter, uleds for a relay
of the class of LEDs. Times of the day come by setting the clock. Each check prints a line.
"""

from __future__ import annotations

import contextlib
import os
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from photoperiod.board.devices.lines import CharLines, LineUse  # noqa: E402

CONFIG = Path("/sys/kernel/config")
CHIP = CONFIG / "gpio-sim" / "board"
DUMMIES = CONFIG / "iio" / "devices" / "dummy"
LED = Path("/sys/class/leds/relay-blue/brightness")
HERE = Path("/run/board")

#: While it says Y, whoever sets or reads a line of the simulated chip waits in the kernel; see build.sh.
HANGS = Path("/sys/module/gpio_sim/parameters/hangs")

#: Number, name and what pulls the line, on the chip `expander`. The relay of white closes at a low line.
LINES = (
    (0, "relay-white", "pull-up"),
    (1, "mirror-blue", "pull-up"),
    (2, "spare", "pull-down"),
    (5, "twice", "pull-down"),
    (6, "twice", "pull-down"),
)

BOARD = """\
board: 1
state_folder: state
runtime_folder: run
log: {folder: log, every_seconds: 1}
clock: {trust: later}
channels:
  blue:
    output: {kind: iio, device: dac-blue, channel: 0}
    relay: {kind: led, name: relay-blue}
    sense:
      contact: {line: mirror-blue, closed: 0}
  white:
    output: {kind: iio, device: dac-white, channel: 0}
    relay: {kind: gpio, line: relay-white, active_low: true}
"""

#: The date of the table, 2027-03-02. [Unix seconds, s]
MIDNIGHT, HOUR = 1_803_945_600, 3600

#: The table that `run.py` made; a lit day from 09:00 to 21:00.
TABLE = Path(os.environ["BOARD_TABLE"])

#: Longest wait for anything [s]: without hardware help the kernel is slow.
PATIENCE_S = 600.0

failed: list[str] = []


def code(count: int) -> int:
    """Return the 12-bit code of a per cent of 10 V: the largest that gives no more."""
    return min(round(count / 100 * 4096), 4095)


def check(what: str, is_so: object) -> None:
    """Print what was looked at, and whether it is so."""
    if not is_so:
        failed.append(what)
    print(f"{'ok    ' if is_so else 'FAILED'} {what}", flush=True)


def soon(what: str, holds: Callable[[], Any], within_s: float = PATIENCE_S) -> bool:
    """Check that something holds within a time; print how long it took."""
    began_s = time.monotonic()
    found = False
    while not found and time.monotonic() - began_s < within_s:
        with contextlib.suppress(OSError, ValueError):
            found = bool(holds())
        if not found:
            time.sleep(0.05)
    check(f"{what} ({time.monotonic() - began_s:.1f} s)", found)
    return found


def set_clock(hour: float) -> None:
    """Set the clock to a time of the day of the table."""
    time.clock_settime(time.CLOCK_REALTIME, MIDNIGHT + hour * HOUR)


# ---- devices


def make_chip() -> None:
    """Make the chip of the lines."""
    bank = CHIP / "bank0"
    bank.mkdir(parents=True)
    (bank / "num_lines").write_text("8")
    (bank / "label").write_text("expander")
    for number, name, _ in LINES:
        line = bank / f"line{number}"
        line.mkdir()
        (line / "name").write_text(name)
    plug_chip(True)


def plug_chip(is_there: bool) -> None:
    """Bring the chip, with its resistors, or take it away while it is in use."""
    (CHIP / "live").write_text("1" if is_there else "0")
    if is_there:
        for number, _, pull in LINES:
            sim(number, "pull").write_text(pull)


def sim(number: int, leaf: str = "value") -> Path:
    """Return a file of the simulated chip, which sees a line from outside."""
    device = (CHIP / "dev_name").read_text().strip()
    chip = (CHIP / "bank0" / "chip_name").read_text().strip()
    return Path(f"/sys/devices/platform/{device}/{chip}/sim_gpio{number}/{leaf}")


def is_high(number: int) -> bool:
    """Return True if a line is high."""
    return sim(number).read_text().strip() == "1"


def make_led() -> int:
    """Make an entry in the class of LEDs; it lives as long as the file is open. Source: uapi/linux/uleds.h."""
    number = os.open("/dev/uleds", os.O_RDWR)
    os.write(number, struct.pack("64si", b"relay-blue", 255))
    return number


def raw(device: str) -> Path:
    """Return the file of a converter's code."""
    for folder in Path("/sys/bus/iio/devices").iterdir():
        if (folder / "name").read_text().strip() == device:
            return folder / "out_voltage0_raw"
    raise OSError(f"no {device}")


def codes() -> tuple[int, int]:
    """Return the codes of both converters."""
    return int(raw("dac-blue").read_text()), int(raw("dac-white").read_text())


def relays() -> tuple[bool, bool]:
    """Return whether the relays are closed: of blue as the LED says, of white as its line is."""
    return LED.read_text().strip() != "0", not is_high(0)


def follow_contact() -> None:
    """Have the mirror contact of blue follow its relay, as a contactor does; closed is low."""
    sim(1, "pull").write_text("pull-down" if relays()[0] else "pull-up")


# ---- players


class Player:
    """A player in a process of its own, and what it says."""

    made = 0

    def __init__(self, board: Path, stdout: Any = subprocess.DEVNULL) -> None:
        Player.made += 1
        self.file = HERE / f"said{Player.made}"
        with self.file.open("w") as stream:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "photoperiod", "run", str(HERE / "table.json"), "--board", str(board)],
                stdout=stdout, stderr=stream, cwd=ROOT,
            )  # fmt: skip

    def said(self, *words: str) -> bool:
        """Return True if it has said a line with all these words."""
        lines = self.file.read_text().splitlines()
        return any(all(word in line for word in words) for line in lines)

    def end(self, number: signal.Signals) -> int:
        """Send a signal, and return the exit code."""
        began_s = time.monotonic()
        self.process.send_signal(number)
        while self.process.poll() is None and time.monotonic() - began_s < PATIENCE_S:
            follow_contact()  # a contactor opens at once
            time.sleep(0.02)
        found = self.process.wait(1)
        print(f"       it took {time.monotonic() - began_s:.1f} s to end")
        return found


def command(*words: str) -> str:
    """Run another command on the board, and return what it says."""
    line = [sys.executable, "-m", "photoperiod", *words, "--board", str(HERE / "board.yaml")]
    done = subprocess.run(line, capture_output=True, text=True, check=False, cwd=ROOT)
    return done.stdout + done.stderr


def holder(name: str) -> str | None:
    """Return who has a line, by the kernel."""
    return next(line.holder for line in CharLines().find() if line.name == name)


def board_with(name: str, old: str, new: str) -> Path:
    """Write another board file with folders of its own."""
    assert old in BOARD
    path = HERE / name
    path.mkdir()
    (path / "board.yaml").write_text(BOARD.replace(old, new))
    return path / "board.yaml"


# ---- what is looked at


def lit() -> bool:
    """Return True if both lamps have their steady level."""
    follow_contact()
    return relays() == (True, True) and codes() == (code(80), code(80))


def dark() -> bool:
    """Return True if both relays are open."""
    follow_contact()
    return relays() == (False, False)


def a_start() -> Player:
    """A player begins at midday: everything is dark, and rises softly."""
    set_clock(12)
    player = Player(HERE / "board.yaml")
    if not soon("both relays close", lambda: relays() == (True, True)):
        raise RuntimeError("there is no player to look at")
    first = codes()
    follow_contact()
    check(f"light begins near the floor: codes {first}", code(10) <= max(first) <= code(30))
    check(
        "white's line is held by the player",
        holder("relay-white") == f"photoperiod {player.process.pid}",
    )
    check(
        "blue's contact is held by the player",
        holder("mirror-blue") == f"photoperiod {player.process.pid}",
    )
    soon("both lamps rise to 80 %", lit)
    return player


def a_day(player: Player) -> None:
    """Dusk, night and dawn, by setting the clock."""
    set_clock(20 + 59.9 / 60)
    soon("dusk: both relays open at 21:00:00", dark)
    check(f"at {clock()} the codes are {codes()}", codes() == (0, 0))
    set_clock(8 + 59.9 / 60)
    soon("dawn: both relays close at 09:00:00", lambda: relays() == (True, True))
    check("not before 09:00", time.gmtime()[3:5] == (9, 0))
    set_clock(12)
    soon("midday again", lit)


def from_outside(player: Player) -> None:
    """What something else sets is seen, told and set back."""
    LED.write_text("0")
    soon("blue's relay was opened from outside: it closes again", lambda: relays()[0])
    soon("and that is told", lambda: player.said("PHO512", "relay of 'blue'"))
    raw("dac-white").write_text("4095")
    soon(
        "white's converter was set to 4095: it gets its code again", lambda: codes()[1] == code(80)
    )
    soon("and that is told", lambda: player.said("PHO512", "output of 'white'", "4095"))
    sim(1, "pull").write_text("pull-up")
    soon("blue's contact says open: alarm", lambda: player.said("PHO513", "line mirror-blue"))
    follow_contact()
    soon("and it is over", lambda: player.said("over", "PHO513"))
    soon("all is as planned", lit)


def hold_and_release(player: Player) -> None:
    """A person holds the lamps."""
    command("hold")
    soon("hold: both relays open", dark)
    soon("and that is told after it was seen", lambda: player.said("held: the lamps are off"))
    command("release")
    soon("release: both lamps burn again", lit)


def two_players(player: Player) -> None:
    """A second player with folders of its own: the kernel gives it no line, and we no converter."""
    other = Player(board_with("second", "dac-blue", "dac-spare"))
    words = (f"is taken by 'photoperiod {player.process.pid}', another player",)
    soon("a second player is told who has the line", lambda: other.said("relay of 'white'", *words))
    soon(
        "and that another drives the converter",
        lambda: other.said("output of 'white'", "another player drives"),
    )
    code_ = other.end(signal.SIGTERM)
    check(f"it ends with 4, since it can't make white dark: {code_}", code_ == 4)
    check("the first one's lamps did not move", lit())


def wrong_names(player: Player) -> None:
    """Lines that do not exist, and lines that share a name."""
    other = Player(board_with("typo", "line: relay-white", "line: relay-whit"))
    soon(
        "a wrong name gets the right one",
        lambda: other.said("no line 'relay-whit'", "did you mean 'relay-white'"),
    )
    other.end(signal.SIGTERM)
    other = Player(board_with("twice", "line: relay-white", "line: twice"))
    soon(
        "a name of two lines shows both",
        lambda: other.said("line 5 of gpiochip", "line 6 of gpiochip"),
    )
    check("and the player does not start", other.process.wait(PATIENCE_S) == 4)
    use = LineUse(consumer="a pump", is_output=True)
    lines = CharLines()
    number = next(line for line in lines.find() if line.name == "spare")
    lines.take(number.chip, number.offset, use)
    other = Player(board_with("pump", "line: relay-white", "line: spare"))
    soon("a line of another program names it", lambda: other.said("is taken by 'a pump'"))
    other.end(signal.SIGTERM)
    check("the first one's lamps did not move", lit())


def what_vanishes(player: Player) -> None:
    """Drivers are unbound under the player."""
    plug_chip(False)
    soon("the chip of the lines is gone: told", lambda: player.said("PHO507", "relay of 'white'"))
    soon("its contact, too", lambda: player.said("PHO507", "line mirror-blue"))
    check("blue burns on", relays_blue() and codes()[0] == code(80))
    plug_chip(True)
    soon("it is back: found by its name, and the lamp burns again", lit)
    (DUMMIES / "dac-blue").rmdir()
    soon("blue's converter is gone: told", lambda: player.said("PHO507", "output of 'blue'"))
    check("white burns on", codes_white() == code(80) and not is_high(0))
    (DUMMIES / "dac-blue").mkdir()
    soon("it is back, and blue rises to 80 %", lit)


def a_line_that_hangs(player: Player) -> Player:
    """The chip of the lines hangs, as one behind a stuck bus: no signal ends who waits for it."""
    HANGS.write_text("Y")
    soon("white's line hangs: told", lambda: player.said("PHO507", "relay of 'white'", "it hangs"))
    soon("its contact, too", lambda: player.said("PHO507", "line mirror-blue", "it hangs"))
    soon("the writer waits in the kernel", lambda: writers(player, "relay of 'white'") == ["D"])
    check("both lamps burn on", relays() == (True, True) and codes() == (code(80), code(80)))
    set_clock(20 + 59.9 / 60)
    soon("dusk: blue's relay opens, as if nothing was wrong", lambda: not relays_blue())
    check(f"at {clock()}", time.gmtime()[3:5] == (21, 0) and time.gmtime().tm_sec <= 3)
    soon("white's converter goes to 0", lambda: codes() == (0, 0))
    check("white's relay can't be opened", not is_high(0))
    time.sleep(40)
    check(
        "40 s later, killed, it still waits, and no second one does",
        writers(player, "relay of 'white'") == ["D"],
    )
    HANGS.write_text("N")
    soon("the chip answers again: white's relay opens", dark)
    set_clock(12)
    soon("midday again: both lamps burn", lit)
    check("by one new writer", len(writers(player, "relay of 'white'")) == 1)
    soon("and that it is over is told", lambda: player.said("over", "PHO507", "white"))
    HANGS.write_text("Y")
    soon("the chip hangs again", lambda: writers(player, "relay of 'white'") == ["D"])
    began_s = time.monotonic()
    check(f"SIGTERM now ends with 4: {player.end(signal.SIGTERM)}", player.process.poll() == 4)
    check("within five seconds and a little", time.monotonic() - began_s < 7)
    check("and it is said which lamp may burn", player.said("'white' may burn", "it hangs"))
    HANGS.write_text("N")
    soon("the chip answers again: the line is let go", lambda: holder("relay-white") is None)
    check("and its resistor opens the relay", is_high(0))
    player = Player(HERE / "board.yaml")
    soon("a new player lights both lamps", lit)
    return player


def writers(player: Player, device: str) -> list[str]:
    """Return the states of the processes that touch a device for a player. Source: proc(5), stat."""
    found = []
    for path in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            after_name = (path / "stat").read_text().rpartition(")")[2].split()
            words = (path / "cmdline").read_text().split("\0")
            # One that is dying has no command line any more, and no device either.
            if int(after_name[1]) == player.process.pid and any(device in one for one in words):
                found.append(after_name[0])
    return found


def clock() -> str:
    """Return the time of the day, for people."""
    return time.strftime("%H:%M:%S", time.gmtime())


def relays_blue() -> bool:
    """Return whether blue's relay is closed."""
    return LED.read_text().strip() != "0"


def codes_white() -> int:
    """Return the code of white."""
    return int(raw("dac-white").read_text())


def kills(player: Player) -> Player:
    """Ends by force: the kernel lets the line go, and the resistor opens the relay."""
    check(f"SIGKILL: {player.end(signal.SIGKILL)}", True)
    soon("white's line is let go", lambda: holder("relay-white") is None)
    check("and its resistor opens the relay", is_high(0))
    check("blue's relay and codes stay", relays_blue() and codes() == (code(80), code(80)))
    began_s = time.monotonic()
    player = Player(HERE / "board.yaml")
    soon("started again, white's relay closes", lambda: not is_high(0))
    white = codes_white()
    check(f"white begins below its level: {white}", white < code(40))
    check("blue never moved", codes()[0] == code(80) and relays_blue())
    soon("both lamps burn at 80 %", lit)
    print(f"       {time.monotonic() - began_s:.0f} s from start to level")
    return player


def the_end(player: Player) -> None:
    """SIGTERM at midday sets the safe state; in the night, a lamp that something lit goes off."""
    exit_code = player.end(signal.SIGTERM)
    check(f"SIGTERM ends with 0: {exit_code}", exit_code == 0)
    check("the safe state was read back, and said", player.said("stopped: the safe state is set"))
    check(
        "both relays are open, also after the line was let go",
        dark() and holder("relay-white") is None,
    )
    set_clock(23)
    LED.write_text("255")
    raw("dac-blue").write_text("4095")
    sim(0, "pull").write_text("pull-down")  # a resistor that is wired the wrong way: white burns
    check("something lights both lamps at night", relays() == (True, True))
    player = Player(HERE / "board.yaml")
    soon("a player that starts at night opens both", dark)
    check("and stops with 0", player.end(signal.SIGTERM) == 0)
    check(
        "but a wrong resistor closes white's relay when the line is let go: measure it",
        not is_high(0),
    )


LOOKS: tuple[Callable[[Player], Player | None], ...] = (
    *(a_day, from_outside, hold_and_release, two_players, wrong_names, what_vanishes),
    *(a_line_that_hangs, kills, the_end),
)


def main() -> int:
    """Look at everything, and print what failed."""
    print(f"Linux {os.uname().release}, Python {sys.version.split()[0]}")
    HERE.mkdir()
    (HERE / "board.yaml").write_text(BOARD)
    (HERE / "table.json").write_bytes(TABLE.read_bytes())
    os.utime(HERE / "table.json", (MIDNIGHT - 86_400, MIDNIGHT - 86_400))
    make_chip()
    for name in ("dac-blue", "dac-white", "dac-spare"):
        (DUMMIES / name).mkdir()
    led = make_led()
    for name in ("dac-blue", "dac-white"):
        raw(name).write_text("0")  # the dummy begins at another number
    try:
        player = a_start()
        for look in LOOKS:
            if look.__name__ in os.environ.get("BOARD_LOOK", look.__name__).split(","):
                print(f"-- {(look.__doc__ or '').strip()}", flush=True)
                player = look(player) or player
    except Exception as error:
        failed.append(f"{type(error).__name__}: {error}")
        print(failed[-1])
    if failed:
        for file in sorted(HERE.glob("said*")):
            print(f"== {file.name}\n{file.read_text()}")
    os.close(led)
    print(f"failed: {len(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
