"""Thousands of damaged and changed schedules: whatever comes in, only diagnostics come out."""

from __future__ import annotations

import copy
import datetime as dt
import json
import random
import re
import unicodedata
from collections import Counter
from dataclasses import dataclass, field

import pytest

from photoperiod.diagnostics.codes import CODES
from photoperiod.program.dates import DateSpan
from photoperiod.report.json import render_json
from photoperiod.report.sarif import render_sarif
from photoperiod.report.text import counts_line, render_text
from photoperiod.source.document import read_text
from photoperiod.source.json_schema import load_schema
from tests.conftest import ROOT, compile_and_check, load

SEED = 20_270_310

#: Inputs of the ordinary run, and of each of the long ones.
FEW, MANY = 500, 2_000

#: Every so many inputs that give a schedule, one is compiled.
COMPILE_EVERY = 50

#: The date of those whose days differ.
DATE = dt.date(2027, 3, 28)

STAGES = ("reading", "shape", "meaning", "schedule")

EXAMPLES = [
    (ROOT / "examples" / name).read_bytes()
    for name in ("smallest.yaml", "teaching-reef.yaml", "polar-night.yaml")
]
#: The smallest file is read in half the time, so it comes three times as often.
WEIGHTS = (3, 1, 1)

# Damage to the text

# fmt: off
HOSTILE = [
    b"\x00", b"\x1b[31m", b"\x07", b"\x7f", b"\xff\xfe", b"\xc3\x28", b"\xed\xa0\x80",
    b"\xef\xbb\xbf", b"\t", b"\r", b"\r\n", b"\n\n", b"\xe2\x80\xa8", b"\xc2\x85", b"\xe2\x80\xae",
    b"\xe2\x81\xa6", b"[", b"{", b"]", b"}", b"[[[[", b"{{{{", b"- - - ", b"? ", b": ", b":", b"#",
    b" #", b",", b"'", b'"', b"&a ", b"*a", b"*a ", b"&a [*a]", b"!!int ", b"!!python/object:x ",
    b"!x ", b"<<: *a\n", b"<<: {}\n", b"\n---\n", b"\n...\n", b"%YAML 1.1\n", b"|\n", b">\n", b"@",
    b"`", b"%", b"10 V", b"on", b".inf", b"-.inf", b".nan", b"1e999", b"-1", b"0", b"1e308",
    b"0x1F", b"9" * 60, b"null", b"~", b"true", b'"\\x1b[2J"', b'"\\x9b2J"', b'"\\x7f"',
    b'"\\ud800"', b'"\\u202e"', b'"\\u2028"', b'"\\q"', b'"\\n"', b'"\\x9b2J": 1\n',
    b'? "\\u202ekey"\n: 1\n', b"schedule: 2\n", b"kind: sun\n", b"changes: []\n",
    b"../../etc/passwd", b"x" * 300, b"\xf0\x9f\x90\xa0\xcc\x81", b"25:00", b"7:30", b"sunrise",
    b"civil dusk - 30 min", b"{at: sunset, if_none: '15:00'}", b"{at: noon + 999 min}",
    b"2027-02-30",
]
# fmt: on

VALUE = re.compile(rb"(?<=[ \[:])(?:[0-9.:T-]+|[a-z][a-z-]*)(?=[,}\]\n])")


def between(rng, raw):
    start = rng.randrange(len(raw) + 1)
    return start, min(start + rng.choice((1, 1, 2, 5, 20, 200)), len(raw))


def flip_byte(rng, raw):
    at = rng.randrange(len(raw)) if raw else 0
    return raw[:at] + bytes([rng.randrange(256)]) + raw[at + 1 :]


def flip_letter(rng, raw):
    at = rng.randrange(len(raw)) if raw else 0
    return raw[:at] + bytes([rng.randrange(32, 127)]) + raw[at + 1 :]


def delete(rng, raw):
    start, end = between(rng, raw)
    return raw[:start] + raw[end:]


def repeat(rng, raw):
    start, end = between(rng, raw)
    return raw[:end] + raw[start:end] * rng.choice((1, 1, 3)) + raw[end:]


def insert_hostile(rng, raw):
    at = rng.randrange(len(raw) + 1)
    return raw[:at] + rng.choice(HOSTILE) + raw[at:]


def replace_value(rng, raw):
    found = list(VALUE.finditer(raw))
    if not found:
        return raw
    hit = rng.choice(found)
    return raw[: hit.start()] + rng.choice(HOSTILE) + raw[hit.end() :]


def swap_values(rng, raw):
    found = list(VALUE.finditer(raw))
    if len(found) < 2:
        return raw
    one, two = sorted(rng.sample(found, 2), key=lambda hit: hit.start())
    return raw[: one.start()] + two[0] + raw[one.end() : two.start()] + one[0] + raw[two.end() :]


