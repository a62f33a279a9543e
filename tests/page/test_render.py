"""The page as a whole: the same bytes, nothing loaded, and no name of a stranger becomes a part of it."""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import re
import sys

import html5lib
import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.page.render import code_html, environment, render_page
from photoperiod.program.dates import DateSpan
from tests.page.pages import TWO_WEEKS, changed, compiled, example, page, read, words

STRANGE = {
    "a script": "<script>alert(1)</script>",
    "an attribute": "\\\" onload=alert(1) x='",
    "a template": "{{ 7 * 7 }}{% raw %}",
    "right to left": "שונית ההוראה",
    "direction": "a\\u202eb",
    "emoji": "🪸🐠👩🏽‍🔬",
    "long": "Riff " * 40,
    "no blank": "W" * 200,
}


def named(name: str) -> str:
    return changed(
        ("title: Test bench", f'title: "{name}"'),
        ("crest: {dli", f'crest: {{label: "{name}", dli'),
        ("    ballast: pair\n", f'    ballast: pair\n    label: "{name}"\n'),
        ("blue-a: {watts: 54}", f'blue-a: {{watts: 54, label: "{name}"}}'),
    )


def test_the_same_program_gives_the_same_bytes() -> None:
    found = compiled(example("smallest"), TWO_WEEKS)
    first = render_page(found.program, found.report, found.document.lines)  # type: ignore[union-attr]
    again = render_page(found.program, found.report, found.document.lines)  # type: ignore[union-attr]
    assert first == again
    assert b"\r" not in first


def test_nothing_is_loaded_from_anywhere() -> None:
    text = page(example("smallest"), TWO_WEEKS)
    for tag, attributes in read(text).tags:
        assert tag not in ("img", "iframe", "object", "embed", "base", "form")
        for key in ("src", "href", "xlink:href", "action", "data"):
            assert not (attributes.get(key) or "").startswith(("http", "//", "file")), attributes
    assert not re.search(r"@import|url\((?!#)", text)
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]*)"', text)
    assert "default-src &#39;none&#39;" in policy
    assert "connect-src &#39;none&#39;" in policy


def test_only_our_script_may_run() -> None:
    text = page()
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src &#39;sha256-{digest}&#39;" in text


@pytest.mark.parametrize("name", STRANGE.values(), ids=STRANGE)
def test_names_of_strangers_are_text_and_nothing_else(name: str) -> None:
    text = page(named(name), TWO_WEEKS)
    plain, strange = read(page(changed(), TWO_WEEKS)), read(text)
    assert [tag for tag, _ in strange.tags if tag in ("script", "img")] == ["script"]
    assert not any(key.startswith("on") for _, a in strange.tags for key in a)
    assert len(strange.tables) == len(plain.tables)
    assert "\u202e" not in text
    if "{{" in name:
        assert name in words(text)
    html5lib.HTMLParser(strict=True).parse(text)


def test_the_words_of_a_figure_stand_at_its_end() -> None:
    """HTML Living Standard, 4.4.12: a figcaption is the first or the last child of its figure."""
    tree = html5lib.parse(page(example("smallest"), TWO_WEEKS), namespaceHTMLElements=False)
    figures = list(tree.iter("figure"))
    assert figures
    for figure in figures:
        tags = [child.tag for child in figure]
        assert "figcaption" not in tags[:-1], tags


@pytest.mark.parametrize("name", ["smallest", "never-dark", "few-rows", "measured-ballast"])
def test_pages_of_examples_are_valid_html(name: str) -> None:
    text = page(example(name))
    html5lib.HTMLParser(strict=True).parse(text)
    ids = [a["id"] for _, a in read(text).tags if "id" in a]
    assert len(ids) == len(set(ids))
    named = {
        word
        for _, attributes in read(text).tags
        for key in ("aria-labelledby", "aria-describedby")
        for word in (attributes.get(key) or "").split()
    }
    assert named <= set(ids)


