"""``photoperiod export --board``: a folder with a whole program for a board."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from photoperiod.errors import ExportRefused
from photoperiod.text import safe

if TYPE_CHECKING:
    from photoperiod.api import Compiled
    from photoperiod.formats.wiring import Wiring

#: Boards by the kind of export that they are programmed with, clocks and outputs for levels. They stand here
#: as words, so that `--help` need not load what they mean.
BOARDS = {"c": ("atmega328p",), "micropython": ("esp32", "rp2040")}
CLOCKS = ("ds3231", "pcf8523", "network")
LEVELS = ("pwm", "mcp4725", "mcp4728")


def sketch_options(command: Callable[..., int]) -> Callable[..., int]:
    """Add ``--board``, ``--clock`` and ``--levels``; the command gets them as one ``wiring``."""

    @functools.wraps(command)
    def with_wiring(board: str | None, clock: str | None, levels: str | None, **others: Any) -> int:
        wiring = wiring_of(others["kind"], others["files"], others["output"], board, clock, levels)
        return command(wiring=wiring, **others)

    made = click.option(
        "--levels",
        type=click.Choice(LEVELS),
        help="With --board: what makes the volts. pwm: pulses into a filter; the others are converters.",
    )(with_wiring)
    made = click.option(
        "--clock",
        type=click.Choice(CLOCKS),
        help="With --board: what tells the time, a clock chip with a battery or the network.",
    )(made)
    return click.option(
        "--board",
        type=click.Choice([board for boards in BOARDS.values() for board in boards]),
        help="Write a folder with a whole program for this board, c or micropython; docs/sketch.md.",
    )(made)


def wiring_of(
    kind: str,
    files: Sequence[str],
    output: str,
    board: str | None,
    clock: str | None,
    levels: str | None,
) -> Wiring | None:
    """Return what a sketch is wanted for, None if none is; options that don't go together are wrong use."""
    if board is None:
        if clock is not None or levels is not None:
            raise click.UsageError("--clock and --levels are for a whole program: add --board")
        return None
    fits = [name for name, boards in BOARDS.items() if board in boards]
    if kind not in fits:
        raise click.UsageError(
            f"this board is programmed in {fits[0]}: export {fits[0]} --board {board}"
        )
    has_network = board != "atmega328p"
    clocks = [each for each in CLOCKS if has_network or each != "network"]
    for name, value, choices in (("clock", clock, clocks), ("levels", levels, LEVELS)):
        if value is None:
            raise click.UsageError(f"--board needs --{name} too: {', '.join(choices)}")
    if clock not in clocks:
        raise click.UsageError(
            f"this board has no network: take a clock chip, --clock {' or '.join(clocks)}"
        )
    if len(files) > 1 or output == "-":
        raise click.UsageError("--board is for one FILE, and -o names its folder")

    from photoperiod.formats.wiring import Board, LevelOutput, TimeSource, Wiring

    assert clock is not None and levels is not None
    return Wiring(Board(board), TimeSource(clock), LevelOutput(levels))


def put_sketch(wiring: Wiring, outcome: Compiled, output: str) -> None:
    """Write the folder of a sketch, and say what was written and what a person must know.

    Raises
    ------
    ExportRefused
        If the board or its parts can't play the table; then nothing was written.
    """
    from photoperiod.cli.parallel import make_folder
    from photoperiod.formats.contents import contents_of
    from photoperiod.formats.image import ImageFault
    from photoperiod.formats.sketch import render
    from photoperiod.formats.sketch_folder import write_sketch
    from photoperiod.formats.table_image import image_of

    contents = contents_of(outcome.program, outcome.report.sorted())
    try:
        sketch = render(wiring, image_of(contents), contents.about)
    except ImageFault as fault:
        raise ExportRefused(
            f"can't write this table for {wiring.board}: {fault}; nothing was written"
        ) from fault
    make_folder(output)
    done = write_sketch(Path(output), sketch)
    click.echo(safe(f"wrote {', '.join(done.written)} to {output}"), err=True)
    pins = sketch.pins[0]
    for name in done.kept:
        whose = (
            "it is yours"
            if name == pins
            else "it was changed by hand, and may be for another clock or other levels; move it away to get"
            " the new one"
        )
        click.echo(f"left {name} as it is: {whose}", err=True)
    for line in sketch.told:
        click.echo(line, err=True)
    if pins in done.written:
        click.echo(f"next: write your pins into {pins}; docs/sketch.md says the steps", err=True)
