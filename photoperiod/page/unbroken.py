"""What is read as one stands in one line: a browser would break a date at its hyphens.

Only tags are added. So a date that is searched for, or copied from the page, is that of the file.
"""

from __future__ import annotations

import re

#: A tag, or all of an element in which there is no line to break; and text between tags.
_PARTS = re.compile(r"<(svg|style|script|title)\b.*?</\1>|<[^>]*>|[^<]+", re.DOTALL)

#: A date; hours from–to, a number in percent, or a unit of light. A duration may break: many nights side by
#: side in a table would have to be scrolled.
_ONE = re.compile(
    r"(?P<date>(?<!\d)\d{4}-\d\d-\d\d(?!\d))"
    r"|\b\d\d:\d\d–\d\d:\d\d|(?<![\w.])\d[\d.]* %|µ?mol m⁻² [ds]⁻¹"
)


def unbroken(html: str) -> str:
    """Return a page in which no date, and nothing else that is read as one, goes on in another line.

    The page has each ``>`` of a name or a text as ``&gt;``, as jinja2 writes it, so that tags end at the
    first ``>``.

    Examples
    --------
    >>> unbroken('<p title="2027-03-02">until 2027-03-02</p>')
    '<p title="2027-03-02">until <time>2027-03-02</time></p>'
    """
    return _PARTS.sub(lambda part: part[0] if part[0][0] == "<" else _ONE.sub(_kept, part[0]), html)


def _kept(found: re.Match[str]) -> str:
    if found["date"]:
        return f"<time>{found[0]}</time>"
    return f'<span class="one">{found[0]}</span>'
