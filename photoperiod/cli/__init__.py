"""The command line: read options, call the pipeline, print, choose the exit code."""

from __future__ import annotations

import gc
import os
import sys

import click

from photoperiod.cli.main import cli
from photoperiod.cli.streams import safe_streams, show_bug, show_wrong_use
from photoperiod.cli.terminal import prepare
from photoperiod.cli.termination import tidied_when_terminated
from photoperiod.errors import PhotoperiodError, os_reason

#: New objects before Python looks for garbage among them; 700 if not told. The imports of a command make
#: some 60,000 that all stay, and looking through them ninety times takes a twentieth of a `check`.
GARBAGE_EVERY = 10_000


def main() -> None:
    """Run the command line and exit: 0, 1 findings, 2 use, 3 a bug, 4 outside world, 130; or by SIGTERM."""
    gc.set_threshold(GARBAGE_EVERY)
    for stream in (sys.stdout, sys.stderr):
        prepare(stream)
    with tidied_when_terminated(), safe_streams():
        code = _run()
    # Else Python looks for garbage among all that is left before it throws it away.
    gc.freeze()
    sys.exit(code)


def _run() -> int:
    try:
        code = cli.main(prog_name="photoperiod", standalone_mode=False)
        if sys.stdout is not None:  # it may have been closed
            sys.stdout.flush()
        return int(code or 0)
    except click.exceptions.Exit as error:
        return error.exit_code
    except click.Abort:
        click.echo("interrupted", err=True)
        return 130
    except click.ClickException as error:
        show_wrong_use(error)
        return 2
    except PhotoperiodError as error:
        click.echo(error.told(), err=True)
        return error.exit_code
    except OSError as error:
        # Files are answered for where they are opened: what is left is standard output. Point it
        # to nowhere, or Python would complain once more when it exits.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(error, BrokenPipeError):
            click.echo(f"error: can't write to standard output: {os_reason(error)}", err=True)
        return 4
    except KeyboardInterrupt:
        return 130
    except Exception as error:
        return show_bug(error)
