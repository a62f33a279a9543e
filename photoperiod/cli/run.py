"""``photoperiod run``, ``hold`` and ``release``: a player for a Linux board."""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import EXIT_FINDINGS, print_report, read_file
from photoperiod.text import utc_text

if TYPE_CHECKING:
    from photoperiod.board.config import BoardFile

board_option = click.option(
    "--board", "board_name", required=True, metavar="FILE", help="What the board drives, as YAML."
)


@click.command("run")
@click.argument("table")
@board_option
def run_command(table: str, board_name: str) -> int:
    """Play TABLE on a Linux board, day and night.

    TABLE is a `table.json`, or what `export` wrote as json, csv or binary. A newer one in its place
    is taken up by itself, or at once by SIGHUP. SIGTERM sets the safe state and ends with exit code
    0, SIGINT with 130. `docs/board.md` tells how to set it up.

    Software off is no isolation: unplug before you touch lamps or their wires.
    """
    if "-" in (table, board_name):
        raise click.UsageError("a player reads files again and again; '-' is none")

    from photoperiod.board.assemble import first_table, player
    from photoperiod.board.state_store import StateStore
    from photoperiod.board.system import Linux
    from photoperiod.board.table_file import TableFile

    found = _board(board_name)
    board = found.board
    if board is None:
        print_report(found, sys.stderr, "auto", show_all=False)
        return EXIT_FINDINGS
    world = Linux()
    keep = StateStore(board.state_folder)
    keep.make()
    keep.lock()
    file = TableFile(Path(table))
    loaded, refused = first_table(found, board, file, keep, _say)
    if loaded is None or len(list(found.report)):
        print_report(found, sys.stderr, "auto", show_all=False)
    if loaded is None:
        return EXIT_FINDINGS
    made = player(
        board=board,
        file=file,
        loaded=loaded,
        refused=refused,
        keep=keep,
        world=world,
        stream=sys.stdout,
        say=_say,
    )
    what = f"'{table}'" if refused is None else f"the last good table, not '{table}',"
    _say(f"plays {what} on {', '.join(made.lines)}")
    return made.run()


@click.command("hold")
@board_option
@click.option("--why", default="", metavar="TEXT", help="A word for whoever finds the lamps off.")
def hold_command(board_name: str, why: str) -> int:
    """Keep the lamps of a board off, across restarts and new tables, until `release`.

    This is no isolation: unplug before you touch lamps or their wires.
    """
    from photoperiod.board.state_store import StateStore

    found = _board(board_name)
    if found.board is None:
        print_report(found, sys.stderr, "auto", show_all=False)
        return EXIT_FINDINGS
    keep = StateStore(found.board.state_folder)
    since = utc_text(time.time())
    keep.hold(f"held since {since}" + (f": {why}" if why else ""))
    click.echo(
        "held: the player sets the lamps off within ten seconds"
        if keep.is_locked()
        else "held; no player runs, so the lamps stay as they are until one does"
    )
    click.echo("This is no isolation: unplug before you touch lamps or their wires.")
    return 0


@click.command("release")
@board_option
def release_command(board_name: str) -> int:
    """Let the lamps of a board go on after `hold`, by a soft start."""
    from photoperiod.board.state_store import StateStore

    found = _board(board_name)
    if found.board is None:
        print_report(found, sys.stderr, "auto", show_all=False)
        return EXIT_FINDINGS
    was_held = StateStore(found.board.state_folder).release()
    click.echo("released" if was_held else "was not held")
    return 0


def _board(name: str) -> BoardFile:
    from photoperiod.board.config import read_board

    return read_board(*read_file(name, way_out="check the name; examples/board/board.yaml is one"))


def _say(text: str) -> None:
    """Tell people something; whoever listened may be gone, and the lamps must not care."""
    from photoperiod.text import safe

    with contextlib.suppress(OSError, ValueError):
        click.echo(safe(text), err=True)
