"""From bytes to a map, and names that a schedule does not have."""

from __future__ import annotations

import random

from photoperiod.diagnostics.codes import CODES
from photoperiod.readings.light_map import at_full_only
from photoperiod.readings.read_map import Names, read_map
from tests.conftest import ROOT, naming
from tests.readings.bench import HEAD, csv, map_of, told

NAMES = Names(channels=("blue", "white"), zones=("crest",))


def test_names_are_those_of_the_schedule() -> None:
    head = f"{HEAD},zone"
    rows = (
        "1,2,3,blue,100,100,yes,,crest", "1,2,3,bleu,100,100,yes,,crest",
        "1,2,3,blue+whit,100,100,yes,,crst", "1,2,3,bleu,100,100,yes,,",
    )  # fmt: skip
    found = map_of(*rows, head=head, names=NAMES)
    assert found.map is None
    assert told(found.faults, csv(*rows, head=head)) == [
        ("PHO910", 3, "bleu"), ("PHO910", 4, "blue+whit"), ("PHO910", 4, "crst"),
    ]  # fmt: skip
    assert found.faults[0].help == "did you mean 'blue'?"
    assert found.faults[2].message == "the schedule has no zone 'crst'"


def test_without_a_schedule_any_name_is_good() -> None:
    assert map_of("1,2,3,bleu,100,100,yes,").map is not None


def test_a_map_of_lux_is_a_map() -> None:
    found = map_of("1,2,3,blue,100,5000,yes,", head=HEAD.replace("ppfd_umol_m2_s", "lux"))
    assert found.map is not None and found.map.full["blue"] == [5000]


def test_faulty_cells_give_neither() -> None:
    found = map_of("1,2,3,blue,100,x,yes,")
    assert (found.readings, found.map) == (None, None)


def test_no_damage_to_a_file_raises() -> None:
    raw = (ROOT / "examples" / "readings" / "map-as-typed.csv").read_bytes()[:3000]
    dice = random.Random(7)
    for _ in range(400):
        damaged = bytearray(raw)
        for _ in range(dice.randint(1, 6)):
            at = dice.randrange(len(damaged))
            change = dice.choice([b"", b",", b";", b'"', b"\n", b"9", b"-", b"\xff", b".", b"+"])
            damaged[at : at + dice.randint(0, 3)] = change
        with naming(bytes(damaged)):
            found = read_map("x.csv", bytes(damaged), at_full_only, None)
            assert (found.map is None) == found.faults.has_errors
            for each in found.faults:
                assert each.source_range is not None


def test_every_code_of_readings_is_tested_here() -> None:
    """Each has a test that names it with the line and the words that are marked."""
    texts = [
        path.read_text(encoding="utf-8") for path in (ROOT / "tests" / "readings").glob("*.py")
    ]
    texts.append((ROOT / "tests/schedule/test_full_ppfd.py").read_text(encoding="utf-8"))
    for code in CODES:
        if code.startswith("PHO9"):
            assert any(f'"{code}"' in text for text in texts), code
