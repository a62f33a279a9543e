"""Parts that tanks share: one schedule, in one file or in two, is the same schedule."""

from __future__ import annotations

import copy
import hashlib
import importlib.util
import json
import random
from collections.abc import Mapping
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.api import Compiled, Loaded, ScheduleError, compile, load, load_with
from photoperiod.formats.folder import render_all
from photoperiod.report.json import report_data
from photoperiod.report.sarif import render_sarif
from photoperiod.schedule.parts import files_beside, readings_of_parts
from photoperiod.source.json_schema import NAMES, load_schema, schema_text
from tests.codes.damage import BASE
from tests.conftest import EXAMPLES, ROOT, drawn, naming

HALL = ROOT / "examples" / "parts" / "hall.yaml"

#: Schedules in one file that are taken apart: with tubes of all kinds, readings, points and standby.
WHOLE = {"base": BASE} | {
    path.stem: path.read_text(encoding="utf-8")
    for path in EXAMPLES
    if path.stem in ("teaching-reef", "new-tubes", "measured-reef", "measured-ballast")
}
PLAIN = {  # by way of JSON: what an alias repeats is then a value of its own
    name: json.loads(json.dumps(yaml.load(text, yaml.BaseLoader))) for name, text in WHOLE.items()
}

#: What a kind can hold: the keys of its schema.
OF_KIND = {
    name: sorted(load_schema("parts")["$defs"][f"{name}_kind"]["properties"])
    for name in ("tube", "zone")
}


def plain(value: Any) -> Any:
    """Return a value with numbers where text looks like them; times and dates stay text."""
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [plain(each) for each in value]
    if isinstance(value, str) and ":" not in value and value.count("-") != 2:
        return yaml.safe_load(value)
    return value


def text_of(data: Any) -> bytes:
    return yaml.safe_dump(plain(data), sort_keys=False, allow_unicode=True).encode()


def loaded(data: Any, files: Mapping[str, bytes] | None = None) -> Loaded:
    def beside(name: str, most: int) -> bytes | str:
        if files and name in files:
            return files[name]
        return (ROOT / "examples" / name).read_bytes()[:most]

    return load_with("tank.yaml", text_of(data), beside, str)


def taken_apart(data: Any, pick: st.DataObject) -> tuple[Any, Any]:
    """Return a schedule without some of its parts, and a file with these."""
    own, parts = copy.deepcopy(data), {"parts": 1}
    own["parts"] = "shared/p.yaml"
    if pick.draw(st.booleans(), label="the controller is shared"):
        parts["controller"] = own.pop("controller")
    for id in list(own["ballasts"]):
        if pick.draw(st.booleans(), label=f"ballast {id} is shared"):
            ballast = own["ballasts"].pop(id)
            named = ballast["response"].get("readings")
            if named is not None:
                ballast["response"]["readings"] = f"../{named}"  # by its path from the parts
            parts.setdefault("ballasts", {})[id] = ballast
    if not own["ballasts"]:
        del own["ballasts"]
    for section, name in (("tubes", "tube"), ("zones", "zone")):
        for id, entry in own.get(section, {}).items():
            keys = [key for key in OF_KIND[name] if key in entry]
            shared = [key for key in keys if pick.draw(st.booleans(), label=f"{id}.{key}")]
            if name == "tube" and shared and "watts" not in shared:
                shared.append("watts")
            if not shared:
                continue
            kind = {key: entry.pop(key) for key in shared}
            series = kind.get("depreciation", {})
            if "readings" in series:
                series["readings"] = f"../{series['readings']}"
            entry["like"] = f"kind-{id}"
            parts.setdefault(f"{name}_kinds", {})[f"kind-{id}"] = kind
    return own, parts


def test_the_examples_that_are_taken_apart_have_what_can_be_shared() -> None:
    used = {
        key for data in PLAIN.values() for entry in data.get("tubes", {}).values() for key in entry
    }
    assert used >= {"watts", "depreciation", "replace_after_hours"}
    named = [file for data in PLAIN.values() for file in files_beside(data)]
    assert any("sweep" in name for name in named) or any(name.endswith(".csv") for name in named)