def change_lines(rng, raw):
    lines = raw.split(b"\n")
    one, two = rng.randrange(len(lines)), rng.randrange(len(lines))
    match rng.randrange(4):
        case 0:
            lines[one], lines[two] = lines[two], lines[one]
        case 1:
            del lines[one]
        case 2:
            lines.insert(one, lines[two])
        case 3:
            lines[one] = b" " * rng.randrange(8) + lines[one].lstrip()
    return b"\n".join(lines)


def truncate(rng, raw):
    return raw[: rng.randrange(len(raw) + 1)]


#: Reading fails easily; what only a later stage finds comes more often.
DAMAGE = (
    *(flip_byte, flip_letter, flip_letter, delete, repeat, insert_hostile, truncate),
    *(replace_value,) * 3,
    *(swap_values,) * 2,
    *(change_lines,) * 2,
)


def damaged(rng):
    raw = rng.choices(EXAMPLES, WEIGHTS)[0]
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        raw = rng.choice(DAMAGE)(rng, raw)
    return raw


# Changes that keep the shape

SCHEMA = load_schema("schedule")
IDS = ("ballasts", "tubes", "zones", "channels")


def resolved(schema):
    while "$ref" in schema:
        schema = SCHEMA["$defs"][schema["$ref"].rsplit("/", 1)[-1]] | {
            key: value for key, value in schema.items() if key != "$ref"
        }
    return schema


def variant(schema, kind):
    """Return the schema of one kind of a mapping that has several."""
    for branch in schema["allOf"]:
        if branch["if"]["properties"]["kind"]["const"] == kind:
            return resolved(branch["then"])
    raise AssertionError(kind)


def number(rng, schema, old=None):
    low = schema.get("minimum", schema.get("exclusiveMinimum", -1000))
    high = schema.get("maximum", 1000)
    value = rng.choice(
        (low, high, rng.uniform(low, high), low + (high - low) * rng.random() ** 4, old, old)
    )
    if value is None or value is old:
        value = min(max((old or 1) * rng.choice((0.5, 0.9, 1.01, 1.1, 2)), low), high)
    value = round(value, rng.choice((0, 0, 1, 2, 3)))
    if schema["type"] == "integer" or (rng.random() < 0.3 and low <= int(value)):
        value = int(value)
    if "exclusiveMinimum" in schema and value <= low:
        value = low + 1 if schema["type"] == "integer" else low + 0.01
    return value


def clock_time(rng, *, is_end):
    if is_end and rng.random() < 0.1:
        return "24:00"
    hour, minute = rng.randrange(24), rng.choice((0, 0, 0, 15, 30, 59, rng.randrange(60)))
    text = f"{hour:02d}:{minute:02d}" if rng.random() < 0.8 else f"{hour}:{minute:02d}"
    return text + (f":{rng.randrange(60):02d}" if rng.random() < 0.1 else "")


def text_value(rng, schema, ids):
    pattern = schema.get("pattern", "")
    if "24:00" in pattern or "[01]?[0-9]" in pattern:
        return clock_time(rng, is_end="24:00" in pattern)
    if pattern.startswith("^[0-9]{4}"):
        date = f"{rng.randrange(2026, 2029)}-{rng.randrange(1, 13):02d}-{rng.randrange(1, 31):02d}"
        return date + ("T10:00" if "T(" in pattern and rng.random() < 0.3 else "")
    if pattern:
        return rng.choice(ids or ["nobody"])
    if "enum" in schema:
        return rng.choice(schema["enum"])
    return rng.choice(("a word or two", "\u202eright to left", "12 < 13 & more", "Ω" * 60, "x\ty"))


def made(rng, schema, data):
    """Return a new value of a schema, with what it requires."""
    schema = resolved(schema)
    if "const" in schema:
        return schema["const"]
    kind = schema.get("type")
    match rng.choice(kind) if kind == ["number", "array"] else kind:
        case "number" | "integer":
            return number(rng, schema)
        case "boolean":
            return rng.random() < 0.5
        case "string":
            return text_value(rng, schema, [id for key in IDS for id in data.get(key, {})])
        case "array":
            least = schema.get("minItems", 0)
            count = rng.randrange(least, min(least + 3, schema.get("maxItems", 4)) + 1)
            items = [made(rng, schema["items"], data) for _ in range(count)]
            if schema.get("uniqueItems"):
                items = list(dict.fromkeys(items))
            return items
    if "allOf" in schema:
        schema = variant(schema, rng.choice(schema["properties"]["kind"]["enum"]))
    value = {key: made(rng, schema["properties"][key], data) for key in schema.get("required", ())}
    if "properties" in schema and schema.get("minProperties") and not value:
        key = rng.choice(sorted(schema["properties"]))
        return {key: made(rng, schema["properties"][key], data)}
    if "properties" not in schema or schema.get("minProperties"):
        zones = list(data.get("zones", {})) or ["nowhere"]
        value = {rng.choice(zones): made(rng, schema["additionalProperties"], data)}
    return value


