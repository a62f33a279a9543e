"""``photoperiod run``, ``hold`` and ``release``: a player for a Linux board."""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import EXIT_FINDINGS, print_report
from photoperiod.cli.rehearsal import read_board_file, rehearsal_options, rehearse_table
from photoperiod.errors import WrongUse
from photoperiod.text import utc_text

if TYPE_CHECKING:
    import datetime as dt

#: So long a line waits for whoever reads them [s], and no more of it is shown [characters]: a pipe that
#: takes a line takes 4096 bytes.
SAY_LIMIT_S, MOST_SAID = 0.2, 1000

board_option = click.option(
    "--board",
    "board_name",
    required=True,
    metavar="FILE",
    help="The board file (YAML): output and relay of each channel.",
)


@click.command("run")
@click.argument("table")
@click.option(
    "--board",
    "board_name",
    metavar="FILE",
    help="The board file (YAML): output and relay of each channel.",
)
@rehearsal_options
def run_command(
    table: str, board_name: str | None, speed: float | None, at: dt.datetime | dt.time | None
) -> int:
    """Play TABLE on a Linux board, day and night.

    TABLE is a `table.json`, or a file that `export` wrote as json, csv or binary. If you replace the
    file, the player takes the new table by itself, or at once after SIGHUP. SIGTERM sets the safe
    state and ends with exit code 0, SIGINT with 130; with 4 if a lamp may still burn. `docs/board.md`
    explains the setup.

    With --speed or --at it is a rehearsal: a day is printed, fast or from that time on, and no device is
    touched.

    Software off is no isolation: unplug before you touch lamps or their wires.
    """
    if speed is not None or at is not None:
        return rehearse_table(table, board_name, speed, at)
    if board_name is None:
        raise click.UsageError(
            "say with --board what the outputs are, or rehearse with --speed 600"
        )
    if "-" in (table, board_name):
        raise click.UsageError("a player reads its files again and again; '-' is not a file")
    refuse_other_systems("run", "`photoperiod run TABLE --speed 600` rehearses a day here")

    from photoperiod.board.alarm_hook import AlarmHook
    from photoperiod.board.assemble import first_table, start_player
    from photoperiod.board.child_files import ChildDisk, ChildWriters
    from photoperiod.board.state_store import StateStore
    from photoperiod.board.surroundings import Surroundings
    from photoperiod.board.system import LinuxSystem
    from photoperiod.board.table_file import TableFile
    from photoperiod.board.worker import Patience

    board_file = read_board_file(board_name)
    config = board_file.config
    if config is None:
        print_report(board_file, sys.stderr, "auto", show_all=False)
        return EXIT_FINDINGS
    system = LinuxSystem()
    patience = Patience()
    disk = ChildDisk(patience, config.runtime_folder)
    store = StateStore(config.state_folder, disk, config.runtime_folder)
    store.lock()
    hook = None
    if config.alarm_hook is not None:
        hook = AlarmHook(config.alarm_hook.command, config.alarm_hook.limit_s, _say)
    around = Surroundings(
        config=config,
        file=TableFile(Path(table), store.disk),
        store=store,
        system=system,
        writers=ChildWriters(config.sysfs, patience),
        stream=sys.stdout,
        broker=None,
        say=_say,
        hook=hook,
    )
    loaded, refused = first_table(board_file, around)
    if loaded is None or len(list(board_file.report)):
        print_report(board_file, sys.stderr, "auto", show_all=False)
    if loaded is None:
        return EXIT_FINDINGS
    player = start_player(around, loaded, refused)
    name = f"'{table}'" if refused is None else f"the last good table, not '{table}',"
    _say(f"plays {name} on {', '.join(player.channels)}")
    return player.run()


@click.command("hold")
@board_option
@click.option(
    "--why", default="", metavar="TEXT", help="The reason, for the person who finds the lamps off."
)
def hold_command(board_name: str, why: str) -> int:
    """Keep the lamps of a board off until `release`, through restarts and new tables.

    This is no isolation: unplug before you touch lamps or their wires.
    """
    refuse_other_systems("hold", "type it on the board")

    from photoperiod.board.state_store import StateStore

    file = read_board_file(board_name)
    if file.config is None:
        print_report(file, sys.stderr, "auto", show_all=False)
        return EXIT_FINDINGS
    store = StateStore(file.config.state_folder, runtime=file.config.runtime_folder)
    since = utc_text(time.time())
    held = store.hold(f"held since {since}" + (f": {why}" if why else ""))
    if held != store.hold_file:
        click.echo(
            f"'{store.folder}' can't be written: held by '{held}', which is gone when the board restarts",
            err=True,
        )
    click.echo(
        "held: the player is told to set the lamps off; it says within ten seconds whether they are"
        if store.is_locked()
        else "held; no player runs, so the lamps stay as they are until one does"
    )
    click.echo("This is no isolation: unplug before you touch lamps or their wires.")
    return 0


@click.command("release")
@board_option
def release_command(board_name: str) -> int:
    """End a `hold`: the lamps of the board go on with a soft start."""
    refuse_other_systems("release", "type it on the board")

    from photoperiod.board.state_store import StateStore

    file = read_board_file(board_name)
    if file.config is None:
        print_report(file, sys.stderr, "auto", show_all=False)
        return EXIT_FINDINGS
    store = StateStore(file.config.state_folder, runtime=file.config.runtime_folder)
    was_held = store.release()
    click.echo("released" if was_held else "was not held")
    return 0


def refuse_other_systems(command: str, way_out: str) -> None:
    """Raise, before anything is imported that only Linux has, if this is another system."""
    if not sys.platform.startswith("linux"):
        raise WrongUse(
            f"`{command}` is for Linux boards, and this system is {sys.platform}; {way_out}"
        )


def _say(text: str) -> None:
    """Show one line of text. If nobody can read it any more, or does, the lamps must go on."""
    from photoperiod.board.streams import takes_a_line
    from photoperiod.text import safe

    with contextlib.suppress(OSError, ValueError):
        if takes_a_line(sys.stderr, SAY_LIMIT_S):
            click.echo(safe(text)[:MOST_SAID], err=True)
