from __future__ import annotations

from photoperiod.page.figure import (
    HOURS,
    LEFT,
    RIGHT,
    WIDTH,
    Words,
    breadth,
    cut,
    hours_axis,
    line,
    named,
    sentence,
    value_axis,
)
from photoperiod.page.scales import Scale


def test_a_long_name_is_cut_by_columns_and_made_safe() -> None:
    assert cut("Blue pair", 14) == "Blue pair"
    assert cut("Blue pair of the crest", 12) == "Blue pair…"
    assert cut("a\u202eb\nc", 30) == "a\\u202eb\\x0ac"
    wide = cut("珊瑚" * 20, 9)  # two columns each
    assert wide == "珊瑚珊…"


#: Advance widths of Times-Roman (Adobe Core 14 AFM files, 1997): its metrics are those of Liberation Serif
#: [thousandths of the height of letters].
ADVANCES = {
    "W": 944, "M": 889, "m": 778, "w": 722, "@": 921, "%": 833, "&": 778, "Æ": 889, "…": 1000, "—": 1000,
    "A": 722, "B": 667, "E": 611, "I": 333, "N": 722, "O": 722, "Q": 722, "S": 556, "Z": 611,
    "a": 444, "b": 500, "d": 500, "i": 278, "n": 500, "o": 500, "0": 500, "9": 500, ",": 250, " ": 250,
}  # fmt: skip


def test_no_letter_is_wider_than_its_columns() -> None:
    # A column is half the height of letters.
    assert [c for c, wide in ADVANCES.items() if breadth(c) * 500 < wide] == []
    assert breadth("珊瑚") == 4
    assert cut("W" * 13, 13) == "WWWWW…"


def test_of_a_name_that_is_cut_the_whole_is_kept() -> None:
    assert named(1, 2, "Blue pair", 14) == Words(1, 2, "Blue pair", "name")
    assert named(1, 2, "Blue pair of the crest", 12, "end") == Words(
        1, 2, "Blue pair…", "end", "Blue pair of the crest"
    )


def test_the_hours_stand_from_edge_to_edge() -> None:
    assert 0 < LEFT < RIGHT < WIDTH
    shapes, words = hours_axis(100)
    assert [each.text for each in words] == ["00", "03", "06", "09", "12", "15", "18", "21", "24"]
    assert (words[0].x, words[-1].x) == (LEFT, RIGHT) == (HOURS.at(0), HOURS.at(24))
    assert len(shapes) == 10
    assert hours_axis(100, labels=False)[1] == []


def test_values_stand_beside_their_rules() -> None:
    shapes, words = value_axis(Scale(0.0, 350.0, 130.0, 10.0), 4)
    assert [each.text for each in words] == ["0", "100", "200", "300"]
    assert len(shapes) == 3, "no rule at 0: the axis is there"


def test_small_pieces() -> None:
    assert line(0, 1, 2, 3, "axis").d == "M0 1L2 3"
    assert Words(1.04, 2.06, "x").place == ("1", "2.1")
    assert sentence(("A.", "", "B.")) == "A. B."
