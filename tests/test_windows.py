"""All commands but those of the player need nothing that Windows lacks."""

from __future__ import annotations

import ast
import functools
import subprocess
import sys
from pathlib import Path

import pytest

from photoperiod.cli.main import COMMANDS
from tests.conftest import ROOT, Run, naming

PACKAGE = ROOT / "photoperiod"

#: Modules that the standard library has on Unix only ("Availability: Unix" in its documentation).
UNIX_MODULES = {
    "crypt", "curses", "fcntl", "grp", "nis", "posix", "pty", "pwd", "readline", "resource", "spwd", "syslog",
    "termios", "tty",
}  # fmt: skip

#: Names of `os` and `signal` of the same kind.
UNIX_NAMES = {
    "os": {
        "O_CLOEXEC", "O_DIRECTORY", "O_NOFOLLOW", "O_NONBLOCK", "O_SYNC", "chown", "chroot", "confstr",
        "fchdir", "fchown", "fork", "forkpty", "getegid", "geteuid", "getgid", "getgroups", "getloadavg",
        "getpgid", "getpriority", "getuid", "killpg", "lchown", "major", "minor", "mkfifo", "mknod", "nice",
        "openpty", "pread", "pwrite", "sched_getaffinity", "setsid", "setuid", "statvfs", "sync", "sysconf",
        "uname", "wait", "wait3", "waitid",
    },
    "signal": {
        "SIGALRM", "SIGCHLD", "SIGHUP", "SIGKILL", "SIGPIPE", "SIGQUIT", "SIGUSR1", "SIGUSR2", "SIGWINCH",
        "alarm", "pause", "pthread_kill", "pthread_sigmask", "setitimer", "sigwait",
    },
}  # fmt: skip

#: What a module asks for first, and goes without.
ASKED_FOR_FIRST = {
    ("photoperiod.formats.atomic", name)
    for name in ("os.O_DIRECTORY", "os.O_NOFOLLOW", "os.fchown", "os.geteuid")
} | {
    ("photoperiod.cli.parallel", name)
    for name in ("os.sched_getaffinity", "signal.pthread_kill", "signal.pthread_sigmask")
}

#: Commands that are for Linux, and say so.
FOR_LINUX = ("run", "hold", "release", "override")

#: Modules whose functions import what only Linux has, after the system was looked at.
LOOKS_FIRST = {"photoperiod.cli.run", "photoperiod.cli.override"}


def file_of(module: str) -> Path | None:
    path = PACKAGE.parent / Path(*module.split("."))
    found = (path.with_suffix(".py"), path / "__init__.py")
    return next((each for each in found if each.is_file()), None)


@functools.cache
def parsed(file: Path) -> ast.Module:
    return ast.parse(file.read_text(encoding="utf-8"))


