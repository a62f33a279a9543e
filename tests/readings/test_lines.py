"""Lines to paste are YAML that says what was meant, or it is said what is missing."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.readings.extent import Box, Extent, PointList
from photoperiod.readings.lines import Lines, Meant, lines_of
from photoperiod.source.document import read_text
from tests.readings.bench import map_of

ZONES: dict[str, Extent] = {"crest": Box(x_cm=(0, 5), y_cm=(0, 5), depth_cm=(0, 5))}


def of(*rows: str, zones: dict[str, Extent] | None = None, file: str | None = "map.csv") -> Lines:
    found = map_of(*rows)
    assert found.readings is not None and found.map is not None
    meant = Meant(zones=ZONES if zones is None else zones, file=file)
    return lines_of(found.readings, found.map, meant)["blue"]


@given(
    st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), min_size=1, max_size=12)
)
def test_any_file_name_is_read_back_by_yaml_and_by_the_schedule(name: str) -> None:
    text = Lines(keys={"readings": name}).yaml
    assert yaml.safe_load(text) == {"full_ppfd": {"readings": name}}
    assert read_text("x.yaml", text.encode()).data == {"full_ppfd": {"readings": name}}


@pytest.mark.parametrize(
    "name", ["map.csv", "true", "No", "1e5", "0x1f", "0o17", ".5", "~", "2027-03-20", "1234567890"]
)  # fmt: skip
def test_words_that_yaml_takes_for_something_else_are_quoted(name: str) -> None:
    assert read_text("x.yaml", Lines(keys={"readings": name}).yaml.encode()).data == {
        "full_ppfd": {"readings": name}
    }


def test_what_is_missing() -> None:
    good = of("1,1,1,blue,100,130,yes,")
    assert list(good.keys) == ["readings", "readings_sha256"] and not good.why_not
    assert of("1,1,1,blue,100,130,yes,", zones={}).why_not == "no zone is known here"
    assert of("9,9,9,blue,100,130,yes,").why_not == "no reading of it is in a zone"
    assert of("1,1,1,blue,100,130,yes,", file=None).why_not == "a schedule can name a file only"
    points: dict[str, Extent] = {"sand": PointList(points=((1, 1, 1), (1, 1, 9)))}
    assert "at the point (1, 1, 9)" in of("1,1,1,blue,100,130,yes,", zones=points).why_not
