"""What exports that are source code share: comments, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from photoperiod.drive.grid import Row
from photoperiod.formats import c_header, micropython
from photoperiod.formats.image import ChannelImage, DatedTable, ImageFault
from photoperiod.formats.source_text import comment, player_source, story, wrapped
from tests.formats.evil import EVIL
from tests.targets.images import HARD, about, channel, image

Render = Callable[..., bytes]

RENDERS = pytest.mark.parametrize(
    "render", [c_header.render, micropython.render], ids=["C", "Python"]
)


def test_comment_keeps_letters_and_tells_the_rest_by_number() -> None:
    assert comment("Käfig – 礁") == "Käfig – 礁"
    assert comment("a\\b\u202ec\n") == "a(U+005C)b(U+202E)c(U+000A)"
    assert comment("/**/ ??/") == "/ * * / ? ? /"


@pytest.mark.parametrize("text", EVIL)
def test_a_comment_has_no_line_end_no_backslash_and_no_end(text: str) -> None:
    shown = comment(text)
    assert shown.isprintable()
    assert not any(pair in shown for pair in ("*/", "/*", "//", "??", "\\"))


def test_lines_are_wrapped_between_words_and_empty_ones_stay() -> None:
    assert list(wrapped(["one two three", "", "long-word-here"], 8)) == [
        "one two", "three", "", "long-word-here",
    ]  # fmt: skip


def test_tables_of_no_date_say_so() -> None:
    made = HARD["falls"]
    assert "Dates      none: the same table every day" in list(story(made, about(made)))


def test_a_table_that_another_version_compiled_names_both() -> None:
    made = HARD["falls"]
    lines = list(story(made, about(made, made_with="photoperiod 0.0.9")))
    assert "Made with  photoperiod 0.0.9, tzdata 2026a" in lines
    assert any(line.startswith("Written by photoperiod ") for line in lines)


def test_players_stand_in_the_package() -> None:
    assert "photoperiod_play" in player_source("player.h")


@RENDERS
@pytest.mark.parametrize("id", ["", "Blue", "1a", "a_b", "a b", "x\ny", "a*/", "ä", "a" * 41, "-a"])
def test_only_ids_become_names(render: Render, id: str) -> None:
    made = image([(0, 1)])
    with pytest.raises(ImageFault, match="is no id of a channel"):
        render(made, about(made, channels={id: channel("x")}))


@RENDERS
def test_what_is_told_must_be_of_the_table(render: Render) -> None:
    made = image([(0, 1)])
    with pytest.raises(ImageFault, match="has 1 channels, and its description has 2"):
        render(made, about(made, channels={"a": channel(""), "b": channel("")}))
    with pytest.raises(ImageFault, match="is of another schedule"):
        render(made, about(made, sha256="0" * 64))


@RENDERS
def test_what_does_not_fit_is_refused(render: Render) -> None:
    made = image([(0, 1)])
    row = tuple(Row(second, second % 2, True) for second in range(0, 86_400, 2))
    many = replace(
        made,
        sets=tuple((Row(0, k, True), *row[1:]) for k in range(6)),
        tables=(DatedTable(0, (5,)),),
    )
    with pytest.raises(ImageFault, match="bytes are more than the"):
        render(many, about(many))
    for wrong in (
        replace(made, top_count=70_000),
        replace(made, channels=(ChannelImage(soft_count=1001),)),
        replace(made, sets=((Row(0, 1001, True),),)),
    ):
        with pytest.raises(ImageFault):
            render(wrong, about(wrong))


@RENDERS
def test_same_input_same_bytes_and_text_for_people_stays_out(render: Render) -> None:
    made = HARD["dated-and-shared"]
    first = render(made, about(made))
    assert render(made, about(made)) == first
    assert render(replace(made, about=b'{"a": 1}'), about(made)) == first
    assert first.endswith(b"\n") and b"\r" not in first
    text = first.decode()
    for part in ("Test bench", made.digest.hex(), "photoperiod 0.1.0", "tzdata 2026a",
                 "civil time of Europe/Lisbon", "2027-03-27 to 2027-05-06",
                 "Mains voltage beside salt water can kill."):  # fmt: skip
        assert part in text
