"""What the tests of the page share: programs, and a page read as a browser would read it."""

from __future__ import annotations

import datetime as dt
import functools
import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

from photoperiod.api import Compiled, compile, load_text
from photoperiod.page.render import render_page
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from tests.conftest import ROOT, SCHEDULE, changed

FIRST = dt.date(2027, 3, 2)
TWO_WEEKS = DateSpan(FIRST, FIRST + dt.timedelta(days=13))

EXAMPLES = ROOT / "examples"


@functools.lru_cache(maxsize=16)
def compiled(text: str = SCHEDULE, span: DateSpan | None = None) -> Compiled:
    return compile(load_text("test.yaml", text.encode(), EXAMPLES), span)


def program(text: str = SCHEDULE, span: DateSpan | None = None) -> Program:
    return compiled(text, span).program


def page(text: str = SCHEDULE, span: DateSpan | None = None, **options: bool) -> str:
    found = compiled(text, span)
    lines = found.document.lines if found.document else ()
    return render_page(
        found.program, found.report, lines, found.loaded.readings, **options
    ).decode()


def example(name: str) -> str:
    return (EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8")


__all__ = ["SCHEDULE", "changed"]


@dataclass
class Table:
    caption: str = ""
    rows: list[list[str]] = field(default_factory=list)


class _Reader(HTMLParser):
    """Reads tables and pictures of a page, with the standard library's parser alone."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[Table] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._into: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "table":
            self.tables.append(Table())
        elif tag == "tr":
            self.tables[-1].rows.append([])
        elif tag in ("td", "th"):
            self.tables[-1].rows[-1].append("")
            self._into = "cell"
        elif tag == "caption":
            self._into = "caption"

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th", "tr", "caption"):
            self._into = None

    def handle_data(self, data: str) -> None:
        if self._into == "cell":
            self.tables[-1].rows[-1][-1] += data
        elif self._into == "caption":
            self.tables[-1].caption += data


def read(html: str) -> _Reader:
    reader = _Reader()
    reader.feed(html)
    return reader


def table(html: str, caption: str) -> list[list[str]]:
    """Return the rows of the first table whose caption begins so, its head first."""
    return next(t.rows for t in read(html).tables if t.caption.startswith(caption))


def words(html: str) -> str:
    """Return the text of a page, without tags, style and script, blanks made one."""
    html = re.sub(r'</?time>|<span class="one">([^<]*)</span>', r"\1", html)  # they part no words
    text = re.sub(r"<(style|script)>.*?</\1>|<[^>]*>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", text)


def places(d: str) -> list[tuple[float, float]]:
    """Return the points of a path of straight lines."""
    return [(float(x), float(y)) for x, y in re.findall(r"[ML](\S+?) (-?[\d.]+)", d)]
