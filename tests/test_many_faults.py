"""Several faults at once, and what one fault may say and cost: all stages together."""

from __future__ import annotations

import copy
import functools
import time
import tracemalloc

import pytest

from photoperiod.report.text import render_text
from photoperiod.source.document import Document, read_text
from photoperiod.text import path_text
from tests.codes.damage import BASE, changed
from tests.conftest import load, naming
from tests.test_codes import CASES

# More than one fault


def places(text):
    return [
        (d.code, d.source_range.line, d.source_range.column)
        for d in load("test.yaml", text.encode()).report
    ]


def test_ten_faults_at_once_are_ten_messages():
    text = changed(
        ("title: Test bench", "titel: Test bench"),
        ("latitude: 38.1", "latitude: 138.1"),
        ("  between: line", "  between: lines"),
        ("  after_last_row: wrap\n", ""),
        ("{volts: 7.0, light_percent: 60}", "{volts: 7.0, light_percent: 15}"),
        ("fitted: 2027-03-02", "fitted: 2027-02-30"),
        ("ppfd_max: 400", "ppfd_max: .inf"),
        ("tubes: [blue-a, blue-b]", "tubes: [blue-a, blue-b, blue-b]"),
        ("start: 09:00", "start: 25:00"),
        ("{time: 18:00", "{time: 12:00"),
    )
    assert places(text) == [
        ("PHO201", 2, 1),
        ("PHO205", 3, 19),
        ("PHO202", 5, 1),
        ("PHO204", 10, 12),
        ("PHO310", 31, 39),
        ("PHO306", 38, 31),
        ("PHO112", 41, 34),
        ("PHO208", 45, 29),
        ("PHO206", 49, 21),
        ("PHO303", 64, 18),
    ]


def test_faults_in_one_mapping_are_told_of_one_by_one():
    text = changed(
        (
            "    full_volts: 10.0\n    dark: {kind: relay}\n",
            "    full_volt: 10.0\n    dark: {knd: relay}\n",
        ),
        ("floor: {volts: 1.0, light_percent: 1}", "floor: {volts: -1, light_percent: 0}"),
    )
    assert places(text) == [
        ("PHO205", 22, 20),
        ("PHO205", 22, 39),
        ("PHO201", 23, 5),
        ("PHO202", 24, 5),
    ]


def test_both_faults_of_a_repeated_and_damaged_part_are_reported():
    text = changed(("    full_volts: 10.0", "    full_volts: high\n    full_volts: 10.0"))
    assert places(text) == [("PHO203", 23, 17), ("PHO102", 24, 5)]


def test_two_missing_keys_of_one_mapping_are_two_messages():
    text = changed(
        (
            "{kind: steady, light_percent: 3, start: 22:00, end: 02:00}",
            "{kind: steady, start: 22:00}",
        )
    )
    assert places(text) == [("PHO202", 67, 5), ("PHO202", 67, 5)]
    messages = [d.message for d in load("test.yaml", text.encode()).report]
    assert messages == ["'moonlight' lacks 'end'", "'moonlight' lacks 'light_percent'"]


def test_both_ends_of_a_measured_response_are_reported():
    text = changed(
        (
            "{volts: 0.6, light_percent: 2}\n        - {volts: 4",
            "{volts: 0.7, light_percent: 2}\n        - {volts: 4",
        ),
        ("light_percent: 100}", "light_percent: 98}"),
    )
    assert places(text) == [("PHO313", 30, 11), ("PHO313", 33, 11)]


def test_second_places_are_shown_with_their_own_excerpt():
    text = changed(("    ballast: bench", "    ballast: bench\n    tubes: [blue-b]"))
    outcome = load("test.yaml", text.encode())
    (diagnostic,) = outcome.report
    (related,) = diagnostic.related
    assert (related.source_range.line, related.source_range.column) == (46, 21)
    shown = render_text(outcome.report, outcome.document.lines).splitlines()
    at = shown.index("  see: first listed here (test.yaml:46:21)")
    assert shown[at + 1] == "  46 |     tubes: [blue-a, blue-b]"
    assert shown[at + 2] == "     |                     ~~~~~~"


@pytest.mark.parametrize(
    ("code", "line"),
    [
        ("PHO102", 23),
        ("PHO303", 53),
        ("PHO304", 50),
        ("PHO307", 12),
        ("PHO308", 23),
        ("PHO309", 34),
        ("PHO208", 46),
    ],
)
def test_second_places(code, line):
    case = next(case for case in CASES if case.code == code and isinstance(case.damage, list))
    (diagnostic,) = load("test.yaml", case.raw).report
    assert [item.source_range.line for item in diagnostic.related] == [line]


# One fault is one message, wherever it is made

BASE_DATA = read_text("test.yaml", BASE.encode()).data

#: Mappings whose keys are names that the schedule makes itself.
NAMED = {("ballasts",), ("tubes",), ("zones",), ("channels",)}


def paths(value, path=()):
    inside = []
    if isinstance(value, dict):
        inside = list(value.items())
    elif isinstance(value, list):
        inside = list(enumerate(value))
    for step, child in inside:
        yield (*path, step)
        yield from paths(child, (*path, step))


