from __future__ import annotations

import html5lib
import pytest

from photoperiod.api import ScheduleError, load_text
from photoperiod.errors import OutsideWorldError
from photoperiod.page.broken import MOST_LINES, render_broken
from tests.page.pages import SCHEDULE, changed, words


def broken(text: str) -> str:
    with pytest.raises(ScheduleError) as fault:
        load_text("tank.yaml", text.encode())
    document = fault.value.document
    assert document is not None
    return render_broken(
        "tank.yaml", fault.value.report.sorted(), document.lines, is_live=False
    ).decode()


def test_an_error_stands_at_its_line_in_the_whole_source() -> None:
    text = broken(changed(("square-law", "sqare-law")))
    html5lib.HTMLParser(strict=True).parse(text)
    plain = words(text)
    assert "1 error. The page comes back when the file is saved without errors." in plain
    assert "Load nothing meanwhile." in plain
    for line in ("schedule: 1", "crest: {dli: [3, 5]", "tank: bench"):
        assert line in plain
    line = plain.index("response: {kind: sqare-law }")
    assert 0 < plain.index("PHO204") - line < 60, "the finding follows its line"
    assert "did you mean" in plain


def test_the_source_of_a_stranger_is_text() -> None:
    text = broken(SCHEDULE + "title: '<script>alert(1)</script>\u202e'\n")
    assert text.count("<script>") == 1
    assert "&lt;script&gt;alert(1)" in text
    assert "\u202e" not in text


@pytest.mark.parametrize("text", ["", "\x00", "a: [", "- 1", "\ufeff", "x" * 100_000])
def test_whatever_is_in_the_file_makes_a_page(text: str) -> None:
    page = broken(text)
    html5lib.HTMLParser(strict=True).parse(page)
    assert "error" in words(page)
    assert len(page) < 100_000


def test_of_a_long_source_the_lines_around_errors_are_shown() -> None:
    long = changed(("square-law", "sqare-law")) + "# a comment\n" * (MOST_LINES + 1)
    page = broken(long)
    assert "sqare-law" in page
    assert "a comment" not in page


def test_what_is_no_finding_is_told_in_words() -> None:
    page = render_broken("tank.yaml", (), (), "error PHO501: can't read 'tank.yaml'").decode()
    html5lib.HTMLParser(strict=True).parse(page)
    assert "No page yet. error PHO501: can&#39;t read &#39;tank.yaml&#39;" in words(page)


def test_the_way_out_stands_in_a_line_of_its_own() -> None:
    told = OutsideWorldError("PHO501", "can't read 'tank\n.yaml'", "check the name").told()
    page = render_broken("tank.yaml", (), (), told).decode()
    html5lib.HTMLParser(strict=True).parse(page)
    assert "can&#39;t read &#39;tank\\x0a.yaml&#39;<br>try: check the name<br>" in page
