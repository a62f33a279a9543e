"""Draw the picture of README.md: three pictures of one page, side by side.

Run: python docs/draw_page.py

It is cut from the page that `photoperiod report examples/teaching-reef.yaml` makes of March 2027.
"""

from __future__ import annotations

import re
from pathlib import Path

import photoperiod
from photoperiod.program.dates import DateSpan

DOCS = Path(__file__).resolve().parent
EXAMPLE = DOCS.parent / "examples" / "teaching-reef.yaml"
TITLE = "Crest, branching corals: the light of a day, its dose, and what is to be done when"

#: Pictures of the page by id: where each stands, and what is written above it.
PLACES = {
    "day-1-crest": (8, 34, "What does the day look like?"),
    "dose-crest": (372, 34, "Is the dose right?"),
    "agenda": (372, 164, "What do I do when?"),
}
WIDTH, HEIGHT = 720, 290


def page() -> str:
    """Return the page of the example."""
    import datetime as dt

    dates = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    compiled = photoperiod.compile(photoperiod.load(EXAMPLE), dates)
    return photoperiod.render_page(compiled).decode()


def draw() -> bytes:
    """Return the picture as SVG."""
    html = page()
    (style,) = re.findall(r"<style>(.*?)</style>", html, re.DOTALL)
    (patterns,) = re.findall(r"<defs>.*?</defs>", html, re.DOTALL)
    style = style.partition("@media print")[0]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img"'
        f' aria-label="{TITLE}">',
        f"<title>{TITLE}</title>",
        f"<style>{style}\n.ground{{fill:var(--ground)}}.title{{font-weight:bold}}</style>",
        patterns,
        f'<path class="ground" d="M0 0H{WIDTH}V{HEIGHT}H0Z"/>',
    ]
    for id, (x, y, question) in PLACES.items():
        (found,) = re.findall(
            rf'<div class="picture" id="{id}">.*?<svg[^>]*>(.*?)</svg>', html, re.DOTALL
        )
        drawing = re.sub(r"<title.*?</title>|<desc.*?</desc>| data-\w+=\"[^\"]*\"", "", found)
        parts.append(
            f'<text x="{x}" y="{y - 16}" class="title" style="font-size:13px">{question}</text>'
        )
        parts.append(f'<g transform="translate({x} {y})">{drawing.strip()}</g>')
    return ("\n".join([*parts, "</svg>"]) + "\n").encode()


if __name__ == "__main__":
    (DOCS / "page.svg").write_bytes(draw())
