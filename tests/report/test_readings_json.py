"""What readings tell, as JSON: the schema holds, and the numbers are those of the text."""

from __future__ import annotations

import json
import re
from typing import Any

import jsonschema
import pytest
import yaml

from photoperiod.source.json_schema import load_schema
from photoperiod.text import number_text
from tests.conftest import ROOT, Run

FOLDER = ROOT / "examples" / "readings"
SCHEDULE = ROOT / "examples" / "measured-reef.yaml"


def both(run: Run, *arguments: object, stdin: bytes | None = None) -> tuple[dict[str, Any], str]:
    """Return what a command tells as JSON, by its schema, and as text."""
    more = {} if stdin is None else {"stdin": stdin}
    code, out, err = run("measure", *arguments, "--format", "json", **more)
    data = json.loads(out)
    jsonschema.Draft202012Validator(load_schema("readings")).validate(data)
    assert data["kind"] == arguments[0]
    text_code, text, text_err = run("measure", *arguments, **more)
    assert (code, err) == (text_code, "")
    # What is found on the file is told in both, as often
    assert len(data["findings"]) == len(re.findall(r" PHO9\d\d ", text_err))
    return data, text


def test_a_map(run: Run) -> None:
    data, text = both(run, "map", FOLDER / "map.csv", "--schedule", SCHEDULE)
    assert [each["code"] for each in data["findings"]] == ["PHO909"] * 3
    assert (data["findings"][1]["line"], data["findings"][1]["column"]) == (238, 51)
    told = data["map"]
    assert (told["readings"], told["points"], told["unit"]) == (539, 180, "ppfd_umol_m2_s")
    rows = [line.split() for line in text.splitlines()]
    zones = {**told["zones"], "all points": told["all_points"]}
    shown = [
        [*zone.split(), channel, str(light["points"])]
        + [number_text(light[key], 1) for key in ("mean", "least", "most")]
        + [f"{light['uniformity']:.2f}"]
        for zone, channels in zones.items()
        for channel, light in channels.items()
    ]
    assert len(shown) == 12
    for row in shown:
        assert row in rows
    (pasted,) = [yaml.safe_load(text[text.index("full_ppfd:") :])["full_ppfd"]]
    assert all(each["full_ppfd"] == pasted for each in told["to_paste"].values())


def test_what_keeps_lines_from_being_pasted(run: Run) -> None:
    data, text = both(run, "map", FOLDER / "map.csv")
    for each in data["map"]["to_paste"].values():
        assert each["full_ppfd"] is None
        assert each["why_not"] in text and each["way_out"] in text


def test_a_sweep(run: Run) -> None:
    data, text = both(run, "sweep", FOLDER / "sweep.csv")
    told = data["sweep"]
    for point in told["points"]:
        percents = (number_text(point[f"{key}_percent"]) for key in ("read", "curve"))
        row = [f"{point['volts']:.2f}", *percents]
        assert row in [line.split() for line in text.splitlines()]
    assert f"floor   {number_text(told['floor']['light_percent'])} % of full" in text
    assert f"off by {number_text(told['noise_percent'])} % of full" in text
    assert (
        f"{told['laws'][0]['kind']}: off by {number_text(told['laws'][0]['rms_percent'])} %" in text
    )
    assert text.endswith(told["to_paste"])


def test_a_series(run: Run) -> None:
    data, text = both(run, "series", FOLDER / "series.csv", "--below-percent", "95")
    told = data["series"]
    losses = [
        number_text(told[f"loss{which}_percent_per_1000_h"], 3) for which in ("", "_low", "_high")
    ]
    assert "{} %, with 95 % confidence from {} to {} %".format(*losses) in text
    falls = told["falls_below"]
    assert f"at {number_text(falls['lit_hours'], 0)} lit hours, on {falls['date']} (from" in text
    assert text.endswith(told["to_paste"])


def test_a_depth(run: Run) -> None:
    data, text = both(run, "depth", FOLDER / "map.csv", "--at-cm", "60", "--beyond")
    told = data["depth"]
    assert told["at_depth_cm"] == 60
    for each in told["channels"].values():
        low, high = (number_text(each[f"per_m_{end}"], 3) for end in ("low", "high"))
        assert f"{number_text(each['per_m'], 3)} ({low} to {high})" in text
    places = told["light_at_depth"]["blue"]
    assert len(places) == 36 and all(each["is_beyond_readings"] for each in places)
    assert ["blue", number_text(places[0]["x_cm"]), number_text(places[0]["y_cm"]),
            number_text(places[0]["light"], 1), "beyond", "the", "readings"] in [
        line.split() for line in text.splitlines()
    ]  # fmt: skip


def test_a_lux(run: Run) -> None:
    pytest.importorskip("colour")
    data, text = both(run, "lux", "--illuminant", "FL11")
    told = data["lux"]
    assert data["file"] is None and data["sha256"] is None
    assert text.startswith(
        f"1 µmol m⁻² s⁻¹ of this light is {number_text(told['lux_per_umol'])} lux"
    )
    # a spectrum of shares adds up
    assert sum(told["photons_percent"].values()) == pytest.approx(100, abs=1e-3)


def test_a_grid(run: Run) -> None:
    size = ("--length-cm", "120", "--width-cm", "50", "--water-cm", "55", "--channel", "blue")
    code, out, _ = run("measure", "grid", *size, "--format", "json")
    data = json.loads(out)
    jsonschema.Draft202012Validator(load_schema("readings")).validate(data)
    _, rows, _ = run("measure", "grid", *size, "--format", "csv")
    points = {tuple(map(float, row.split(",")[:3])) for row in rows.splitlines()[1:]}
    grid = data["grid"]
    assert code == 0 and grid["points"] == len(points)
    assert points == {
        (x, y, z) for x in grid["x_cm"] for y in grid["y_cm"] for z in grid["depth_cm"]
    }


@pytest.mark.parametrize("kind", ["map", "depth", "sweep", "series"])
def test_a_file_with_faults_tells_nothing_but_them(run: Run, kind: str) -> None:
    data, text = both(run, kind, "-", stdin=b"nonsense\n1\n")
    assert text == "" and data[kind] is None
    assert [each["code"] for each in data["findings"]] == ["PHO903"]
    assert data["file"] == "standard input"
