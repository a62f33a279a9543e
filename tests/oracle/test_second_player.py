"""docs/player.md is complete: a player written from it alone plays and refuses what all others do."""

from __future__ import annotations

import re
import struct
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.formats.image import Image, ImageFault, decode, encode
from photoperiod.player.reference import play
from tests.conftest import drawn
from tests.oracle.second_player import RefusedImage, SecondPlayer
from tests.player.test_reference import PAGE, VECTORS, image, rows_of, vector
from tests.targets.images import HARD, images, moments, with_checksum
from tests.targets.players import Moment, since
from tests.targets.test_damage import damaged_images, headers, systematic_images
from tests.targets.test_page import ANSWERS, IMAGE

Answer = tuple[int, list[tuple[int, int, bool]]]


def second(player: SecondPlayer, m: Moment) -> Answer:
    return player.play(m.day, m.second, m.clock_valid, m.stopped, since(m))


def reference(made: Image, m: Moment) -> Answer:
    status, outputs = play(
        made,
        m.day,
        m.second,
        clock_valid=m.clock_valid,
        stopped=m.stopped,
        since_start_s=m.since_start_s,
    )
    return int(status), [(o.count, o.code, o.relay) for o in outputs]


def refusal(raw: bytes) -> str:
    """Return the row of the page by which an image is refused; nothing if it is played."""
    try:
        SecondPlayer(raw)
    except RefusedImage as refused:
        return str(refused)
    return ""


def is_refused(raw: bytes) -> bool:
    try:
        decode(raw)
    except ImageFault:
        return True
    return False


def test_it_imports_nothing_of_ours() -> None:
    text = (Path(__file__).parent / "second_player.py").read_text(encoding="utf-8")
    imported = re.findall(r"^\s*(?:from|import) (\S+)", text, re.MULTILINE)
    assert imported == ["__future__", "struct", "zlib", "dataclasses", "itertools"]


@pytest.mark.parametrize("moment, wanted", ANSWERS, ids=lambda value: str(value)[:60])
def test_the_image_of_the_page(moment: Moment, wanted: Answer) -> None:
    assert second(SecondPlayer(IMAGE), moment) == wanted


@pytest.mark.parametrize("cells", VECTORS, ids=lambda cells: " ".join(cells[:3]))
def test_the_vectors_of_the_page(cells: list[str]) -> None:
    rows, said, at, count, relay, how = cells
    changes, output, since_start_s = vector(said)
    made = image(*rows_of(rows), channels=(output,), **changes)
    status, [(found, _, closed)] = second(
        SecondPlayer(encode(made)), Moment(0, int(at), since_start_s=since_start_s)
    )
    assert (found, closed, status == 8) == (int(count), relay == "closed", how.endswith("; soft"))


@pytest.mark.parametrize("name", HARD)
def test_hard_images(name: str) -> None:
    made, player = HARD[name], SecondPlayer(encode(HARD[name]))
    for moment in moments(made)[::3]:
        assert second(player, moment) == reference(made, moment)


@settings(max_examples=drawn(60))
@given(made=images(), data=st.data())
def test_drawn_images(made: Image, data: st.DataObject) -> None:
    player = SecondPlayer(encode(made))
    days = st.one_of(st.integers(-400, 70_000), st.sampled_from([t.first_day for t in made.tables]))
    drawn = data.draw(
        st.lists(
            st.builds(
                Moment,
                days,
                st.integers(-1, 86_401),
                clock_valid=st.sampled_from([True, True, False]),
                stopped=st.sampled_from([False, False, True]),
                since_start_s=st.one_of(st.none(), st.integers(0, 5_000_000)),
            ),
            min_size=5,
            max_size=20,
        )
    )
    for moment in drawn:
        assert second(player, moment) == reference(made, moment)


def test_it_refuses_what_the_reference_refuses_by_every_row_of_the_page() -> None:
    found = [raw for _, raw in zip(range(2500), damaged_images(7), strict=False)]
    found += systematic_images("dated-and-shared")
    found += systematic_images("listed-codes")[::2] + headers("stays")[::5]
    listed = encode(HARD["listed-codes"])
    found.append(with_checksum(listed[:28] + struct.pack("<i", 3) + listed[32:-4]))
    found.append(listed[:-1] + bytes([listed[-1] ^ 1]))
    reasons = set()
    for raw in found:
        reason = refusal(raw)
        assert (reason != "") == is_refused(raw), (reason, raw.hex())
        reasons.add(reason)
    table = PAGE[PAGE.index("## What is refused") : PAGE.index("Nothing else is a reason")]
    rows = set(re.findall(r"^\| ([^|]+) \| [^|]+ \|$", table, re.MULTILINE))
    assert reasons == rows - {"what", "---", "size"} | {""}
