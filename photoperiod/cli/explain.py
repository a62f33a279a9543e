"""``photoperiod explain``: what a finding code means."""

from __future__ import annotations

import textwrap

import click

from photoperiod.errors import WrongUse


@click.command("explain")
@click.argument("code", required=False)
def explain_command(code: str | None) -> int:
    """Explain a diagnostic CODE, such as PHO201 or unknown-key; without one, list them all."""
    from photoperiod.diagnostics.code_examples import EXAMPLES
    from photoperiod.diagnostics.codes import BY_NAME, CODES
    from photoperiod.text import close_match

    if code is None:
        for entry in CODES.values():
            click.echo(f"{entry.code}  {entry.severity:7}  {entry.name}: {entry.title}")
        return 0
    found = CODES.get(code.upper()) or BY_NAME.get(code.lower())
    if found is None:
        guess = close_match(code, [*CODES, *BY_NAME])
        way_out = f"did you mean {guess}?" if guess else "`photoperiod explain` lists them all"
        raise WrongUse(f"there is no code '{code}'; {way_out}")
    hard = " It stops compile unless the schedule accepts it by name." if found.is_hard else ""
    click.echo(f"{found.code} {found.name} ({found.severity}): {found.title}\n")
    click.echo(click.wrap_text(found.explanation + hard, width=78))
    if found.code in EXAMPLES:
        click.echo("\nFor example:\n\n" + textwrap.indent(EXAMPLES[found.code], "  "))
    return 0
