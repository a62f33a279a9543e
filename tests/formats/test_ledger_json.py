"""The ledger on disk: written, taken up again, refused."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.errors import OutsideWorldError
from photoperiod.formats.ledger_json import ledger_bytes, parse_ledger
from photoperiod.source.json_schema import load_schema
from tests.conftest import Run, changed, drawn

NEW = ("{watts: 54}", "{watts: 54, fitted: 2027-03-02T08:00, burn_in_full_hours: 12}")
TEXT = changed(NEW)


@pytest.fixture
def tank(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> Callable[..., tuple[int, str, str]]:
    path = write(TEXT)

    def compile_tank(first: int, last: int, *more: object) -> tuple[int, str, str]:
        dates = ("--from", f"2027-03-{first:02}", "--to", f"2027-03-{last:02}")
        ledger = tmp_path / "tubes.json"
        return run("compile", path, *dates, "-o", tmp_path / "out", "--ledger", ledger, *more)

    return compile_tank


def ledger_of(tmp_path: Path) -> Any:
    return json.loads((tmp_path / "tubes.json").read_text(encoding="utf-8"))


def tubes_of(tmp_path: Path) -> Any:
    return json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))["tubes"]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_a_ledger_carries_tubes_from_span_to_span(
    run: Run, tank: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    assert tank(1, 2)[0] == 0
    first = ledger_of(tmp_path)
    jsonschema.validate(first, load_schema("ledger"))
    assert first["begins"] == "2027-03-01"
    (entry,) = first["entries"]
    assert entry["through"] == "2027-03-02"
    paid = tubes_of(tmp_path)["blue-a"]["full_hours_within_dates"]
    assert entry["tubes"]["blue-a"]["owed_hours"] == pytest.approx(12 - paid, abs=1e-3)
    code, out, _ = tank(3, 10)
    assert code == 0 and "tubes.json up to 2027-03-10" in out
    second = ledger_of(tmp_path)
    assert second["entries"][0] == entry
    two = tubes_of(tmp_path)["blue-a"]
    whole = run("compile", tmp_path / "test.yaml", "--from", "2027-03-01", "--to", "2027-03-10",
                "-o", tmp_path / "whole")  # fmt: skip
    assert whole[0] == 0
    one = json.loads((tmp_path / "whole" / "summary.json").read_text())["tubes"]["blue-a"]
    for key in ("lit_hours", "burn_in_owed_hours", "burn_in_paid_at"):
        assert two[key] == one[key]


def test_a_burn_in_after_midnight_is_read_back(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    day = TEXT[TEXT.index("    day:\n") : TEXT.index("tank: bench")]
    night = "    moonlight: {kind: steady, light_percent: 20, start: 22:30, end: 07:15}\n"
    path, ledger = write(TEXT.replace(day, night)), tmp_path / "tubes.json"
    for first, last in ((1, 2), (3, 4)):
        dates = ("--from", f"2027-03-{first:02}", "--to", f"2027-03-{last:02}")
        code, _, err = run("compile", path, *dates, "-o", tmp_path / "out", "--ledger", ledger)
        assert code == 0, err
    # 8.75 h at 20 % of light are 1.75 h at full, about the middle of the night at 02:52
    window = ledger_of(tmp_path)["entries"][0]["at_full"]["blue"]
    assert window["start_second"] == pytest.approx((24 + 2.875 - 0.875) * 3600, abs=120)


def test_the_same_span_again_gives_the_same_bytes(
    tank: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    assert tank(1, 2)[0] == tank(3, 10)[0] == 0
    ledger, out = (tmp_path / "tubes.json").read_bytes(), contents(tmp_path / "out")
    assert tank(3, 10)[0] == 0
    assert (tmp_path / "tubes.json").read_bytes() == ledger
    assert contents(tmp_path / "out") == out
    assert tank(3, 5)[0] == 0  # what came after is dropped
    assert [e["through"] for e in ledger_of(tmp_path)["entries"]] == ["2027-03-02", "2027-03-05"]
    assert tank(1, 4)[0] == 0  # from where the ledger began, all over again
    assert [e["through"] for e in ledger_of(tmp_path)["entries"]] == ["2027-03-04"]


def signed(data: Any) -> bytes:
    """A ledger of some data, with the digest that it should have: SHA-256 of JSON with sorted keys."""
    if isinstance(data, dict):
        data = {key: value for key, value in data.items() if key != "sha256"}
        digest = hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()
        data["sha256"] = digest
    return json.dumps(data).encode()


def entry_of(data: Any) -> Any:
    return data["entries"][0]


DAMAGE: dict[str, Callable[[Any], Any]] = {
    "another format": lambda d: d | {"format": "photoperiod-table"},
    "another version": lambda d: d | {"version": 2},
    "an unknown key": lambda d: d | {"colour": "blue"},
    "a missing key": lambda d: {k: v for k, v in d.items() if k != "begins"},
    "no entries": lambda d: d | {"entries": []},
    "negative hours": lambda d: entry_of(d)["tubes"]["blue-a"].update(lit_hours=-1) or d,
    "hours in words": lambda d: entry_of(d)["tubes"]["blue-a"].update(owed_hours="12") or d,
    "no such date": lambda d: entry_of(d).update(through="2027-02-30") or d,
    "dates that do not rise": lambda d: d | {"entries": d["entries"] * 2},
    "another tank": lambda d: d["schedule"].update(tank="north-wall") or d,
    "a tube it does not know": lambda d: entry_of(d)["tubes"].clear() or d,
    "a tube fitted at another time": lambda d: entry_of(d)["tubes"]["blue-a"].update(
        fitted="2027-03-01T08:00:00") or d,
    "not an object": lambda d: [d],
    "hours that are no number": lambda d: entry_of(d)["tubes"]["blue-a"].update(
        lit_hours=float("nan")) or d,
    "hours without end": lambda d: entry_of(d)["tubes"]["blue-a"].update(
        owed_hours=float("inf")) or d,
    "hours of many lives": lambda d: entry_of(d)["tubes"]["blue-a"].update(lit_hours=1e300) or d,
    "a debt that no tube has": lambda d: entry_of(d)["tubes"]["blue-a"].update(owed_hours=1001) or d,
    "a beginning after its end": lambda d: d | {"begins": "2027-03-03"},
}  # fmt: skip


@pytest.mark.parametrize("how", DAMAGE)
def test_a_ledger_that_is_not_right_is_refused_and_nothing_changes(
    tank: Callable[..., tuple[int, str, str]], tmp_path: Path, how: str
) -> None:
    assert tank(1, 2)[0] == 0
    ledger = tmp_path / "tubes.json"
    ledger.write_bytes(signed(DAMAGE[how](ledger_of(tmp_path))))
    raw, out = ledger.read_bytes(), contents(tmp_path / "out")
    code, _, err = tank(3, 5)
    assert code == 4
    assert err.startswith("error PHO504: ")
    assert "  try: " in err
    assert ledger.read_bytes() == raw
    assert contents(tmp_path / "out") == out


def test_a_ledger_that_was_edited_or_says_a_thing_twice_is_refused(
    tank: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    assert tank(1, 2)[0] == 0
    ledger = tmp_path / "tubes.json"
    good = ledger.read_text(encoding="utf-8")
    for bad, words in (
        (
            good.replace('"lit_hours": 8', '"lit_hours": 7'),
            "it was changed after photoperiod wrote it",
        ),
        (good.replace('"begins"', '"version": 1, "begins"'), "a key stands there twice"),
        (good.replace('"version": 1', '"version": NaN'), "NaN is no number of hours"),
        (
            good.replace('"version": 1', '"version": 1e999'),
            "it is of version inf, and this program reads",
        ),
    ):
        assert bad != good
        ledger.write_text(bad, encoding="utf-8")
        code, _, err = tank(3, 5)
        assert code == 4 and "error PHO504: " in err
        assert words in err


def test_hours_corrected_in_the_schedule_are_corrected_in_the_ledger(
    tank: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    assert tank(1, 2)[0] == 0
    before = entry_of(ledger_of(tmp_path))["tubes"]["blue-a"]
    schedule = tmp_path / "test.yaml"
    text = schedule.read_text(encoding="utf-8")
    schedule.write_text(
        text.replace("burn_in_full_hours: 12", "burn_in_full_hours: 100, lit_hours: 30"),
        encoding="utf-8",
    )
    assert tank(3, 3)[0] == 0
    after = ledger_of(tmp_path)["entries"][1]["tubes"]["blue-a"]
    paid = tubes_of(tmp_path)["blue-a"]["full_hours_within_dates"]
    assert after["owed_hours"] == pytest.approx(before["owed_hours"] + 88 - paid, abs=1e-3)
    assert after["lit_hours"] - before["lit_hours"] == pytest.approx(30 + paid, abs=0.1)


def test_ten_thousand_entries_are_read_back(
    tank: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    assert tank(1, 2)[0] == 0
    data = ledger_of(tmp_path)
    first = dt.date(1999, 1, 1)
    dates = [str(first + dt.timedelta(days=n)) for n in range(9_999)]
    data["entries"] = [entry_of(data) | {"through": date} for date in dates] + data["entries"]
    data["begins"] = dates[0]
    raw = signed(data)
    assert len(raw) > 2**20
    (tmp_path / "tubes.json").write_bytes(raw)
    assert tank(3, 5)[0] == 0
    assert len(ledger_of(tmp_path)["entries"]) == 10_000


def test_a_ledger_in_the_output_folder_is_refused_at_once(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    path, out = write(TEXT), tmp_path / "out"
    dates = ("--date", "2027-03-02")
    code, _, err = run("compile", path, *dates, "-o", out, "--ledger", out / "tubes.json")
    assert code == 2 and "which is replaced as a whole" in err
    assert not out.exists()


def test_a_ledger_that_is_no_plain_file_is_refused(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    path, out = write(TEXT), tmp_path / "out"
    loop, pipe = tmp_path / "loop", tmp_path / "pipe"
    loop.symlink_to("loop")
    os.mkfifo(pipe)
    for ledger in (loop, pipe, tmp_path / ("n" * 300)):
        code, _, err = run("compile", path, "--date", "2027-03-02", "-o", out, "--ledger", ledger)
        assert code == 4 and "error PHO504: " in err
        assert not out.exists()
    code, _, err = run("compile", path, "--date", "2027-03-02", "-o", loop)
    assert code == 4 and "error PHO502: " in err
    inner = tmp_path / "l" / "out"
    code, _, err = run(
        "compile", path, "--date", "2027-03-02", "-o", inner, "--ledger", inner.parent
    )
    assert code == 2 and not inner.exists()


def test_where_the_ledger_cannot_be_written_the_output_stays_as_it_was(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    path, out = write(TEXT), tmp_path / "out"
    assert run("compile", path, "--date", "2027-03-01", "-o", out)[0] == 0
    before = contents(out)
    nowhere = tmp_path / "no" / "such" / "tubes.json"
    code, _, err = run("compile", path, "--date", "2027-03-02", "-o", out, "--ledger", nowhere)
    assert code == 4 and "error PHO502: can't write" in err
    assert contents(out) == before
    # and where the folder can't be written, the ledger is not
    ledger = tmp_path / "tubes.json"
    (out / "mine.txt").write_text("mine")
    code, _, err = run("compile", path, "--date", "2027-03-02", "-o", out, "--ledger", ledger)
    assert code == 4 and "PHO503" in err
    assert not ledger.exists() and not list(tmp_path.glob(".*"))


def test_a_ledger_that_does_not_lead_up_to_the_dates_is_refused(
    tank: Callable[..., tuple[int, str, str]],
) -> None:
    assert tank(1, 2)[0] == 0
    code, _, err = tank(4, 5)
    assert code == 4
    assert "begins on 2027-03-01 and ends on 2027-03-02; it does not lead up to 2027-03-04" in err
    assert (
        "\n  try: compile from 2027-03-03, the day after an entry of it ended; or from 2027-03-01"
        in err
    )
    assert tank(3, 6)[0] == 0
    assert "compile from 2027-03-03, the day after" in tank(5, 6)[2]  # the nearest day before


def test_the_ledger_knows_its_tank_by_its_id(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    """Another title and another place are the same tank; the same title in another tank is not."""
    ledger = tmp_path / "tubes.json"

    def compiled_for(first: int, *changes: tuple[str, str]) -> tuple[int, str, str]:
        day = f"2027-03-{first:02}"
        path = write(changed(NEW, *changes))
        return run("compile", path, "--date", day, "-o", tmp_path / "out", "--ledger", ledger)

    place = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"
    assert compiled_for(1)[0] == 0
    assert compiled_for(2, ("title: Test bench\n", f"title: Moved bench\n{place}"))[0] == 0
    held = ledger.read_bytes()
    assert json.loads(held)["schedule"]["tank"] == "bench"
    code, _, err = compiled_for(3, ("tank: bench", "tank: north-wall"))
    assert code == 4
    assert "PHO504" in err and "it belongs to the tank 'bench', not to 'north-wall'" in err
    assert ledger.read_bytes() == held


def test_the_first_date_is_held_against_the_last_of_the_ledger(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    """From 48 % light to 80 % is a rise by two thirds, more than the 25 % that a zone allows."""
    ledger = tmp_path / "tubes.json"

    def compiled_for(first: int, last: int, light: int) -> tuple[int, str, str]:
        dates = ("--from", f"2027-03-{first:02}", "--to", f"2027-03-{last:02}")
        path = write(changed(("light_percent: 80}]", f"light_percent: {light}}}]")))
        return run("compile", path, *dates, "-o", tmp_path / "out", "--ledger", ledger)

    assert "PHO420" not in compiled_for(1, 2, 48)[2]
    # by hand: √0.48 is level 69.28 %; 69 % is code 2826, 6.8994 V and 47.6 % light, of 130: 61.9.
    # √0.80 is 89.44 %; 89 % is code 3645, 8.8989 V and 79.19 % light: 102.9
    (peak,) = ledger_of(tmp_path)["entries"][0]["peaks"].values()
    assert peak == pytest.approx(61.9, abs=0.05)
    code, _, err = compiled_for(3, 4, 80)
    assert code == 0
    assert "the peak of zone 'crest' rises on 2027-03-03 from 61.9 to 102.9 µmol m⁻² s⁻¹" in err
    assert "measured anew" not in err
    # the very span that the ledger begins with has no date before it
    assert "PHO420" not in compiled_for(1, 2, 80)[2]


def test_a_rise_of_the_reading_is_told_from_one_of_the_light(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    """The same light, read as 195 in place of 130: by a half more."""
    ledger = tmp_path / "tubes.json"

    def compiled_for(day: int, reading: int) -> str:
        path = write(
            changed(("{crest: 130}", f"{{crest: {reading}}}"), ("ppfd_max: 200", "ppfd_max: 300"))
        )
        date = f"2027-03-{day:02}"
        return run("compile", path, "--date", date, "-o", tmp_path / "out", "--ledger", ledger)[2]

    compiled_for(1, 130)
    assert ledger_of(tmp_path)["entries"][0]["readings"] == {"blue": {"crest": 130}}
    err = " ".join(compiled_for(2, 195).split())
    assert "rises on 2027-03-02 from 102.9 to 154.4 µmol m⁻² s⁻¹" in err
    assert (
        "PPFD of channel 'blue' was measured anew since then, so the reading may have risen" in err
    )


def test_a_tube_that_has_left_its_place_is_not_looked_for(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    """Told afterwards, so that the measurement is known, it is no reason to begin anew."""
    ledger = tmp_path / "tubes.json"

    def compiled_for(day: int, *changes: tuple[str, str]) -> tuple[int, str, str]:
        path = write(changed(*changes))
        date = f"2027-03-{day:02}"
        return run("compile", path, "--date", date, "-o", tmp_path / "out", "--ledger", ledger)

    new = "blue-a: {watts: 54, fitted: 2027-03-01T08:00, place: only}"
    old = "  old: {watts: 54, fitted: 2026-03-01, place: only}\n"
    alone = ("  blue-a: {watts: 54}\n", f"  {new}\n")
    both = ("  blue-a: {watts: 54}\n", f"{old}  {new}\n")
    assert compiled_for(1, alone)[0] == 0
    assert compiled_for(2, both, ("tubes: [blue-a]", "tubes: [old, blue-a]"))[0] == 0
    (_, entry) = ledger_of(tmp_path)["entries"]
    # lit from 09:00 to 21:00 on two days; the old tube is none of the ledger's
    assert entry["tubes"]["blue-a"]["lit_hours"] == pytest.approx(24, abs=0.01)
    assert list(entry["tubes"]) == ["blue-a"]


def test_a_ledger_needs_dates_and_a_place(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    path = write(TEXT)
    code, _, err = run("compile", path, "-o", tmp_path / "out", "--ledger", tmp_path / "l.json")
    assert code == 2 and "--ledger follows tubes over dates" in err
    dates = ("--date", "2027-03-02")
    code, _, err = run("compile", path, *dates, "-o", tmp_path / "out", "--ledger", "-")
    assert code == 2 and "--ledger names a file" in err
    folder = tmp_path / "folder"
    folder.mkdir()
    code, _, err = run("compile", path, *dates, "-o", tmp_path / "out", "--ledger", folder)
    assert code == 4 and "error PHO504: " in err and "is a folder" in err
    nowhere = path / "l.json"  # under a file
    code, _, err = run("compile", path, *dates, "-o", tmp_path / "out", "--ledger", nowhere)
    assert code == 4 and "PHO504: can't use the ledger" in err


VALID = signed({
    "format": "photoperiod-ledger", "version": 1, "made_with": "photoperiod 0.1.0",
    "schedule": {"tank": "bench", "sha256": "0" * 64}, "begins": "2027-03-01",
    "entries": [{"through": "2027-03-02", "at_full": {}, "peaks": {"crest": 100},
        "readings": {"blue": {"crest": 130}}, "tubes": {"blue-a": {
        "fitted": None, "lit_hours": 7.7, "owed_hours": 4.3, "declared_lit_hours": 0,
        "declared_owed_hours": 12}}}],
})  # fmt: skip


@given(raw=st.binary(max_size=200), seed=st.integers(0, 2**32))
def test_no_bytes_raise_anything_but_a_refusal(raw: bytes, seed: int) -> None:
    assert parse_ledger("l.json", VALID)["version"] == 1
    rng = random.Random(seed)
    damaged = bytearray(VALID)
    for _ in range(rng.randrange(1, 4)):
        damaged[rng.randrange(len(damaged))] = rng.randrange(256)
    for some in (raw, bytes(damaged), VALID[: rng.randrange(len(VALID))]):
        try:
            parse_ledger("l.json", some)
        except OutsideWorldError as error:
            assert error.code == "PHO504"


HOURS = st.floats(0, 1000)

ENTRIES = st.fixed_dictionaries(
    {
        "at_full": st.dictionaries(
            st.text(max_size=5),
            st.tuples(st.integers(-86_400, 86_400), st.integers(0, 172_800))
            .filter(lambda pair: pair[0] < pair[1])
            .map(lambda pair: {"start_second": pair[0], "stop_second": pair[1]}),
            max_size=2,
        ),
        "peaks": st.dictionaries(st.text(max_size=5), st.floats(0, 1000), max_size=2),
        "readings": st.dictionaries(
            st.text(max_size=5),
            st.dictionaries(st.text(max_size=5), st.floats(0, 1000), max_size=2),
            max_size=2,
        ),
        "tubes": st.dictionaries(
            st.text(max_size=5),
            st.fixed_dictionaries(
                {
                    "fitted": st.none() | st.datetimes().map(dt.datetime.isoformat),
                    "lit_hours": HOURS,
                    "owed_hours": HOURS,
                    "declared_lit_hours": HOURS,
                    "declared_owed_hours": HOURS,
                }
            ),
            max_size=2,
        ),
    }
)


@st.composite
def ledgers(draw: st.DrawFn) -> dict[str, Any]:
    """Ledgers whose dates rise, as programs write them."""
    dates = sorted(draw(st.sets(st.dates(dt.date(1999, 1, 1)), min_size=1, max_size=3)))
    return {
        "format": "photoperiod-ledger",
        "version": 1,
        "made_with": draw(st.text(max_size=9)),
        "schedule": {"tank": draw(st.from_regex(r"\A[a-z][a-z0-9-]{0,8}\Z")), "sha256": "0" * 64},
        "begins": draw(st.dates(dt.date(1998, 1, 1), dates[0])).isoformat(),
        "entries": [{"through": date.isoformat()} | draw(ENTRIES) for date in dates],
    }


@settings(max_examples=drawn(50))
@given(ledgers())
def test_what_is_written_is_read_back(data: dict[str, Any]) -> None:
    raw = ledger_bytes(data)
    found = parse_ledger("x", raw)
    assert {key: value for key, value in found.items() if key != "sha256"} == data
    assert ledger_bytes(found) == raw


@settings(max_examples=drawn(50))
@given(ledgers(), st.floats(0, 1, exclude_max=True), st.integers(1, 255))
def test_a_changed_byte_is_refused_or_changes_nothing(
    data: dict[str, Any], share: float, change: int
) -> None:
    """Space between values is not part of the digest, so that an editor may lay a ledger out anew."""
    raw = ledger_bytes(data)
    at = int(share * len(raw))
    try:
        found = parse_ledger("x", raw[:at] + bytes([raw[at] ^ change]) + raw[at + 1 :])
    except OutsideWorldError as refused:
        assert refused.code == "PHO504"
    else:
        assert found == parse_ledger("x", raw)
    with pytest.raises(OutsideWorldError):
        parse_ledger("x", raw[: min(at, len(raw) - 3)])
