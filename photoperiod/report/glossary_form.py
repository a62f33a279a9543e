"""What a word of the glossary is made of."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Word:
    """A word, or several that belong together.

    Parameters
    ----------
    names : tuple of str
        The word as it is written; others that the meaning is about, too.
    meaning : str
        What it means, in one clause.
    more : str
        Why it matters, how much it is, where to find it; empty for words of contributors.
    also : tuple of str
        Other words under which it is looked for.
    """

    names: tuple[str, ...]
    meaning: str
    more: str = ""
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """Words that belong together, under a title."""

    title: str
    words: tuple[Word, ...]