def places(schema, data):
    """Yield (container, key, schema of the value, schema of the container) for all values."""
    schema = resolved(schema)
    if isinstance(data, list):
        for index in range(len(data)):
            yield data, index, resolved(schema["items"]), schema
            yield from places(schema["items"], data[index])
    elif isinstance(data, dict):
        if "allOf" in schema:
            schema = variant(schema, data["kind"])
        for key in data:
            inner = schema.get("properties", {}).get(key) or schema["additionalProperties"]
            yield data, key, resolved(inner), schema
            yield from places(inner, data[key])


def change_value(rng, data):
    spots = [
        (container, key, schema)
        for container, key, schema, _ in places(SCHEMA, data)
        if schema.get("type") in ("number", "integer", "boolean", "string") and key != "kind"
    ]
    # Times and numbers many times over; labels, ids and modes now and then.
    weights = [1 if "enum" in s or s["type"] in ("string", "boolean") else 3 for *_, s in spots]
    if not spots:
        return
    container, key, schema = rng.choices(spots, weights)[0]
    if schema.get("const") == 1:
        return
    if schema["type"] in ("number", "integer"):
        container[key] = number(rng, schema, container[key])
    elif not schema.get("pattern", "").startswith("^[a-z]"):
        container[key] = made(rng, schema, data)


def change_kind(rng, data):
    spots = [
        (container, key, schema)
        for container, key, schema, _ in places(SCHEMA, data)
        if isinstance(container[key], dict) and "allOf" in schema
    ]
    if not spots:  # kinds may be in another file, that of shared parts, and the rest dropped before
        return
    container, key, schema = rng.choice(spots)
    container[key] = made(rng, schema, data)


def drop_optional(rng, data):
    spots = [
        (container, key)
        for container, key, _, around in places(SCHEMA, data)
        if isinstance(container, dict) and key in around.get("properties", {})
        if key not in around.get("required", ())
    ]
    if spots:
        container, key = rng.choice(spots)
        del container[key]


def add_optional(rng, data):
    spots = []
    for container, key, schema, _ in places(SCHEMA, data):
        value = container[key]
        if not isinstance(value, dict):
            continue
        inner = variant(schema, value["kind"]) if "allOf" in schema else schema
        for name, about in inner.get("properties", {}).items():
            if name not in value and "x-reserved" not in about:
                spots.append((value, name, about))
    if spots:
        container, key, schema = rng.choice(spots)
        container[key] = made(rng, schema, data)


def rename_id(rng, data):
    keys = [key for key in IDS if data.get(key)]
    if not keys:
        return
    key = rng.choice(keys)
    old = rng.choice(list(data[key]))
    new = rng.choice(("z", "a-1", old[:38] + "-2", "a" * 40, "n0-"))
    if new in data[key]:
        return
    data[key] = {new if id == old else id: value for id, value in data[key].items()}
    for channel in data["channels"].values():
        if key == "ballasts" and channel["ballast"] == old:
            channel["ballast"] = new
        if key == "tubes" and "tubes" in channel:
            channel["tubes"] = [new if id == old else id for id in channel["tubes"]]
        if key == "zones" and "zones" in channel.get("full_ppfd", {}):
            zones = channel["full_ppfd"]["zones"]
            channel["full_ppfd"]["zones"] = {
                new if id == old else id: value for id, value in zones.items()
            }


CHANGES = (
    *(change_value,) * 6,
    *(change_kind, drop_optional, drop_optional, add_optional, rename_id, rename_id),
)
BASES = [read_text("example", raw).data for raw in EXAMPLES]


def changed(rng):
    data = copy.deepcopy(rng.choices(BASES, WEIGHTS)[0])
    for _ in range(rng.choice((1, 1, 2, 3, 5))):
        rng.choice(CHANGES)(rng, data)
    # JSON is YAML: one value a line, so that places differ.
    return json.dumps(data, indent=1, ensure_ascii=rng.random() < 0.5).encode()


# The run


@dataclass
class Run:
    """What thousands of inputs led to."""

    failures: list[str] = field(default_factory=list)
    stages: Counter = field(default_factory=Counter)
    codes: Counter = field(default_factory=Counter)
    kept_shape: Counter = field(default_factory=Counter)
    compiled: int = 0