def value_at(data, path):
    return functools.reduce(lambda value, step: value[step], path, data)


def reported(monkeypatch, data):
    """Return the codes and messages about a schedule that was read without fault."""
    source = Document("test.yaml", "", "", data)
    monkeypatch.setattr("photoperiod.api.read_text", lambda name, raw: source)
    outcome = load("test.yaml", b"")
    return [(d.code, d.message) for d in outcome.report if d.severity != "note"]


KEYS = [
    path
    for path in paths(BASE_DATA)
    if isinstance(path[-1], str) and path[:-1] not in NAMED and path[-2:-1] != ("zones",)
]


@pytest.mark.parametrize("of_text", [None, 5])
def test_one_wrong_value_is_one_message(monkeypatch, of_text):
    for path in paths(BASE_DATA):
        wrong = of_text
        if wrong is not None and not isinstance(value_at(BASE_DATA, path), str):
            wrong = "x"
        data = copy.deepcopy(BASE_DATA)
        value_at(data, path[:-1])[path[-1]] = wrong
        with naming(f"{path_text(path)}: {wrong!r}"):
            assert [code for code, _ in reported(monkeypatch, data)] == ["PHO203"]


def test_one_misspelt_key_is_one_message(monkeypatch):
    for path in KEYS:
        data = copy.deepcopy(BASE_DATA)
        around = value_at(data, path[:-1])
        renamed = {key + "x" if key == path[-1] else key: value for key, value in around.items()}
        around.clear()
        around.update(renamed)
        with naming(path_text(path)):
            codes = [code for code, _ in reported(monkeypatch, data)]
            # Without its kind, a mapping has no keys to know.
            assert codes in (["PHO201"], ["PHO202"])


def test_one_missing_key_is_one_message(monkeypatch):
    missed = 0
    for path in KEYS:
        data = copy.deepcopy(BASE_DATA)
        del value_at(data, path[:-1])[path[-1]]
        with naming(path_text(path)):
            found = reported(monkeypatch, data)
            if any(code == "PHO202" for code, _ in found):
                assert len(found) == 1
                missed += 1
    assert missed > len(KEYS) / 2


# What must not be echoed at length, or cost more than the file is worth


@pytest.mark.parametrize(
    "changes",
    [
        [("zones: {crest: 130}", "zones: {crest: 130, ? " + "z" * 5000 + " : 1}")],
        [("  white:", "  ? " + "w" * 5000 + "\n  :")],
        [("  white:\n", "  ? " + "w" * 5000 + "\n  : {}\n  white:\n")],
        [("    ballast: pair", "    ballast: " + "p" * 5000)],
        [("title: Test bench", "title: Test bench\n? " + "t" * 5000 + "\n: 1")],
        [("between: line", "between: " + "l" * 5000)],
        [("full_volts: 10.0", "full_volts: " + "v" * 5000)],
        [("step: 1,", "step: 1.0e-300,")],
    ],
    ids=range(8),
)
def test_long_words_of_the_file_are_cut_in_messages(changes):
    report = list(load("test.yaml", changed(*changes).encode()).report)
    assert report
    for diagnostic in report:
        assert len(diagnostic.message) < 200
        assert len(diagnostic.help) < 400


@pytest.mark.parametrize(
    "change",
    [
        ("tubes: [blue-a, blue-b]", f"tubes: [{', '.join(['*long'] * 300)}]"),
        ("  - {time: 13:00, light_percent: 60}", "  - *long" + "\n        - *long" * 299),
        ("controller:\n", f"accept: [{', '.join(['{finding: *long}'] * 300)}]\ncontroller:\n"),
    ],
    ids=["pattern", "type", "enum"],
)
def test_a_long_text_repeated_by_aliases_costs_no_memory(change):
    # 300 aliases of 20,000 characters: 6 million characters if each message held its own copy.
    text = changed(("title: Test bench", f"title: &long '{'x' * 20_000}'"), change).encode()
    load("test.yaml", text)  # imports and caches
    tracemalloc.start()
    try:
        load("test.yaml", text)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 4_000_000


@pytest.mark.parametrize(
    "faulty",
    [
        lambda count: "a: 1\n" * count,
        lambda count: "".join(f"key{n}: 1\n" for n in range(count)),
        lambda count: "[a]: 1\n" * count,
        lambda count: changed(
            ("[blue-a, blue-b]", f"[{', '.join(f'a{n}, {n}' for n in range(count))}]")
        ),
        lambda count: changed(
            ("zones: {crest: 130}", f"zones: {{{', z: 1' * count}}}".replace("{,", "{"))
        ),
    ],
    ids=["repeated", "unknown", "complex", "items of two kinds", "repeated in flow"],
)
def test_four_times_the_faults_cost_about_four_times_as_much(faulty):
    def seconds(count):
        raw = faulty(count).encode()
        start = time.process_time()  # other programs may run beside this one
        assert load("test.yaml", raw).schedule is None
        return time.process_time() - start

    seconds(10)  # imports and caches
    few = min(seconds(1000) for _ in range(2))
    assert seconds(4000) < 9 * few + 0.3  # squared, it would be sixteen times as much