@settings(max_examples=drawn(25))
@given(st.sampled_from(sorted(PLAIN)), st.data())
def test_a_schedule_in_two_files_is_the_schedule_in_one(name: str, pick: st.DataObject) -> None:
    """The schedule that was taken apart is the expected value: it was read from one file."""
    whole = loaded(PLAIN[name])
    own, parts = taken_apart(PLAIN[name], pick)
    raw = text_of(parts)
    apart = loaded(own, {"shared/p.yaml": raw} | _readings_by_other_paths(own, parts))
    assert apart.schedule == whole.schedule
    told = [(d.code, d.message) for d in whole.findings]
    assert sorted(told) == sorted((d.code, d.message) for d in apart.findings)
    own_raw = text_of(own)
    digests = [hashlib.sha256(each).hexdigest() for each in (own_raw, raw)]
    digests += apart.schedule.readings_digests.values()
    expected = hashlib.sha256("".join(f"{each}\n" for each in digests).encode()).hexdigest()
    assert apart.schedule.digest == expected


def _readings_by_other_paths(own: Any, parts: Any) -> dict[str, bytes]:
    """Return the readings that parts name, by their paths through the folder of the parts."""
    names = [*files_beside(own), *readings_of_parts("shared/p.yaml", parts)]
    return {
        name: (ROOT / "examples" / name.removeprefix("shared/../")).read_bytes()
        for name in names
        if name.startswith("shared/../")
    }


def rows_of(compiled: Compiled) -> Any:
    files = render_all(compiled.program, compiled.findings)
    return json.loads(files["table.json"])["tables"]


def test_the_tables_of_both_are_the_same_and_tell_their_files() -> None:
    data = PLAIN["base"]
    own, parts = copy.deepcopy(data), {"parts": 1}
    parts |= {"controller": own.pop("controller"), "ballasts": own.pop("ballasts")}
    own["parts"] = "p.yaml"
    raw = text_of(parts)
    whole, apart = compile(loaded(data)), compile(loaded(own, {"p.yaml": raw}))
    assert rows_of(whole) == rows_of(apart)
    told = {"p.yaml": hashlib.sha256(raw).hexdigest()}
    files = render_all(apart.program, apart.findings)
    for name in ("table.json", "summary.json", "manifest.json"):
        assert json.loads(files[name])["schedule"]["parts"] == told
    assert (
        "parts"
        not in json.loads(render_all(whole.program, whole.findings)["table.json"])["schedule"]
    )


@pytest.mark.parametrize("name", NAMES)
def test_each_output_that_tells_the_digest_of_readings_tells_that_of_parts(name: str) -> None:
    def closed(node: Any) -> bool:
        if isinstance(node, list):
            return all(map(closed, node))
        if not isinstance(node, dict):
            return True
        keys = node.get("properties", {})
        tells = not {"sha256", "readings"} <= keys.keys() or keys["parts"]["type"] == "object"
        return tells and all(map(closed, node.values()))

    assert closed(load_schema(name))


def test_a_part_that_the_tank_does_not_use_is_not_its_own() -> None:
    """Else each tank would be told of the ballasts of all others (PHO318), and of what they leave out."""
    right = load(ROOT / "examples" / "hall-right.yaml")
    assert list(right.schedule.ballasts) == ["pair", "strip"]
    assert list(load(ROOT / "examples" / "hall-left.yaml").schedule.ballasts) == ["pair"]
    assert right.schedule.zones["rubble"].ppfd_max == 220
    assert right.schedule.tubes["white-a"].replace_after_hours == 9000


def faulty(own: str, parts: str) -> ScheduleError:
    with pytest.raises(ScheduleError) as fault:
        load_with("tank.yaml", own.encode(), lambda *_: parts.encode(), lambda name: f"hall/{name}")
    return fault.value


def test_a_fault_is_told_in_its_file_in_every_form() -> None:
    own = BASE.replace(
        "  crest: {dli: [3, 9], ppfd_max: 400, dark_hours_min: 8}\n", "  crest: {like: sps}\n"
    )
    fault = faulty(own + "parts: p.yaml\n", "parts: 1\nzone_kinds:\n  sps: {dli: [9, 3]}\n")
    assert str(fault) == "hall/p.yaml:3:14: error PHO319: 9 is above 3"
    (finding,) = report_data(fault.report)["diagnostics"]
    assert (finding["file"], finding["line"], finding["column"]) == ("hall/p.yaml", 3, 14)
    assert finding["path"] == ["zones", "crest", "dli"]
    (result,) = json.loads(render_sarif(fault.report))["runs"][0]["results"]
    place = result["locations"][0]["physicalLocation"]
    assert (place["artifactLocation"]["uri"], place["region"]["startLine"]) == ("hall/p.yaml", 3)


