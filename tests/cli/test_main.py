from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from photoperiod import __version__
from photoperiod.cli.main import COMMANDS, cli
from tests.conftest import SCHEDULE, Run


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_of_commands_says_what_each_says_of_itself(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None and command.name == name
    assert COMMANDS[name][1] == command.get_short_help_str(limit=1000)


def test_an_unknown_command_is_none() -> None:
    assert cli.get_command(click.Context(cli), "compose") is None


def test_help_names_the_commands_and_exit_codes(run: Run) -> None:
    code, out, _ = run("--help")
    assert code == 0
    for word in ("new", "check", "compile", "explain", "schema", "Exit codes"):
        assert word in out


def test_version_says_which_kernel_is_in_use(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = run("--version")[1].splitlines()
    assert first == f"photoperiod, version {__version__}"
    assert second.startswith(("kernel: compiled", "kernel: numpy ("))
    monkeypatch.setenv("PHOTOPERIOD_KERNEL", "numpy")
    assert run("--version")[1].endswith("kernel: numpy (PHOTOPERIOD_KERNEL says so)\n")


def test_an_unknown_kernel_is_refused_with_those_there_are(
    run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PHOTOPERIOD_KERNEL", "fortran")
    path = write(SCHEDULE)
    for arguments in (("--version",), ("compile", path, "-o", path.parent / "out")):
        code, _, err = run(*arguments)
        assert code == 2
        assert "PHOTOPERIOD_KERNEL is 'fortran'; it can be 'numpy' or 'compiled'" in err
    assert not (path.parent / "out").exists()


def test_a_bug_of_ours_is_exit_code_3(
    run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    import photoperiod.program.dated_tables

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(photoperiod.program.dated_tables, "compile_program", broken)
    path = write(SCHEDULE)
    code, out, err = run("compile", path, "-o", path.parent / "out")
    assert code == 3
    assert out == ""
    assert "This is a bug in photoperiod, not in your file: ZeroDivisionError: planted" in err
    assert not (path.parent / "out").exists()


def test_module_and_script_are_the_same_program() -> None:
    command = [sys.executable, "-m", "photoperiod", "--version"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.startswith(f"photoperiod, version {__version__}\n")


def test_a_full_standard_output_is_said_plainly(write: Callable[..., Path]) -> None:
    path = write(SCHEDULE)
    command = [
        sys.executable,
        "-m",
        "photoperiod",
        "compile",
        str(path),
        "-o",
        str(path.parent / "o"),
    ]
    with open("/dev/full", "w") as full:  # noqa: PTH123
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 4
    assert done.stderr.endswith("error: can't write to standard output: no space left on device\n")


def test_a_reader_that_stops_reading_is_no_bug(write: Callable[..., Path]) -> None:
    read, back = os.pipe()
    os.close(read)
    command = [sys.executable, "-m", "photoperiod", "explain"]
    done = subprocess.run(command, stdout=back, stderr=subprocess.PIPE, text=True, check=False)
    os.close(back)
    assert "bug" not in done.stderr
    assert "Traceback" not in done.stderr


def test_help_does_not_load_what_it_does_not_need() -> None:
    probe = (
        "import sys\nfrom photoperiod.cli.main import cli\n"
        "print([m for m in ('numpy', 'yaml', 'jsonschema') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


#: Runs a command, and prints how often Python looked for garbage, and whether it still would.
GARBAGE = """
import atexit, gc, sys
looks = []
gc.callbacks.append(lambda phase, info: looks.append(phase))
atexit.register(lambda: print(looks.count("start"), gc.isenabled()))
from photoperiod.cli import main
sys.argv = ["photoperiod", "check", sys.argv[1]]
main()
"""


def test_a_command_seldom_looks_for_garbage_among_what_it_imports(
    write: Callable[..., Path],
) -> None:
    command = [sys.executable, "-c", GARBAGE, str(write(SCHEDULE))]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    looks, goes_on = done.stdout.splitlines()[-1].split()
    # Imports make some 60,000 objects: at every 700 that would be more than 80 looks.
    assert 1 <= int(looks) <= 40
    assert goes_on == "True"