def test_every_picture_has_a_title_a_description_and_numbers_or_words() -> None:
    tags = read(page(example("smallest"), TWO_WEEKS)).tags
    pictures = [a for tag, a in tags if tag == "svg" and a.get("role") == "img"]
    assert len(pictures) >= 7
    assert sum(tag == "desc" for tag, _ in tags) == len(pictures)
    assert all(len((a["aria-labelledby"] or "").split()) == 2 for a in pictures)


def test_every_look_is_in_the_style() -> None:
    text = page(example("smallest"), TWO_WEEKS)
    (style,) = re.findall(r"<style>(.*?)</style>", text, re.DOTALL)
    looks = {
        word
        for tag, a in read(text).tags
        if tag in ("path", "text")
        for word in (a.get("class") or "").split()
    }
    missing = {look for look in looks if f".{look}" not in style}
    assert missing == set()


def test_a_refused_program_says_that_nothing_may_be_loaded() -> None:
    text = words(page(changed(("ppfd_max: 200", "ppfd_max: 90"))))
    assert "Load nothing of this." in text
    assert "rows of the table, any date" not in text
    # Nor does it say what to load when, or what whoever looks after the tank should see.
    dated = words(page(changed(("ppfd_max: 200", "ppfd_max: 90")), TWO_WEEKS))
    for each in ("Load 1:", "load them once", "The controller does everything by itself"):
        assert each not in text and each not in dated
        assert each in words(page()) or each in words(page(changed(), TWO_WEEKS))
    assert "rows of the table, any date" in words(page())


def test_a_schedule_without_zones_has_a_page() -> None:
    text = changed(
        ("zones:\n  crest: {dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}\n", ""),
        ("    full_ppfd: {zones: {crest: 130}}\n", ""),
    )
    assert "No zone is described, so no dose is known." in words(page(text, TWO_WEEKS))


def test_a_dark_program_has_a_page() -> None:
    dark = changed(("peaks: [{light_percent: 80}]", "peaks: [{light_percent: 0}]"))
    text = page(dark, TWO_WEEKS)
    assert "dark all day" in words(text)
    html5lib.HTMLParser(strict=True).parse(text)


@pytest.mark.slow
def test_sixty_four_channels_have_a_page() -> None:
    head, _, body = changed(("  channels: 2\n", "")).partition("channels:\n")
    _, _, one = body.partition("  blue:\n")
    one = one.replace("    tubes: [blue-a]\n", "").replace("tank: bench\n", "")
    one = one.replace("crest: 130", "crest: 2")
    channels = "".join(f"  c{number}:\n{one}" for number in range(64))
    text = page(
        head.replace("tubes:\n  blue-a: {watts: 54}\n", "") + "tank: bench\nchannels:\n" + channels
    )
    assert text.count('class="name"') >= 64
    assert len(text) < 1_000_000


def test_a_template_is_compiled_once() -> None:
    assert environment().get_template("page.html") is environment().get_template("page.html")


def test_without_the_library_the_way_out_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    environment()  # also after it was there
    monkeypatch.setitem(sys.modules, "jinja2", None)
    with pytest.raises(OutsideWorldError) as fault:
        environment()
    assert fault.value.code == "PHO515"
    assert "photoperiod[report]" in fault.value.help


@pytest.mark.slow
def test_a_year_of_tables_is_under_a_megabyte() -> None:
    import datetime as dt

    from photoperiod.program.dates import DateSpan

    span = DateSpan(dt.date(2027, 1, 1), dt.date(2027, 12, 31))
    text = page(example("southern-summer"), span)
    assert len(text.encode()) < 1_000_000
    html5lib.HTMLParser(strict=True).parse(text)


def test_what_is_typed_is_code_and_no_backtick_is_seen() -> None:
    span = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    text = page(example("natural-year"), span)
    assert "<code>measured_on</code>" in text
    without = re.sub(r"<(script|style)>.*?</\1>", "", text, flags=re.DOTALL)
    assert "`" not in without


def test_code_of_a_stranger_is_text() -> None:
    assert code_html("say `<b>` & `x`") == "say <code>&lt;b&gt;</code> &amp; <code>x</code>"
    assert code_html("one ` alone") == "one ` alone"
