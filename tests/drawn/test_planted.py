"""Planted mistakes: the laws find each of them, in what was written and in the code that writes it."""

from __future__ import annotations

import itertools
import json
import re
import zlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from photoperiod.diagnostics.model import Report
from photoperiod.drive import light_path
from photoperiod.drive.converter import Converter
from photoperiod.drive.grid import LevelGrid, Row
from photoperiod.drive.light_path import LightPath
from photoperiod.formats import contents as contents_module
from photoperiod.formats import table_csv
from photoperiod.program import channel_day
from tests.drawn.compiled import Written, compile_drawn
from tests.drawn.draw import draw
from tests.drawn.laws import broken
from tests.drawn.run import differs, run_of

#: Seeds that are looked at for one that shows a mistake.
MOST_SEEDS = 40


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> list[Written]:
    """A few schedules that were written, each of which breaks no law."""
    folder = tmp_path_factory.mktemp("drawn")
    found = (compile_drawn(draw(seed), folder)[0] for seed in itertools.count(1))
    shown = (each for each in found if not each.is_refused and each.drawn.data.get("zones"))
    return list(itertools.islice(shown, 5))


def changed(written: Written, name: str, change: Callable[[bytes], bytes]) -> Written:
    """Return what was written, with one file changed."""
    key = "exports" if name in written.exports else "files"
    files = dict(getattr(written, key))
    files[name] = change(files[name])
    return replace(written, **{key: files})


def resealed(raw: bytes) -> bytes:
    """Return a `table.json` that was changed with a checksum that fits again."""
    start = raw.rindex(b',\n  "crc32"')
    body = raw[:start] + b"\n}\n"
    return raw[:start] + b',\n  "crc32": "%08x"\n}\n' % zlib.crc32(body)


def once(pattern: str, new: str) -> Callable[[bytes], bytes]:
    """Return a change of the last text that a pattern finds."""

    def change(raw: bytes) -> bytes:
        text = raw.decode()
        hit = list(re.finditer(pattern, text))[-1]
        return (text[: hit.start()] + hit.expand(new) + text[hit.end() :]).encode()

    return change


def in_table(pattern: str, new: str) -> Callable[[bytes], bytes]:
    return lambda raw: resealed(once(pattern, new)(raw))


def dose_off(raw: bytes) -> bytes:
    """Raise one dose of a summary by a hundredth."""
    data = json.loads(raw)
    zone = next(iter(data["tables"][0]["zones"].values()))
    assert zone["dli_mol_m2_d"]["replay"] > 0.1
    zone["dli_mol_m2_d"]["replay"] *= 1.01
    return json.dumps(data).encode()


def best_beside_half(raw: bytes) -> bytes:
    """Call a table the best although one with half its error may be there."""
    data = json.loads(raw)
    proof = next(iter(data["tables"][0]["channels"].values()))["fit"]["certificate"]
    assert proof["error_percent"] > 0.1
    proof |= {"is_best": True, "bound_percent": proof["error_percent"] / 2}
    return json.dumps(data).encode()


def bound_raised(raw: bytes) -> bytes:
    """Claim that no table is better than one that is worse."""
    data = json.loads(raw)
    proof = next(iter(data["tables"][0]["channels"].values()))["fit"]["certificate"]
    proof["bound_percent"] = proof["error_percent"] + 0.1
    return json.dumps(data).encode()


IN_FILES: list[tuple[str, str, Callable[[bytes], bytes], str]] = [
    ("volts of 10.2", "table.json", in_table(r'"volts": [\d.]+', '"volts": 10.2'), "rows_stand"),
    (
        "a row off the grid of times",
        "table.json",
        in_table(r'"time": "(..:..)",(\s+)"second": (\d+)(\d)', r'"time": "\1:01",\2"second": \g<3>1'),
        "rows_stand",
    ),
    (
        "a row off the grid of levels",
        "table.json",
        in_table(r'"level_percent": ([\d.]+)', r'"level_percent": \g<1>3'),
        "rows_stand",
    ),
    (
        "a code too large",
        "table.json",
        in_table(r'"converter_code": (\d+)', r'"converter_code": 1\1'),
        "rows_stand",
    ),
    ("a dose 1 % off", "summary.json", dose_off, "doses_are"),
    ("a bound above the error", "summary.json", bound_raised, "certificates_are"),
    ("best beside half the error", "summary.json", best_beside_half, "certificates_are"),
    ("a row lost in table.csv", "table.csv", once(r"(?m)^.*\r\n", ""), "formats_say"),
    ("a volt changed in table.csv", "table.csv", once(r",(\d\.\d{4}),", ",5.4321,"), "formats_say"),
    ("a relay lost on the sheet", "typing-sheet.txt", once(r"   (on|off) +", "   "), "formats_say"),
    ("a level changed on the sheet", "typing-sheet.txt", once(r"\d %", "7.7 %"), "formats_say"),
    ("a byte of the header", "export.h", once(r"0x..,(\s+)/\* no", r"0x5A,\1/* no"), "checksum"),
    ("a name of the header", "export.h", once(r"(PHOTOPERIOD_CHANNEL_\w+) 0", r"\1 1"), "no name of"),
    ("a number of the module", "export.py", once(r"CHANNEL_(\w+) = 0", r"CHANNEL_\1 = 1"), "another number"),
    ("a file that the manifest lacks", "manifest.json", once(r'"bytes": \d+', '"bytes": 1'), "other files"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "damage", "law"), [case[1:] for case in IN_FILES], ids=[case[0] for case in IN_FILES]
)
def test_a_mistake_in_a_file_is_found(
    written: list[Written], name: str, damage: Callable[[bytes], bytes], law: str
) -> None:
    found = []
    for each in written:
        try:
            found += broken(changed(each, name, damage), is_thorough=False)
        except (IndexError, StopIteration):
            continue  # there is nothing to change
        except AssertionError as fault:  # a reader refuses it
            found.append(str(fault))
    assert any(law in fault for fault in found), found


