"""``photoperiod explain``: what a finding code or a word means."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import click

from photoperiod.errors import WrongUse

if TYPE_CHECKING:
    from photoperiod.diagnostics.codes import Code
    from photoperiod.report.glossary_form import Word

COLUMNS = 78

#: A hyphen at which no line is cut: a word with one is looked for as a whole.
UNBROKEN = "\u2011"


@click.command("explain")
@click.argument("what", nargs=-1)
@click.option("--markdown", is_flag=True, help="Print the page of all words.")
def explain_command(what: tuple[str, ...], markdown: bool) -> int:
    """Explain WHAT, a finding code (PHO201, unknown-key) or a word (dli, burn-in); without it, list all."""
    from photoperiod.diagnostics.codes import BY_NAME, CODES
    from photoperiod.report.glossary import NAMES, find_word, glossary_markdown
    from photoperiod.text import close_match, safe, short

    if markdown:
        click.echo(glossary_markdown(), nl=False)
        return 0
    name = " ".join(what).strip()
    if not name:
        _list_all()
        return 0
    code = CODES.get(name.upper()) or BY_NAME.get(name.lower())
    word = find_word(name)
    if code is not None:
        _explain_code(code)
    elif word is not None:
        _explain_word(word)
    else:
        by_small = {each.casefold(): each for each in (*CODES, *BY_NAME, *NAMES)}
        guess = close_match(name.casefold(), by_small)
        way_out = (
            f"did you mean {by_small[guess]}?" if guess else "`photoperiod explain` lists them all"
        )
        raise WrongUse(f"there is no code or word '{short(safe(name))}'; {way_out}")
    return 0


def _list_all() -> None:
    from photoperiod.diagnostics.codes import CODES
    from photoperiod.report.glossary import GLOSSARY

    for entry in CODES.values():
        click.echo(f"{entry.code}  {entry.severity:7}  {entry.name}: {entry.title}")
    for section in GLOSSARY:
        words = ", ".join(name for word in section.words for name in word.names)
        whole = f"{section.title}: {words}".replace("-", UNBROKEN)
        click.echo("\n" + click.wrap_text(whole, width=COLUMNS).replace(UNBROKEN, "-"))


def _explain_code(code: Code) -> None:
    from photoperiod.diagnostics.code_examples import EXAMPLES

    hard = " It stops compile unless the schedule accepts it by name." if code.is_hard else ""
    click.echo(f"{code.code} {code.name} ({code.severity}): {code.title}\n")
    click.echo(click.wrap_text(code.explanation + hard, width=COLUMNS))
    if code.code in EXAMPLES:
        click.echo("\nFor example:\n\n" + textwrap.indent(EXAMPLES[code.code], "  "))


def _explain_word(word: Word) -> None:
    click.echo(click.wrap_text(f"{', '.join(word.names)}: {word.meaning}", width=COLUMNS))
    if word.more:
        click.echo("\n" + click.wrap_text(word.more, width=COLUMNS))