@functools.cache
def imported(tree: ast.Module, *, at_top_only: bool = False) -> frozenset[str]:
    """Return the modules that a text imports, at its top or in a function; not those of its types."""
    names = set()
    todo: list[ast.AST] = list(tree.body)
    while todo:
        node = todo.pop()
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING":
            continue
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {str(node.module), *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif not (at_top_only and isinstance(node, ast.FunctionDef)):
            todo += ast.iter_child_nodes(node)
    return frozenset(names)


def of_unix(tree: ast.Module, module: str = "") -> set[str]:
    """Return what a module uses that Windows lacks."""
    found = {name for name in imported(tree) if name.partition(".")[0] in UNIX_MODULES}
    used = imported(tree) | {
        f"{node.value.id}.{node.attr}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
    }
    for name in used:
        owner, _, attribute = name.partition(".")
        if attribute in UNIX_NAMES.get(owner, ()):
            found.add(name)
    return {name for name in found if (module, name) not in ASKED_FOR_FIRST}


@functools.cache
def needs(file: Path, module: str) -> set[str]:
    return of_unix(parsed(file), module)


def reached(module: str, at_top_only_in: set[str]) -> dict[str, str]:
    """Return the modules of the package that a module needs, each with the one that imports it."""
    found: dict[str, str] = {}
    todo = [(module, "the command")]
    while todo:
        name, importer = todo.pop()
        file = file_of(name) if name.startswith("photoperiod") else None
        if file is None or name in found:
            continue
        found[name] = importer
        names = imported(parsed(file), at_top_only=name in at_top_only_in)
        todo += [(each, name) for each in sorted(names)]
    return found


def test_no_command_needs_what_windows_lacks() -> None:
    for command in sorted({module for module, _ in COMMANDS.values()}):
        needed = reached(f"photoperiod.cli.{command}", at_top_only_in=LOOKS_FIRST)
        assert len(needed) > 3
        for module, importer in needed.items():
            file = file_of(module)
            assert file is not None
            with naming(f"{module} of `{command}`, imported by {importer}"):
                assert needs(file, module) == set()


def test_the_player_needs_it_and_is_found() -> None:
    needed = reached("photoperiod.cli.run", at_top_only_in=set())
    found = set()
    for module in needed:
        file = file_of(module)
        assert file is not None
        found |= needs(file, module)
    assert {"fcntl", "signal.SIGHUP"} <= found


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("import fcntl", "fcntl"),
        ("def f():\n    import pwd as p", "pwd"),
        ("from termios import tcgetattr", "termios"),
        ("import os\nos.geteuid()", "os.geteuid"),
        ("from os import fork", "os.fork"),
        ("import signal\ndef f():\n    return signal.SIGHUP", "signal.SIGHUP"),
    ],
)
def test_a_planted_import_is_found(text: str, name: str) -> None:
    assert name in {found.removesuffix(".tcgetattr") for found in of_unix(ast.parse(text))}


def test_what_only_types_need_is_no_import() -> None:
    text = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import fcntl"
    assert of_unix(ast.parse(text)) == set()


@pytest.mark.parametrize("platform", ["win32", "darwin"])
@pytest.mark.parametrize("command", FOR_LINUX)
def test_commands_of_the_player_say_that_they_are_for_linux(
    run: Run, monkeypatch: pytest.MonkeyPatch, command: str, platform: str
) -> None:
    for module in [
        name for name in sys.modules if name.startswith("photoperiod.board.state_store")
    ]:
        monkeypatch.delitem(sys.modules, module)
    monkeypatch.setitem(sys.modules, "fcntl", None)  # an import of it fails
    monkeypatch.setattr(sys, "platform", platform)
    table = ["table.json"] if command == "run" else []
    code, out, err = run(command, *table, "--board", "board.yaml")
    assert (code, out) == (2, "")
    assert f"error: `{command}` is for Linux boards, and this system is {platform}; " in err


#: Runs commands one after the other as Windows has them: without what only Unix has.
AS_ON_WINDOWS = """
import importlib, os, signal, sys
import astral, click, ephem, icalendar, jinja2, jsonschema, numpy, tzdata, wcwidth, yaml
import concurrent.futures.process, multiprocessing.context, zoneinfo
from photoperiod.cli.main import cli

class Nothing:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in UNIX_MODULES:
            raise ModuleNotFoundError("Windows has no " + name)

sys.meta_path.insert(0, Nothing())
for name in UNIX_MODULES:
    sys.modules.pop(name, None)
for owner, names in ((os, OS_NAMES), (signal, SIGNAL_NAMES)):
    for name in names:
        if hasattr(owner, name):
            delattr(owner, name)
sys.platform = "win32"
for line in COMMANDS:
    code = cli.main(line.split(), prog_name="photoperiod", standalone_mode=False)
    assert not code, (line, code)
print("all ran")
"""


