"""Each command has a line that is right: click takes it, and wrong use shows it."""

from __future__ import annotations

from collections.abc import Iterator

import click
import pytest

from photoperiod.cli.main import COMMANDS, cli
from photoperiod.cli.sample_lines import SAMPLE_LINES, sample_line
from tests.conftest import Run


def leaves(command: click.Command, name: str) -> Iterator[tuple[str, click.Command]]:
    """All commands that do something, by their names."""
    if not isinstance(command, click.Group):
        yield name, command
        return
    context = click.Context(command)
    for each in command.list_commands(context):
        found = command.get_command(context, each)
        assert found is not None
        yield from leaves(found, f"{name} {each}".strip())


ALL = dict(leaves(cli, ""))


def test_each_command_has_a_line() -> None:
    assert {name.split(" ")[0] for name in ALL} == set(COMMANDS)
    assert SAMPLE_LINES.keys() == ALL.keys()
    assert sample_line("photoperiod") == sample_line("photoperiod measure") == ""


@pytest.mark.parametrize("name", sorted(ALL))
def test_click_takes_the_line(name: str) -> None:
    """The line begins with its command; a missing or wrong option or argument would raise."""
    line = SAMPLE_LINES[name]
    assert line.startswith(f"{name} ")
    ALL[name].make_context(name, line.removeprefix(f"{name} ").split())


@pytest.mark.parametrize("name", ["tubes", "measure grid", "publish"])
def test_wrong_use_shows_the_line(run: Run, name: str) -> None:
    code, out, err = run(*name.split(" "))
    assert (code, out) == (2, "")
    assert err.endswith(f"For example: photoperiod {SAMPLE_LINES[name]}\n")
    assert "Missing" in err


@pytest.mark.parametrize(
    "arguments",
    [("check", "a.yaml", "b.yaml"), ("check", "a.yaml", "--strickt")],
)
def test_what_is_unknown_or_too_much_shows_it_too(run: Run, arguments: tuple[str, ...]) -> None:
    code, _, err = run(*arguments)
    assert code == 2
    assert err.endswith(f"For example: photoperiod {SAMPLE_LINES['check']}\n")


def test_what_we_refuse_ourselves_tells_its_own_way_out(run: Run) -> None:
    _, _, err = run("calendar", "tank.yaml")
    assert "give --date" in err
    assert "For example" not in err
