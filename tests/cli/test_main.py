from __future__ import annotations

import click
import pytest

from photoperiod.cli.main import COMMANDS, cli


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_of_commands_says_what_each_says_of_itself(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None and command.name == name
    assert COMMANDS[name][1] == command.get_short_help_str(limit=1000)


def test_an_unknown_command_is_none() -> None:
    assert cli.get_command(click.Context(cli), "compose") is None
