"""Many schedules at once, each in a process of its own, told of in the order they were given."""

from __future__ import annotations

import io
import multiprocessing
import os
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

import click

from photoperiod.cli.streams import show_wrong_use
from photoperiod.errors import OutsideWorldError, PhotoperiodError, os_reason

#: Windows can wait for no more processes at once (documentation of `ProcessPoolExecutor`).
MOST_WORKERS = 61


def make_folder(folder: str) -> None:
    """Make a folder unless it is there."""
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutsideWorldError(
            "PHO502", f"can't make the folder '{folder}': {os_reason(error)}"
        ) from error


def targets_of(files: Sequence[str], folder: str, suffix: str) -> list[str]:
    """Return where what is made of each file goes: its own name in a folder, with a suffix."""
    if "-" in (*files, folder):
        raise click.UsageError("with several FILEs, -o names a folder, and none of them is '-'")
    names = [Path(file).stem + suffix for file in files]
    if len(set(names)) < len(names):
        raise click.UsageError("two of the FILEs would be written under one name")
    return [str(Path(folder) / name) for name in names]


def on_all_cores(work: Callable[..., int], tasks: Sequence[tuple[Any, ...]]) -> int:
    """Run tasks on all cores and return the largest of their exit codes.

    What they print comes whole and in the order of the tasks, so that the same input gives the same
    bytes. One that fails does not stop the others.
    """
    workers = min(len(tasks), os.cpu_count() or 1, MOST_WORKERS)
    spawned = multiprocessing.get_context("spawn")  # no lock or thread is taken over
    worst = 0
    with ProcessPoolExecutor(workers, mp_context=spawned) as pool:
        for out, err, code in pool.map(_run, [work] * len(tasks), tasks):
            sys.stdout.write(out)
            sys.stderr.write(err)
            worst = max(worst, code)
    return worst


def _run(work: Callable[..., int], arguments: tuple[Any, ...]) -> tuple[str, str, int]:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = work(*arguments)
        except click.ClickException as error:
            show_wrong_use(error)
            code = error.exit_code
        except PhotoperiodError as error:
            click.echo(error.told(), err=True)
            code = error.exit_code
    return out.getvalue(), err.getvalue(), code