def test_nothing_is_found_without_a_mistake(written: list[Written]) -> None:
    assert [fault for each in written for fault in broken(each, is_thorough=True)] == []


@pytest.fixture(scope="module")
def dated(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """Dates that follow others in a ledger, of a tube that stays, with a calendar."""
    folder = tmp_path_factory.mktemp("dated")
    for seed in itertools.count(1):
        drawn = draw(seed)
        tubes = drawn.data.get("tubes", {})
        if not drawn.with_ledger or not any("place" not in tube for tube in tubes.values()):
            continue
        found = compile_drawn(replace(drawn, with_calendar=True), folder)
        if len(found) == 2 and not found[1].is_refused and "changes" not in drawn.data:
            return found[1]
    raise AssertionError("no seed has such dates")


def hours_more(raw: bytes) -> bytes:
    """Let each tube of a summary have burned a hundredth of an hour more."""
    data = json.loads(raw)
    for tube in data["tubes"].values():
        tube["lit_hours"] += 0.01
    return json.dumps(data).encode()


@pytest.mark.parametrize(
    ("name", "damage", "law"),
    [
        (
            "calendar.ics",
            once(r"UID:(\d{6})\d\d-load", r"UID:\g<1>00-load"),
            "does not match format",
        ),
        ("calendar.ics", once(r"(?s)BEGIN:VEVENT.*END:VEVENT\r\n", ""), "errands_are"),
        ("ledger.json", once(r'"lit_hours": [\d.]+', '"lit_hours": 1.5'), "the_ledger"),
        ("summary.json", hours_more, "tubes_burn"),
    ],
    ids=["an errand on no date", "no errands", "hours in the ledger", "hours of tubes"],
)
def test_a_mistake_in_dates_is_found(
    dated: Written, name: str, damage: Callable[[bytes], bytes], law: str
) -> None:
    assert broken(dated, is_thorough=False) == []
    try:
        found = broken(changed(dated, name, damage), is_thorough=False)
    except ValueError as fault:  # a date that does not exist
        found = [str(fault)]
    assert any(law in fault for fault in found), found


@pytest.fixture
def paths() -> Iterator[None]:
    """Light paths are kept: none with a planted mistake outlives its test."""
    kept = [each for each in vars(light_path).values() if hasattr(each, "cache_clear")]
    for each in (*kept, LightPath.shared):
        each.cache_clear()
    yield
    for each in (*kept, LightPath.shared):
        each.cache_clear()


def found_by(law: str) -> str:
    """Return the first failure that the seeds show, which must be that of a law."""
    for seed in range(1, MOST_SEEDS):
        failures = run_of(seed, 1).failures
        if failures:
            assert any(law in failure for failure in failures), failures
            return failures[0]
    raise AssertionError("no seed shows the mistake")


@pytest.mark.usefixtures("paths")
def test_a_converter_that_goes_above_ten_volts_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Converter, "full_code", property(lambda self: self.last_code))
    monkeypatch.setattr(
        Converter, "volts", lambda self, codes: self.offset_volts + codes * self.volts_per_code
    )
    found_by("rows_stand")


def test_a_row_off_the_grid_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    def moved(c: channel_day.ChannelDay) -> contents_module.ChannelRows:
        rows = real(c)
        row = rows.rows[0]
        return replace(rows, rows=(Row(row.second + 1, row.count, row.relay), *rows.rows[1:]))

    real = contents_module._rows_of
    monkeypatch.setattr(contents_module, "_rows_of", moved)
    found_by("rows_stand")


@pytest.mark.usefixtures("paths")
def test_a_level_between_two_steps_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    real = LevelGrid.level_percents
    monkeypatch.setattr(LevelGrid, "level_percents", lambda grid, c: real(grid, c) + 0.01)
    found_by("rows_stand")


def test_a_dose_that_is_one_per_cent_off_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    real = channel_day.daily_light_integral
    monkeypatch.setattr(channel_day, "daily_light_integral", lambda ppfd: real(ppfd) * 1.01)
    found_by("doses_are")


def test_a_row_that_one_format_loses_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    real = table_csv.setpoints
    monkeypatch.setattr(table_csv, "setpoints", lambda program, c: real(program, c)[1:])
    found_by("formats_say")


def test_a_limit_that_is_not_kept_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Report, "has_errors", property(lambda self: False))
    found = found_by("")
    assert "limits_are" in found or "rows_stand" in found or "doses_are" in found


def test_an_error_that_is_not_the_tables_own_is_found(written: list[Written]) -> None:
    each = written[0]
    table = each.program.tables[0]
    id, c = next(iter(table.channels.items()))
    proof = replace(c.fit.certificate, error=c.fit.certificate.error + 1e-6)
    channels = {**table.channels, id: replace(c, fit=replace(c.fit, certificate=proof))}
    day = replace(table.day, channels=channels)
    program = replace(each.program, tables=(replace(table, day=day), *each.program.tables[1:]))
    assert each.compiled is not None
    planted = replace(each, compiled=replace(each.compiled, program=program))
    assert any("verified" in fault for fault in broken(planted, is_thorough=True))


def test_bytes_of_another_machine_are_found(written: list[Written], tmp_path: Path) -> None:
    each = written[0]
    assert differs(each, tmp_path) == []
    damaged = changed(each, "table.csv", lambda raw: raw + b" ")
    assert differs(damaged, tmp_path) == ["the command writes another table.csv"]
    refused = replace(each, compiled=None, files={})
    assert differs(refused, tmp_path)[0].startswith("the command ends with 0, not 1")
