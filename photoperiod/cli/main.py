"""The group of all commands. Each is imported when it is called, so that ``--help`` answers at once."""

from __future__ import annotations

from importlib import import_module

import click

from photoperiod import __version__

#: The module of each command within `photoperiod.cli`, and the first line of its help.
COMMANDS: dict[str, tuple[str, str]] = {
    "calendar": (
        "calendar",
        "Tell what is to be done for FILE on which date, as text or as a calendar.",
    ),
    "check": ("check", "Find every fault in FILE ('-' is standard input)."),
    "compare": ("compare", "Compare LOG, a CSV file of what really happened, with TABLE."),
    "compile": ("compile", "Compile FILE into a folder: table, doses, typing sheet."),
    "explain": (
        "explain",
        "Explain WHAT, a finding code (PHO201, unknown-key) or a word (dli, burn-in); without it, list all.",
    ),
    "export": (
        "export",
        "Compile FILE into one file of a KIND: what a controller, a board or a program reads.",
    ),
    "hold": (
        "run",
        "Keep the lamps of a board off until `release`, through restarts and new tables.",
    ),
    "measure": ("measure", "Turn what you measure at the tank into lines for a schedule."),
    "new": (
        "new",
        "Write a first schedule to FILE ('-' is standard output), asking what only you can know.",
    ),
    "overview": (
        "overview",
        "Tell of many tanks: doses beside limits, next load, next tube, and what was found.",
    ),
    "override": (
        "override",
        "Give channels of a board another light for some minutes, such as work light or dark.",
    ),
    "publish": ("publish", "Send TABLEs to players, as retained messages of an MQTT broker."),
    "release": ("run", "End a `hold`: the lamps of the board go on with a soft start."),
    "replay": (
        "replay",
        "Print what TABLE does: light, level, volts, code and relay, as the controller's player has it.",
    ),
    "report": (
        "report",
        "Make one page of FILE ('-' is standard input): pictures, numbers, dates,"
        " and a sheet for a stand-in.",
    ),
    "run": ("run", "Play TABLE on a Linux board, day and night."),
    "schema": (
        "schema",
        "Print the JSON Schema NAME: schedule (default), parts, board, table, summary, replay and others.",
    ),
    "solve": ("solve", "Find the day that gives each zone of FILE the dose that it asks for."),
    "sky": (
        "sky",
        "Print what sun, moon and clocks do over dates, as the schedule FILE sees them.",
    ),
    "tubes": ("tubes", "Tell when each tube of FILE is due, and compare ways to replace them."),
    "watch": (
        "watch",
        "Show the page of FILE in a browser of this machine, and make it anew whenever FILE is saved.",
    ),
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called; `COMMANDS` lists them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all commands, sorted."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, or None if there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"photoperiod.cli.{COMMANDS[cmd_name][0]}")
        command: click.Command = getattr(module, f"{cmd_name}_command")
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that is called, or fail with the one that was probably meant."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-") and not ctx.resilient_parsing:
            from photoperiod.text import safe, short, suggestion

            ctx.fail(
                f"There is no command '{short(safe(name))}'; {suggestion(name, sorted(COMMANDS))}"
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing one of them."""
        limit = formatter.width - 6 - max(map(len, COMMANDS))
        with formatter.section("Commands"):
            formatter.write_dl([(name, _summary(name, limit)) for name in sorted(COMMANDS)])


def _print_version(ctx: click.Context, is_asked: bool) -> None:
    """Print the version and the kernel that is in use, and exit, if that is asked for."""
    if not is_asked or ctx.resilient_parsing:
        return
    from photoperiod.kernel.which import in_use

    click.echo(f"photoperiod, version {__version__}\nkernel: {in_use()}")
    ctx.exit()


def _summary(name: str, limit: int) -> str:
    """Return the line of a command in the list, cut as click cuts it."""
    return click.Command(name, help=COMMANDS[name][1]).get_short_help_str(limit)


@click.group(
    "photoperiod",
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Exit codes: 0 fine, 1 findings, 2 wrong use, 3 a bug of ours, 4 a file or disk said no,"
    " 130 interrupted.",
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=lambda ctx, _, is_asked: _print_version(ctx, is_asked),
    help="Show the version and which kernel does the search for rows, and exit.",
)
def cli() -> None:
    """Compile a light schedule for a reef tank into the table of its controller.

    A schedule is one YAML file. `new` writes a first one, `check` finds every fault in it, and
    `compile` writes the table to load with the dose of light that this very table gives.
    """