def test_commands_run_as_on_windows(tmp_path: Path) -> None:
    answers = (
        "--tank t --rows 12 --time-step-minutes 1 --level-step 1% --between line --after-last-row wrap"
        " --relay column --clock standard --bits 12 --full-scale-volts 10 --ballasts pair --response linear"
        " --floor-volts 1 --floor-light-percent 1 --full-volts 10 --dark relay --channels blue"
        " --ballast-count 1 --tubes 0 --zones later --dawn 09:00 --dusk 21:00 --ramp-minutes 60"
        " --peak-light-percent 80"
    )
    commands = [
        f"new tank.yaml {answers}",
        "check tank.yaml",
        "compile tank.yaml --date 2027-03-02 -o out",
        "compile tank.yaml --date 2027-03-03 -o out",
        *(f"export {kind} tank.yaml --date 2027-03-02 -o table.{kind}" for kind in ("c", "binary")),
        "export micropython tank.yaml --date 2027-03-02 -o table.py",
        "replay table.binary --at 13:05",
        "run table.binary --speed 86400",
        "explain burn-in",
        "schema",
        f"sky {ROOT / 'examples' / 'natural-year.yaml'} --date 2027-03-02",
        "report tank.yaml --date 2027-03-02 -o tank.html",
        "report tank.yaml --date 2027-03-02 -o tank.html",  # over the one before
        "calendar tank.yaml --from 2027-03-02 --to 2027-03-04",
        "calendar tank.yaml --from 2027-03-02 --to 2027-03-04 --format ics -o tank.ics",
        "compile tank.yaml --from 2027-03-02 --to 2027-03-04 -o out --ledger ledger.json",
        "compile tank.yaml --from 2027-03-05 --to 2027-03-06 -o out --ledger ledger.json",
        "overview tank.yaml --date 2027-03-02",
        "check tank.yaml --format sarif",
        f"measure sweep {ROOT / 'examples' / 'readings' / 'sweep.csv'}",
        "solve --help",
        "tubes --help",
        "watch --help",
        "publish --help",
        "compare --help",
    ]  # fmt: skip
    script = "\n".join(
        (
            f"UNIX_MODULES, COMMANDS = {UNIX_MODULES!r}, {commands!r}",
            f"OS_NAMES, SIGNAL_NAMES = {UNIX_NAMES['os']!r}, {UNIX_NAMES['signal']!r}",
            AS_ON_WINDOWS,
        )
    )
    ran = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    assert ran.stdout.endswith("all ran\n")
    assert sorted(path.name for path in (tmp_path / "out").iterdir())


def writes_text(tree: ast.AST) -> list[int]:
    """The lines that open or write a text without saying its encoding, or with line ends of the system."""
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        said = {each.arg for each in node.keywords}
        mode = next((a.value for a in node.args if isinstance(a, ast.Constant)), "")
        if name in ("read_text", "write_text") and not {"encoding"} <= said:
            if not (node.args or isinstance(node.func, ast.Name)):
                found.append(node.lineno)
        elif (name == "write_text" and "newline" not in said) or (
            name in ("open", "fdopen")
            and getattr(getattr(node.func, "value", None), "id", "") != "os"
            and "b" not in str(mode)
            and "encoding" not in said
        ):
            found.append(node.lineno)
    return found


def test_no_text_depends_on_the_encoding_or_the_line_ends_of_the_system() -> None:
    """Windows reads cp1252 and writes CR LF unless a program says otherwise. Boards run Linux."""
    texts = {
        path: parsed(path)
        for path in PACKAGE.rglob("*.py")
        if not {"players", "board"} & set(path.parts)
    }
    assert len(texts) > 200
    assert {str(path): writes_text(tree) for path, tree in texts.items() if writes_text(tree)} == {}


@pytest.mark.parametrize(
    ("text", "is_found"),
    [
        ("path.read_text()", True),
        ("path.read_text(encoding='utf-8')", False),
        ("path.write_text('x', encoding='utf-8')", True),
        ("path.write_text('x', encoding='utf-8', newline='')", False),
        ("path.open('w')", True),
        ("path.open('rb')", False),
        ("open(path, encoding='utf-8')", False),
        ("open(path)", True),
    ],
)
def test_a_planted_text_is_found(text: str, is_found: bool) -> None:
    assert bool(writes_text(ast.parse(text))) == is_found
