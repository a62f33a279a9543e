"""``photoperiod schema``: the JSON Schemas and the language reference."""

from __future__ import annotations

import click

from photoperiod.errors import WrongUse


@click.command("schema")
@click.argument("name", default="schedule")
@click.option("--path", "as_path", is_flag=True, help="Print where the schema lies instead.")
@click.option("--markdown", is_flag=True, help="Print the language reference instead.")
def schema_command(name: str, as_path: bool, markdown: bool) -> int:
    """Print the JSON Schema NAME: schedule (default), parts, board, table, summary, replay and others."""
    from photoperiod.source.json_schema import NAMES, load_schema, schema_path, schema_text
    from photoperiod.text import suggestion

    if name not in NAMES:
        raise WrongUse(f"there is no schema '{name}'; {suggestion(name, NAMES)}")
    if markdown and name != "schedule":
        raise WrongUse("the language reference is that of schedules; leave out NAME")
    if as_path:
        click.echo(schema_path(name))
    elif markdown:
        from photoperiod.report.language import render_language

        click.echo(render_language(load_schema(name), load_schema("parts")), nl=False)
    else:
        click.echo(schema_text(name), nl=False)
    return 0
