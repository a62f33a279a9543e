"""The words of the trade and of this program, each with one meaning: the glossary.

``photoperiod explain WORD`` prints one of them, and ``photoperiod explain --markdown`` the page
``docs/words.md``.
"""

from __future__ import annotations

from collections.abc import Mapping

from photoperiod.report.glossary_form import Section, Word
from photoperiod.report.program_words import PROGRAM_WORDS
from photoperiod.report.trade_words import TRADE_WORDS

#: All sections, in the order of the page.
GLOSSARY: tuple[Section, ...] = (*TRADE_WORDS, *PROGRAM_WORDS)


def _plain(name: str) -> str:
    """Return a word as it is looked for: small letters, hyphens as spaces."""
    return " ".join(name.casefold().replace("-", " ").replace("_", " ").split())


#: Each word under all that it is looked for by.
_BY_PLAIN: Mapping[str, Word] = {
    _plain(name): word
    for section in GLOSSARY
    for word in section.words
    for name in (*word.names, *word.also)
}

#: Every word that can be looked for, as it is written.
NAMES: tuple[str, ...] = tuple(
    name for section in GLOSSARY for word in section.words for name in (*word.names, *word.also)
)


def find_word(name: str) -> Word | None:
    """Return the word that a reader looks for, in the plural too; None if there is none."""
    plain = _plain(name)
    return _BY_PLAIN.get(plain) or _BY_PLAIN.get(plain.removesuffix("s"))


_TOP = """\
# Words

`photoperiod explain --markdown` makes this page from `trade_words.py` and `program_words.py` of
`photoperiod/report/`; a test keeps it up to date. Do not edit it by hand. `photoperiod explain burn-in`
prints one word.
"""


def glossary_markdown() -> str:
    """Return the page of all words."""
    parts = [_TOP]
    for section in GLOSSARY:
        parts.append(f"\n## {section.title}\n\n| word | meaning |\n| --- | --- |\n")
        for word in section.words:
            more = f". {word.more}" if word.more else ""
            parts.append(f"| {', '.join(word.names)} | {word.meaning}{more} |\n")
    return "".join(parts)
