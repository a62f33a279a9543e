"""``photoperiod override``: light by hand for some minutes, on a board that plays."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

import click

from photoperiod.cli.loading import EXIT_FINDINGS, print_report
from photoperiod.cli.options import Number
from photoperiod.cli.rehearsal import read_board_file
from photoperiod.cli.run import board_option, refuse_other_systems
from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.text import utc_text

if TYPE_CHECKING:
    from pathlib import Path

    from photoperiod.board.config import BoardConfig


@click.command("override")
@board_option
@click.option(
    "--channel",
    "channels",
    multiple=True,
    metavar="ID",
    help="A channel; can be repeated. Without it all that the board file names under `channels`.",
)
@click.option(
    "--light-percent",
    type=Number(min=0, max=100),
    metavar="PERCENT",
    help="Light relative to full; 0 is dark.",
)
@click.option("--minutes", type=click.IntRange(1, 480), help="How long, 1 to 480.")
@click.option("--end", is_flag=True, help="End it now.")
@click.option("--why", default="", metavar="TEXT", help="The reason; it stands in the alarm.")
def override_command(
    board_name: str,
    channels: tuple[str, ...],
    light_percent: float | None,
    minutes: int | None,
    end: bool,
    why: str,
) -> int:
    """Give channels of a board another light for some minutes, such as work light or dark.

    It ends by itself, also if the player or the board is started again meanwhile. No channel gets more
    than today's table gives it at most, no zone more than its most today, and light rises as softly as
    after a start. A hold and the safe state go before.

    This is no isolation: unplug before you touch lamps or their wires.
    """
    refuse_other_systems("override", "type it on the board")
    if end == (light_percent is not None or minutes is not None):
        raise click.UsageError("give --light-percent and --minutes, or --end alone")
    file = read_board_file(board_name)
    if file.config is None:
        print_report(file, sys.stderr, "auto", show_all=False)
        return EXIT_FINDINGS
    unknown = [id for id in channels if file.config.devices(id) is None]
    if unknown:
        raise click.BadParameter(f"the board file has no channel '{unknown[0]}'")
    from photoperiod.board.override import override_file

    path = override_file(file.config.state_folder)
    if end:
        return _end(path)
    if light_percent is None or minutes is None:
        raise click.UsageError("give both --light-percent and --minutes")
    wanted = dict.fromkeys(channels or file.config.channels, light_percent)
    if not wanted:
        raise click.UsageError(
            "name the channels, such as --channel blue: the board file names none under `channels`"
        )
    return _begin(file.config, wanted, minutes, why)


def _begin(config: BoardConfig, light_percent: dict[str, float], minutes: int, why: str) -> int:
    from photoperiod.board.disk import LocalDisk
    from photoperiod.board.override import Override, as_json, override_file
    from photoperiod.board.state_store import StateStore
    from photoperiod.board.system import boot_id, boot_s

    path, unix_s = override_file(config.state_folder), time.time()
    override = Override(
        boot_id=boot_id(),
        from_boot_s=boot_s(),
        from_unix_s=unix_s,
        minutes=minutes,
        light_percent=light_percent,
        why=why,
    )
    try:
        LocalDisk().make_folder(path.parent)
        LocalDisk().replace(path, as_json(override))
    except OSError as error:
        raise OutsideWorldError("PHO502", f"can't write '{path}': {os_reason(error)}") from error
    until = utc_text(int(unix_s + 60 * minutes))
    store = StateStore(config.state_folder, runtime=config.runtime_folder)
    if store.is_locked():
        click.echo(f"the player is told; it ends by itself at {until}")
    else:
        click.echo(f"no player runs; one that starts before {until} follows it until then")
    if store.is_held():
        click.echo("the lamps are held: they stay off until `photoperiod release`")
    return 0


def _end(path: Path) -> int:
    from photoperiod.board.disk import LocalDisk

    try:
        LocalDisk().remove(path)
    except FileNotFoundError:
        click.echo("there was none")
        return 0
    except OSError as error:
        raise OutsideWorldError("PHO502", f"can't remove '{path}': {os_reason(error)}") from error
    click.echo("ended: the player goes on with the table")
    return 0