def test_what_is_said_twice_is_shown_in_both_files() -> None:
    fault = faulty(BASE + "parts: p.yaml\n", "parts: 1\nballasts:\n  pair: 3\n")
    twice = next(d for d in report_data(fault.report)["diagnostics"] if d["code"] == "PHO371")
    assert (twice["file"], twice["line"]) == ("tank.yaml", 20)
    assert (twice["related"][0]["file"], twice["related"][0]["line"]) == ("hall/p.yaml", 3)


def test_faults_of_both_files_come_together_those_of_the_schedule_first() -> None:
    own = BASE.replace("bits: 12", "bits: twelve") + "parts: p.yaml\n"
    fault = faulty(own, "parts: 1\ntube_kinds:\n  t5: {watts: 0}\n")
    assert [(d.code, d.file) for d in fault.findings] == [("PHO203", ""), ("PHO205", "p.yaml")]


@pytest.mark.parametrize("parts", ["", "\xff", "[", "- 3\n", "parts: p.yaml\n", "schedule: 1\n",
    "parts: 1\ncontroller: 3\nballasts: []\ntube_kinds: 3\nzone_kinds: {sps: }\n"])  # fmt: skip
def test_a_broken_file_of_parts_is_told_alone(parts: str) -> None:
    """What would have come from it is not complained of: each finding stands in that file."""
    own = """
schedule: 1
tank: left
parts: p.yaml
tubes: {a: {like: t5}}
zones: {crest: {like: sps}}
channels:
  blue:
    ballast: pair
    tubes: [a]
    full_ppfd: {zones: {crest: 100}}
    moonlight: {kind: steady, light_percent: 2, start: 22:00, end: 02:00}
"""
    raw = parts.encode("latin-1")
    with pytest.raises(ScheduleError) as fault:
        load_with("tank.yaml", own.encode(), lambda *_: raw, str)
    assert {d.file for d in fault.value.findings} == {"p.yaml"}


def test_the_readings_of_parts_are_named_from_the_folder_of_the_schedule() -> None:
    data = {"ballasts": {"a": {"response": {"readings": "s.csv"}}},
            "tube_kinds": {"b": {"depreciation": {"readings": "../t.csv"}}}}  # fmt: skip
    assert readings_of_parts("parts/hall.yaml", data) == ["parts/s.csv", "parts/../t.csv"]
    assert readings_of_parts("hall.yaml", data) == ["s.csv", "../t.csv"]
    for other in (None, [], 3, {"ballasts": 3}):
        assert readings_of_parts("hall.yaml", other) == []


def test_the_schema_of_parts_is_current() -> None:
    """It is a part of that of schedules, word for word, so that editors need no second file."""
    path = ROOT / "docs" / "write_parts_schema.py"
    spec = importlib.util.spec_from_file_location("write_parts_schema", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert schema_text("parts") == module.text(), "run: python docs/write_parts_schema.py"
    for name, definition in load_schema("parts")["$defs"].items():
        if not name.endswith("_kind"):
            assert definition == load_schema("schedule")["$defs"][name]


def test_no_damage_of_a_file_of_parts_is_a_bug() -> None:
    """Whatever stands there, there is a schedule or there are findings; lines that are lost, doubled, cut."""
    chance = random.Random(11)
    own = (ROOT / "examples" / "hall-right.yaml").read_bytes()
    lines = HALL.read_bytes().splitlines(keepends=True)
    refused = 0
    for _ in range(60):
        damaged = list(lines)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(damaged))
            match chance.randrange(4):
                case 0:
                    del damaged[at]
                case 1:
                    damaged.insert(at, chance.choice(lines))
                case 2:
                    damaged[at] = damaged[at][: chance.randrange(len(damaged[at]) + 1)]
                case _:
                    other = chance.choice((b"x", b"-1", b"[", b"\xff"))
                    damaged[at] = damaged[at].replace(b"1", other)
        raw = b"".join(damaged)
        with naming(raw):
            try:
                load_with("tank.yaml", own, lambda *_, raw=raw: raw, str)
            except ScheduleError as fault:
                refused += 1
                assert all(d.source_range is not None for d in fault.findings)
    assert 20 < refused < 60