def stage_reached(outcome):
    codes = {d.code for d in outcome.report if d.severity == "error"}
    if any(code[3] == "1" for code in codes):
        return "reading"
    if any(code[3] == "2" for code in codes - {"PHO209"}):
        return "shape"
    return "meaning" if codes else "schedule"


def assert_clean(text):
    """Assert that nothing in a text can steer a terminal."""
    for character in sorted(set(text) - {"\n"}):
        category = unicodedata.category(character)
        assert category not in ("Cc", "Cs", "Zl", "Zp"), f"U+{ord(character):04X} is put out"


def assert_reported_well(outcome):
    report, lines = outcome.report, outcome.document.lines
    assert (outcome.schedule is not None) == (not report.has_errors)
    for diagnostic in report:
        assert diagnostic.code in CODES
        assert diagnostic.message
        spans = [diagnostic.source_range, *(item.source_range for item in diagnostic.related)]
        for span in spans:
            assert 1 <= span.line <= len(lines)
            assert 1 <= span.column <= len(lines[span.line - 1]) + 1
            assert (span.end_line, span.end_column) >= (span.line, span.column)
    text = render_text(report, lines, show_all=True) + counts_line(report)
    assert_clean(text)
    for render in (render_json, render_sarif):
        machine = render(report)
        assert_clean(machine)
        json.loads(machine)


def assert_compiled_well(outcome):
    span = DateSpan(DATE, DATE) if outcome.schedule.needs_dates else None
    outcome = compile_and_check(outcome, span)
    program = outcome.program
    assert program is not None or outcome.report.has_errors  # a day may not exist on that date
    for c in program.channels.values() if program else ():
        converter, replay = c.path.converter, c.replay
        volts, codes = c.path.volts[replay.counts], c.path.codes[replay.counts]
        assert volts.min() >= 0
        assert volts.max() <= 10
        assert volts.max() <= program.schedule.controller.most_volts + 1e-9
        assert codes.min() >= 0
        assert codes.max() <= converter.full_code <= converter.last_code < 2**converter.bits
        assert len(c.fit.rows) >= 1
    assert all(d.code in CODES and d.source_range for d in outcome.report)
    assert_clean(render_text(outcome.report, outcome.document.lines, show_all=True))
    assert_clean(render_json(outcome.report))


def run_of(seed, inputs):
    """Read, report and now and then compile as many inputs; every second one keeps its shape."""
    run = Run()
    rng = random.Random(seed)
    schedules = 0
    for count in range(inputs):
        keeps_shape = count % 2 == 1
        raw = changed(rng) if keeps_shape else damaged(rng)
        try:
            outcome = load("fuzz.yaml", raw)
            assert_reported_well(outcome)
            stage = stage_reached(outcome)
            run.stages[stage] += 1
            run.codes.update({d.code for d in outcome.report})
            if keeps_shape:
                run.kept_shape[stage] += 1
            if outcome.schedule is not None:
                schedules += 1
                if schedules % COMPILE_EVERY == 0:
                    run.compiled += 1
                    assert_compiled_well(outcome)
        except Exception as error:
            run.failures.append(f"input {count}: {type(error).__name__}: {error}\n{raw!r}")
    return run


@pytest.mark.parametrize(
    ("seed", "inputs"),
    [
        (SEED, FEW),
        *(pytest.param(SEED + more, MANY, marks=pytest.mark.slow) for more in (0, 3, 4)),
    ],
)
def test_only_diagnostics_come_out(seed, inputs):
    run = run_of(seed, inputs)
    assert not run.failures, f"{len(run.failures)} of {inputs}; the first: {run.failures[0]}"
    # All of the program was reached, or nothing is said by this.
    assert {stage for stage in STAGES if run.stages[stage] >= 0.05 * inputs} == set(STAGES)
    assert run.kept_shape["meaning"] + run.kept_shape["schedule"] >= 0.5 * inputs / 2
    for hundred, least in (("1", 6), ("2", 6), ("3", 14)):
        assert sum(code[3] == hundred for code in run.codes) >= least
    assert run.compiled >= max(inputs // 500, 2)


def test_the_same_seed_gives_the_same_inputs():
    one, two = random.Random(SEED), random.Random(SEED)
    for _ in range(20):
        assert damaged(one) == damaged(two)
        assert changed(one) == changed(two)


@pytest.mark.parametrize("change", sorted(set(CHANGES), key=lambda change: change.__name__))
def test_a_change_that_finds_no_place_leaves_the_schedule_as_it_is(change):
    for seed in range(20):  # the others have taken out all that it changes
        change(random.Random(seed), {"schedule": 1, "tank": "bare", "zones": {}, "channels": {}})
