"""Files as earlier versions wrote them are read, and those of another version refused with the way out."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from photoperiod.board.board_file import read_board
from photoperiod.board.state_store import RememberedOutput, StateStore
from photoperiod.errors import OutsideWorldError
from photoperiod.formats.integrity import (
    with_checksum,
    with_crc32,
    with_digest,
    with_end_record,
    without_end_record,
)
from photoperiod.formats.ledger_json import ledger_state_before, parse_ledger
from photoperiod.formats.table import read_table
from photoperiod.player.outputs import at_moment
from photoperiod.program.dates import DateSpan
from tests.board.bench import MIDNIGHT, Bench
from tests.conftest import Run, load

SAMPLES = Path(__file__).parent / "samples"
VERSIONS = sorted(path.name for path in SAMPLES.iterdir() if (path / "schedule.yaml").exists())
TABLES = ("out/table.json", "records.csv", "table.bin")

#: The only version of each format so far.
NEWEST = SAMPLES / VERSIONS[-1]


@pytest.mark.parametrize("version", VERSIONS)
def test_each_format_has_its_sample(version: str) -> None:
    files = {p.relative_to(SAMPLES / version).as_posix() for p in (SAMPLES / version).rglob("*.*")}
    assert files >= {"schedule.yaml", "board.yaml", "ledger.json", "state.json", "run.csv", *TABLES}


@pytest.mark.parametrize("version", VERSIONS)
def test_a_schedule_is_still_one(version: str) -> None:
    outcome = load("schedule.yaml", (SAMPLES / version / "schedule.yaml").read_bytes())
    assert outcome.loaded is not None and not outcome.report.has_errors


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", TABLES)
def test_a_table_still_gives_the_same(version: str, name: str) -> None:
    """80 % light is 8.944 V on this square law; the grid has 89 %, code 3645 of 4096."""
    held = read_table(name, (SAMPLES / version / name).read_bytes())
    _, noon = at_moment(held, dt.date(2027, 3, 4), 43_200)
    _, night = at_moment(held, dt.date(2027, 3, 4), 3 * 3600)
    assert (noon["blue"].code, noon["blue"].relay) == (3645, True)
    assert noon["blue"].light == pytest.approx((3645 / 4096) ** 2, abs=1e-6)
    assert (night["blue"].code, night["blue"].relay, night["blue"].light) == (0, False, 0.0)
    assert held.full_ppfd("crest") == {"blue": 130}


@pytest.mark.parametrize("version", VERSIONS)
def test_a_ledger_still_leads_up_to_the_next_span(version: str) -> None:
    """Twelve hours a day for five days, but for what the first and last row of a ramp may leave dark."""
    folder = SAMPLES / version
    schedule = load("s", (folder / "schedule.yaml").read_bytes()).schedule
    assert schedule is not None
    data = parse_ledger("ledger.json", (folder / "ledger.json").read_bytes())
    span = DateSpan(dt.date(2027, 3, 7), dt.date(2027, 3, 8))
    state = ledger_state_before("ledger.json", data, schedule, span)
    assert state.light["crest"].peak_ppfd == pytest.approx(130 * (3645 / 4096) ** 2, abs=0.1)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_state_is_still_remembered(version: str, tmp_path: Path) -> None:
    shutil.copy(SAMPLES / version / "state.json", tmp_path)
    state = StateStore(tmp_path).read_state()
    assert state is not None and state.is_trusted
    assert state.outputs == {"blue": RememberedOutput(0, relay=False)}
    assert state.unix_s == MIDNIGHT + 3600 + 86_399


@pytest.mark.parametrize("version", VERSIONS)
def test_a_board_file_is_still_one(version: str) -> None:
    raw = (SAMPLES / version / "board.yaml").read_bytes()
    board = read_board("board.yaml", raw)
    assert board.config is not None and not board.report.has_errors


@pytest.mark.parametrize("version", VERSIONS)
def test_a_log_is_still_compared(version: str, run: Run) -> None:
    """A hold of ten minutes, as the log says; the soft start after it is no plan either."""
    folder = SAMPLES / version
    code, out, _ = run("compare", folder / "table.bin", folder / "run.csv", "--part-of-day")
    assert code == 1 and "PHO610" not in out and "PHO603" not in out
    assert "2027-03-02T11:06:40-01:00 hold" in out and "2027-03-02T11:16:40-01:00 release" in out
    assert "relay open where the table has it closed, first at 2027-03-02T11:06:40-01:00" in out


@pytest.mark.parametrize("version", VERSIONS)
def test_a_folder_of_an_earlier_version_may_be_replaced(
    version: str, run: Run, tmp_path: Path
) -> None:
    shutil.copytree(SAMPLES / version / "out", tmp_path / "out")
    arguments = ("--from", "2027-03-02", "--to", "2027-03-06", "-o", tmp_path / "out")
    assert run("compile", SAMPLES / version / "schedule.yaml", *arguments)[0] == 0


def json_of_version(raw: bytes, version: int) -> bytes:
    data = json.loads(raw) | {"version": version}
    data.pop("crc32")
    return with_checksum(data)


def records_of_version(raw: bytes, version: int) -> bytes:
    body = without_end_record(raw)
    assert body.count(b'""version"":1,') == 1
    body = body.replace(b'""version"":1,', b'""version"":%d,' % version)
    return with_end_record(body, raw.count(b"\r\n") - 2)


def image_of_version(raw: bytes, version: int) -> bytes:
    """The fifth byte is the version (docs/player.md)."""
    return with_crc32(raw[:4] + bytes([version]) + raw[5:-4])


DAMAGE: dict[str, Callable[[bytes, int], bytes]] = dict(
    zip(TABLES, (json_of_version, records_of_version, image_of_version), strict=True)
)
WAYS_OUT = [
    (2, "version 2, and this program reads version 1: upgrade this program"),
    (0, "version 0, and this program reads version 1: make the file anew with this program"),
]


@pytest.mark.parametrize("name", TABLES)
@pytest.mark.parametrize(("version", "words"), WAYS_OUT)
def test_a_table_of_another_version_is_refused_with_the_way_out(
    name: str, version: int, words: str
) -> None:
    raw = (NEWEST / name).read_bytes()
    assert DAMAGE[name](raw, 1) == raw
    with pytest.raises(OutsideWorldError, match=words) as refusal:
        read_table(name, DAMAGE[name](raw, version))
    assert refusal.value.code == "PHO505" and "photoperiod export" in refusal.value.help


def ledger(**changes: Any) -> bytes:
    return json.dumps(
        with_digest(json.loads((NEWEST / "ledger.json").read_bytes()) | changes)
    ).encode()


@pytest.mark.parametrize(("version", "words"), WAYS_OUT)
def test_a_ledger_of_another_version_is_refused_with_the_way_out(version: int, words: str) -> None:
    assert parse_ledger("l", ledger())
    with pytest.raises(OutsideWorldError, match=words) as refusal:
        parse_ledger("l", ledger(version=version))
    assert refusal.value.code == "PHO504" and "name another file" in refusal.value.help


def test_a_ledger_of_the_time_before_tanks_is_refused_with_the_way_out() -> None:
    with pytest.raises(OutsideWorldError, match="it is broken: unknown key 'title'") as refusal:
        parse_ledger("l", ledger(schedule={"title": "Reef", "sha256": "0" * 64}))
    assert "name another file; without --ledger tubes are followed" in refusal.value.help


@pytest.mark.parametrize("version", [0, 2])
def test_a_board_file_and_a_schedule_of_another_version_say_the_way_out(version: int) -> None:
    board = (NEWEST / "board.yaml").read_bytes().replace(b"board: 1", b"board: %d" % version)
    schedule = (NEWEST / "schedule.yaml").read_bytes()
    schedule = schedule.replace(b"schedule: 1", b"schedule: %d" % version)
    for report in (read_board("b", board).report, load("s", schedule).report):
        (fault,) = [one for one in report if one.code == "PHO210"]
        assert f"this is version {version} of the language, not 1" in fault.message
        assert "upgrade this program if it is a newer version" in fault.help


@pytest.mark.parametrize("version", [0, 2])
def test_a_player_does_not_trust_a_state_of_another_version(version: int, tmp_path: Path) -> None:
    """It begins as at its first start: from the floor, not from what the state says of outputs."""
    bench = Bench(
        tmp_path, (NEWEST / "table.bin").read_bytes(), unix=MIDNIGHT + 12 * 3600, stop_s=60
    )
    bench.store.make()
    path = bench.store.folder / "state.json"
    data = json.loads((NEWEST / "state.json").read_bytes())
    path.write_text(json.dumps(data | {"version": version}), encoding="utf-8")
    assert bench.store.read_state() is None
    assert bench.run() == 0
    written = json.loads(path.read_bytes())
    assert written["version"] == 1 and set(written["outputs"]) == {"blue"}
