"""What stands in one line: dates as they are, in text alone."""

from __future__ import annotations

import pytest

from photoperiod.page.unbroken import unbroken
from tests.page.pages import TWO_WEEKS, example, page

ONE = '<span class="one">'


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("on 2027-03-28, before", "on <time>2027-03-28</time>, before"),
        ("2027-03-28T09:00", "<time>2027-03-28</time>T09:00"),
        ("out-2027-03-28.csv", "out-<time>2027-03-28</time>.csv"),
        ("12027-03-28, 2027-03-285", "12027-03-28, 2027-03-285"),
        ("74 to 100 %.", f"74 to {ONE}100 %</span>."),
        ("0.62 % of 8 h", f"{ONE}0.62 %</span> of 8 h"),
        ("09:00–10:56 to 19:04–21:00", f"{ONE}09:00–10:56</span> to {ONE}19:04–21:00</span>"),
        ("in µmol m⁻² s⁻¹", f"in {ONE}µmol m⁻² s⁻¹</span>"),
        ("7.96 mol m⁻² d⁻¹", f"7.96 {ONE}mol m⁻² d⁻¹</span>"),
    ],
)
def test_what_is_read_as_one_is_marked(text: str, expected: str) -> None:
    assert unbroken(f"<p>{text}</p>") == f"<p>{expected}</p>"


@pytest.mark.parametrize(
    "html",
    [
        '<a title="2027-03-28">x</a>',
        "<title>2027-03-28</title>",
        "<svg><title>2027-03-28</title><text>50 %</text>\n<text>2027-03-28</text></svg>",
        "<style>a{width:50 %}</style>",
        "<script>'2027-03-28'</script>",
    ],
)
def test_attributes_pictures_and_scripts_stay(html: str) -> None:
    assert unbroken(html) == html


def test_code_keeps_each_character() -> None:
    html = "<code>--from 2027-03-28</code> <p>2027-03-29</p>"
    expected = "<code>--from <time>2027-03-28</time></code> <p><time>2027-03-29</time></p>"
    assert unbroken(html) == expected


def test_dates_of_a_page_are_marked() -> None:
    text = page(example("smallest"), TWO_WEEKS)
    assert "<p><time>2027-03-02</time> to <time>2027-03-15</time>. Times are" in text
    assert '<th scope="row"><time>2027-03-02</time></th>' in text
