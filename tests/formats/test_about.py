"""What a table file tells beside its rows: as data, and back."""

from __future__ import annotations

import json

import jsonschema
import pytest
from hypothesis import given, settings

from photoperiod.formats.about import (
    About,
    about_data,
    about_of,
    about_of_data,
    json_object,
    refuse_wrong_shape,
)
from photoperiod.formats.integrity import FileFault
from photoperiod.source.json_schema import load_schema
from tests.conftest import SCHEDULE, changed, compiled, drawn
from tests.formats.values import abouts


@settings(max_examples=drawn(25))
@given(abouts())
def test_data_give_the_same_value_back(about: About) -> None:
    data = json.loads(json.dumps(about_data(about)))
    assert about_of_data(data) == about
    assert about_data(about_of_data(data)) == data
    refuse_wrong_shape(data, with_rows=False)


@settings(max_examples=drawn(25))
@given(abouts())
def test_data_have_the_shape_of_the_schema(about: About) -> None:
    schema = load_schema("table")
    whole = about_data(about) | {"tables": [], "crc32": "00000000"}
    faults = [
        fault
        for fault in jsonschema.Draft202012Validator(schema).iter_errors(whole)
        if list(fault.path) != ["tables"]  # at least one is asked for
    ]
    assert faults == []


def test_a_program_tells_its_schedule_controller_and_light_path() -> None:
    program = compiled(SCHEDULE).program
    about = about_of(program, [])
    assert (about.title, about.clock, about.dates) == ("Test bench", "standard", None)
    assert about.time_zone is None, "the schedule names no place"
    # a nominal 12-bit converter of 10 V: code 4096 would be 10 V, so that 4095 is the top
    assert about.controller.full_code == 4095
    channel = about.channels["blue"]
    assert (channel.ballast.floor_volts, channel.ballast.floor_light) == (1.0, 0.01)
    assert (channel.full_ppfd, channel.tubes) == ({"crest": 130}, ("blue-a",))
    assert (channel.safe_state.count, channel.safe_state.relay) == (0, False)


def test_the_light_path_read_back_gives_the_same_light() -> None:
    text = changed(("light_percent: 1}", "light_percent: 1.7}"))
    about = about_of(compiled(text).program, [])
    path, back = (
        value.light_paths()["blue"] for value in (about, about_of_data(about_data(about)))
    )
    assert (path.codes == back.codes).all()
    assert path.burning_light == pytest.approx(back.burning_light, abs=1e-9)


def test_a_lamp_that_is_lit_in_the_safe_state_needs_its_relay_closed() -> None:
    text = changed(("    tubes: [blue-a]\n", "    tubes: [blue-a]\n    safe_light_percent: 10\n"))
    safe = about_of(compiled(text).program, []).channels["blue"].safe_state
    # square law: √0.1 of the root above 1 % is √0.01 + (1 − √0.01) × share = 0.316 at 31.6 % level
    assert (safe.light_percent, safe.count, safe.relay) == (10.0, 32, True)


@pytest.mark.parametrize("raw", [b"", b"{", b"\xff", b"[1]", b"1", b'"{}"'])
def test_what_is_no_object_is_refused(raw: bytes) -> None:
    with pytest.raises(FileFault, match=r"it is not JSON|it holds no table"):
        json_object(raw)


def test_another_version_is_named_before_another_shape() -> None:
    with pytest.raises(
        FileFault, match="it is of version 2, and this program reads version 1: upgrade"
    ):
        refuse_wrong_shape({"version": 2}, with_rows=False)
    with pytest.raises(FileFault, match="another shape than a table"):
        refuse_wrong_shape({"version": 1}, with_rows=False)
