"""The page in headless Chromium: nothing said, nothing loaded, nothing clipped, nothing in the way.

Slow: each test starts a browser. `.ci/run` installs chromium and turns them on; where it is missing there,
they fail.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

from photoperiod.page.broken import render_broken
from photoperiod.page.live import LivePage, serving
from photoperiod.program.dates import DateSpan
from tests.page.pages import TWO_WEEKS, changed, example, page, table
from tests.page.test_broken import broken
from tests.page.test_render import STRANGE, named
from tests.targets.tools import tool

pytestmark = pytest.mark.slow

MARCH = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
TWO_DATES = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 2))
WIDTHS = (360, 768, 1280)

#: Names of lamps beside their bars.
LONG = {
    "short": "Blue",
    "whole": "Royal blue over the reef, left",
    "capitals": "W" * 13,
    "long": STRANGE["long"],
}
NEAREST = "    below_floor: nearest\n"

PAGES = {
    "no date": lambda: page(example("smallest")),
    "two weeks": lambda: page(example("smallest"), TWO_WEEKS),
    "a month": lambda: page(example("teaching-reef"), MARCH),
    "readings": lambda: page(example("measured-reef"), TWO_DATES),
    "refused": lambda: page(changed(("ppfd_max: 200", "ppfd_max: 90"))),
    "errors": lambda: broken(changed(("square-law", "sqare-law"))),
    "no file": lambda: render_broken("tank.yaml", (), (), "can't read it", is_live=False).decode(),
    **{
        f"costs {key}": lambda name=name: page(
            named(name).replace(NEAREST, f"{NEAREST}    watts: {{full: 118, floor: 60}}\n"),
            TWO_WEEKS,
        )
        for key, name in LONG.items()
    },
    **{
        f"named {key}": lambda name=name: page(named(name), TWO_WEEKS)
        for key, name in STRANGE.items()
    },
}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(
            executable_path=tool("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        yield found
        found.close()


@dataclass
class Opened:
    """A page in a tab, with everything that it said and asked for."""

    tab: Page
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


@pytest.fixture
def open_page(browser: Browser, tmp_path: Path) -> Iterator[Any]:
    opened: list[Page] = []

    def open_it(html: str, width: int = 1280, scheme: Any = "light") -> Opened:
        path = tmp_path / "tank.html"
        path.write_text(html, encoding="utf-8")
        tab = browser.new_page(viewport={"width": width, "height": 800}, color_scheme=scheme)
        opened.append(tab)
        found = Opened(tab)
        tab.on("console", lambda message: found.said.append(message.text))
        tab.on("pageerror", lambda error: found.said.append(str(error)))
        tab.on("request", lambda request: found.asked.append(request.url))
        tab.goto(path.as_uri())
        return found

    yield open_it
    for tab in opened:
        tab.close()


def open_details(tab: Page) -> None:
    tab.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")


@pytest.mark.parametrize("make", PAGES.values(), ids=PAGES)
def test_nothing_is_said_loaded_or_wider_than_the_window(make: Any, open_page: Any) -> None:
    html = make()
    for width in WIDTHS:
        found = open_page(html, width)
        open_details(found.tab)
        assert found.said == []
        assert [url for url in found.asked if not url.startswith(("file:", "data:"))] == []
        assert len([url for url in found.asked if url.startswith("file:")]) == 1
        assert found.tab.evaluate("document.documentElement.scrollWidth") <= width


#: Rules of axe. In the dark the same page has other colours, and nothing else.
RULES = {
    "light": {"resultTypes": ["violations"]},
    "dark": {"runOnly": {"type": "rule", "values": ["color-contrast"]}},
}


@pytest.mark.parametrize("make", PAGES.values(), ids=PAGES)
def test_axe_finds_nothing(make: Any, open_page: Any) -> None:
    tab = open_page(make(), 360).tab
    open_details(tab)
    for scheme, rules in RULES.items():
        tab.emulate_media(color_scheme=scheme)
        results = Axe().run(tab, options=rules)
        assert results.violations_count == 0, results.generate_report()


#: Where words of a picture stand on each other, or beyond its edges, and by how much. [pixels]
CROWDED = """() => {
  const found = [];
  for (const svg of document.querySelectorAll('figure svg')) {
    const frame = svg.getBoundingClientRect();
    const boxes = [...svg.querySelectorAll('text')].map((text) => [text, text.getBoundingClientRect()]);
    for (const [text, box] of boxes) {
      if (box.left < frame.left - 6 || box.right > frame.right + 6 || box.bottom > frame.bottom + 3
          || box.top < frame.top - 3) found.push(`${text.textContent} leaves its picture`);
    }
    boxes.forEach(([one, a], number) => boxes.slice(number + 1).forEach(([other, b]) => {
      const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (across > 1 && down > 3) found.push(`${one.textContent} | ${other.textContent}`);
    }));
  }
  return found;
}"""


PAGES_OF_WORDS = (
    "two weeks", "a month", "readings", "named long", "named emoji", "named no blank", "costs short",
    "costs whole", "costs capitals", "costs long",
)  # fmt: skip


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", PAGES_OF_WORDS)
def test_no_words_stand_on_others_or_are_cut(name: str, width: int, open_page: Any) -> None:
    found = open_page(PAGES[name](), width)
    open_details(found.tab)
    assert found.tab.evaluate(CROWDED) == []


#: Text that stands in more than one line, though it is read as one.
BROKEN = """() => {
  const found = [];
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let text = texts.nextNode(); text; text = texts.nextNode()) {
    if (text.parentElement.closest('svg, script')) continue;
    for (const one of text.data.matchAll(/[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9.]+ [/] [0-9.]+|[0-9.]+ %/g)) {
      const range = document.createRange();
      range.setStart(text, one.index);
      range.setEnd(text, one.index + one[0].length);
      if (new Set([...range.getClientRects()].map((box) => box.top)).size > 1) found.push(text.data);
    }
  }
  return found;
}"""


@pytest.mark.parametrize("width", (320, 400, 1280))
def test_no_date_and_no_number_goes_on_in_another_line(width: int, open_page: Any) -> None:
    found = open_page(PAGES["a month"](), width)
    open_details(found.tab)
    assert found.tab.evaluate(BROKEN) == []


def test_print_has_pages_and_the_sheet_begins_one(open_page: Any) -> None:
    found = open_page(PAGES["a month"]())
    pdf = found.tab.pdf(prefer_css_page_size=True)
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    assert 3 <= pages <= 9
    assert re.findall(rb"/MediaBox\s*\[\s*0 0 (\d+)", pdf)[0] in (b"594", b"595")  # A4
    found.tab.emulate_media(media="print")
    sheet = found.tab.locator(".sheet")
    assert sheet.evaluate("each => getComputedStyle(each).breakBefore") == "page"
    without = found.tab.locator("main > :not(.sheet)")
    without.evaluate_all("all => all.forEach(each => each.remove())")
    found.tab.locator("header").evaluate("each => each.remove()")
    alone = found.tab.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", alone)) == 1, "the sheet is one page"


def test_in_the_dark_the_ground_is_dark_and_on_paper_white(open_page: Any) -> None:
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    html = PAGES["no date"]()
    assert open_page(html).tab.evaluate(ground) == "rgb(255, 255, 255)"
    dark = open_page(html, scheme="dark").tab
    red = int(re.findall(r"\d+", dark.evaluate(ground))[0])
    assert red < 40
    dark.emulate_media(media="print")
    assert dark.evaluate(ground) == "rgb(255, 255, 255)"


def test_a_moment_under_the_pointer_is_that_of_the_numbers(open_page: Any) -> None:
    html = PAGES["no date"]()
    _, *rows = table(html, "rock: PPFD at each hour")
    expected = float(next(row for row in rows if row[0] == "15:00")[1])
    found = open_page(html)
    picture = found.tab.locator("#day-1-rock svg")
    box = picture.bounding_box()
    x = (36 + (330 - 36) * 15 / 24) / 340 * box["width"]
    picture.hover(position={"x": x, "y": box["height"] / 2})
    told = found.tab.locator("#day-1-rock .moment").inner_text()
    assert told.startswith(("15:00", "14:59", "15:01"))
    value = float(re.findall(r"light ([\d.]+) µmol", told)[0])
    assert value == pytest.approx(expected, rel=0.02)
    found.tab.mouse.move(0, 0)
    assert found.tab.locator("#day-1-rock .moment").is_hidden()


def test_without_script_the_page_is_whole(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "tank.html"
    path.write_text(PAGES["no date"](), encoding="utf-8")
    context = browser.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto(path.as_uri())
    assert tab.locator("#day-1-rock svg").is_visible()
    tab.locator("#day-1-rock summary").click()
    assert tab.get_by_text("PPFD at each hour").first.is_visible()
    context.close()


def test_a_live_page_loads_itself_anew(browser: Browser) -> None:
    def live_page(text: str) -> bytes:
        return page(text, is_live=True).encode()

    live = LivePage(live_page(changed()))
    with serving(live, 0) as port:
        tab = browser.new_page()
        said: list[str] = []
        tab.on("console", lambda message: said.append(message.text))
        tab.on("pageerror", lambda error: said.append(str(error)))
        tab.goto(f"http://127.0.0.1:{port}/")
        assert tab.locator("h1").inner_text() == "Test bench"
        live.put(live_page(changed(("title: Test bench", "title: Another bench"))))
        tab.get_by_role("heading", name="Another bench").wait_for()
        live.put(render_broken("tank.yaml", (), (), "can't read it"))
        tab.get_by_text("No page yet").wait_for()
        assert said == []
        ended = tab.get_by_text("This page no longer follows the file")
        assert not ended.is_visible()
    ended.wait_for()
    with serving(LivePage(live_page(changed())), port):  # `watch` was started again
        ended.wait_for(state="hidden")
    tab.close()
