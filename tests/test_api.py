"""The Python API: what it returns, what it refuses, and that importing it costs nothing."""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import photoperiod as pp
from photoperiod.source.document import MAX_BYTES
from tests.conftest import ROOT, SCHEDULE, changed

SMALLEST = ROOT / "examples" / "smallest.yaml"
NATURAL = ROOT / "examples" / "natural-year.yaml"
MARCH_2 = dt.date(2027, 3, 2)


def test_every_public_name_is_there_and_nothing_else_is_listed() -> None:
    assert dir(pp) == sorted(pp.__all__)
    for name in pp.__all__:
        assert getattr(pp, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'luminaire'"):
        pp.luminaire  # noqa: B018


def test_importing_loads_nothing_of_the_package() -> None:
    probe = (
        "import sys, photoperiod\n"
        "print([m for m in sys.modules if m.startswith('photoperiod.') or m == 'numpy'])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_a_schedule_is_loaded_with_its_findings_and_lines(write: Callable[..., Path]) -> None:
    loaded = pp.load(write(changed(("tubes: [blue-a]", "tubes: []\n    ballast_count: 1"))))
    assert list(loaded.schedule.channels) == ["blue"]
    (finding,) = loaded.findings  # the tube burns on no channel
    assert (finding.code, finding.severity) == ("PHO318", pp.Severity.WARNING)
    assert loaded.document is not None and finding.source_range is not None
    line = loaded.document.lines[finding.source_range.line - 1]
    assert line == "  blue-a: {watts: 54}"


def test_every_fault_of_a_schedule_is_in_one_exception(write: Callable[..., Path]) -> None:
    path = write(
        changed(
            ("minutes: 60}\n      peaks", "minutes: -1}\n      peaks"), ("watts: 54", "wats: 54")
        )
    )
    with pytest.raises(pp.ScheduleError) as caught:
        pp.load(path)
    fault = caught.value
    assert len(fault.findings) >= 2
    assert fault.exit_code == 1
    errors = [each for each in fault.findings if each.severity is pp.Severity.ERROR]
    assert [line.count(f"{path}:") for line in str(fault).splitlines()] == [1] * len(errors)
    assert f"{path}:22:" in str(fault)  # the line of the tube


@pytest.mark.parametrize(
    ("name", "said"),
    [("", "can't read ''"), (".", "is a folder"), ("none.yaml", "no such file")],
)
def test_what_is_no_file_is_refused_with_its_code(name: str, said: str, tmp_path: Path,
                                                  monkeypatch: pytest.MonkeyPatch) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    for read in (pp.load, pp.read_table):
        with pytest.raises(pp.OutsideWorldError, match=said) as caught:
            read(name)
        assert caught.value.code == "PHO501"


def test_a_large_file_is_not_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    path.write_bytes(b"# x\n" * MAX_BYTES)
    with pytest.raises(pp.ScheduleError) as caught:
        pp.load(path)
    assert [each.code for each in caught.value.findings] == ["PHO104"]


def test_the_dose_of_the_worked_day_is_that_of_the_arithmetic() -> None:
    # By hand: linear ramps of 60 min, 80 % for 10 h, so 0.8 x 11 h x 130 x 0.0036 = 4.118 mol m-2 d-1.
    compiled = pp.compile(pp.load_text("test.yaml", SCHEDULE.encode()), MARCH_2)
    crest = compiled.doses()["crest"]
    assert crest.plan == pytest.approx(4.11840, abs=1e-5)
    assert crest.replay == pytest.approx(crest.plan, rel=0.02)
    assert compiled.doses(MARCH_2) == compiled.doses()
    with pytest.raises(ValueError, match="2027-03-03 is not within"):
        compiled.doses(dt.date(2027, 3, 3))


def test_a_date_a_pair_and_a_span_are_the_same_dates() -> None:
    loaded = pp.load(SMALLEST)
    spans = [
        pp.compile(loaded, dates).program.span
        for dates in (MARCH_2, (MARCH_2, MARCH_2), pp.DateSpan(MARCH_2, MARCH_2))
    ]
    assert spans == [pp.DateSpan(MARCH_2, MARCH_2)] * 3
    assert pp.compile(loaded).program.span is None


@pytest.mark.parametrize(
    ("dates", "error", "said"),
    [
        ((dt.date(2027, 3, 2), dt.date(2027, 3, 1)), pp.WrongUse, "backwards"),
        ((dt.date(2027, 3, 2), dt.date(2037, 3, 2)), pp.WrongUse, "ten years"),
        (dt.datetime(2027, 3, 2, 9), TypeError, "datetime.date"),
        ("2027-03-02", TypeError, "datetime.date"),
        ((dt.date(2027, 3, 2), None), TypeError, "datetime.date"),
        ((dt.date(2027, 3, 2),), TypeError, "first and the last"),
        (20270302, TypeError, "datetime.date"),
    ],
)
def test_wrong_dates_are_refused(dates: object, error: type[Exception], said: str) -> None:
    loaded = pp.load(SMALLEST)
    with pytest.raises(error, match=said):
        pp.compile(loaded, dates)  # type: ignore[arg-type]


@pytest.mark.parametrize("given", [None, "examples/smallest.yaml", SMALLEST, {"schedule": 1}])
def test_what_is_no_schedule_is_refused(given: object) -> None:
    with pytest.raises(TypeError, match="`load` returns one"):
        pp.compile(given)  # type: ignore[arg-type]


def test_a_schedule_that_follows_the_sky_needs_dates() -> None:
    with pytest.raises(pp.WrongUse, match="name the dates"):
        pp.compile(pp.load(NATURAL))


def test_a_changed_schedule_is_compiled_without_a_text() -> None:
    schedule = pp.load_text("test.yaml", SCHEDULE.encode()).schedule
    brighter = replace(schedule, zones={"crest": replace(schedule.zones["crest"], ppfd_max=50.0)})
    compiled = pp.compile(brighter, MARCH_2)
    (finding,) = [each for each in compiled.findings if each.severity is pp.Severity.ERROR]
    assert (finding.code, finding.source_range) == ("PHO402", None)
    assert compiled.document is None and compiled.schedule == brighter
    assert (
        compiled.schedule.digest != schedule.digest
    )  # that of the file says nothing of other values
    with pytest.raises(pp.ScheduleError, match=r"schedule, zones\.crest"):
        pp.write(compiled, "never")
    assert not Path("never").exists()


def test_what_is_written_is_read_and_played(tmp_path: Path) -> None:
    compiled = pp.compile(pp.load_text("test.yaml", SCHEDULE.encode()), MARCH_2)
    names = pp.write(compiled, tmp_path / "out")
    assert {path.name for path in (tmp_path / "out").iterdir()} == set(names)
    assert "table.json" in names
    table = pp.read_table(tmp_path / "out" / "table.json")
    # By hand: 80 % light on a square-law ballast is 0.8 ** 0.5 = 89.4 % level.
    noon = pp.replay(table, dt.datetime(2027, 3, 2, 15))["blue"]
    assert noon.relay and noon.light == pytest.approx(0.8, abs=0.012)
    assert noon.level_percent == pytest.approx(89.4, abs=0.6)
    assert not pp.replay(table, dt.datetime(2027, 3, 2, 3))["blue"].relay
    with pytest.raises(pp.WrongUse, match="date and time"):
        pp.replay(table, dt.time(15))
    with pytest.raises(pp.WrongUse, match="names a zone"):
        pp.replay(table, dt.datetime(2027, 3, 2, 15, tzinfo=dt.UTC))


def test_a_table_without_dates_is_played_by_the_time_alone(tmp_path: Path) -> None:
    pp.write(pp.compile(pp.load_text("test.yaml", SCHEDULE.encode())), tmp_path / "out")
    table = pp.read_table(tmp_path / "out" / "table.json")
    assert pp.replay(table, dt.time(15))["blue"].relay
    assert not pp.replay(table, dt.time(3))["blue"].relay


def test_a_table_that_was_changed_is_refused(tmp_path: Path) -> None:
    pp.write(pp.compile(pp.load_text("test.yaml", SCHEDULE.encode())), tmp_path / "out")
    path = tmp_path / "out" / "table.json"
    data = json.loads(path.read_text(encoding="utf-8"))
    data["made_with"] = "another program"
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(pp.OutsideWorldError) as caught:
        pp.read_table(path)
    assert caught.value.code == "PHO505"


def test_a_report_says_what_is_not_guarded_of_a_file_and_of_values() -> None:
    loaded = pp.load(ROOT / "examples" / "never-dark.yaml")
    (unguarded,) = loaded.report.not_guarded
    assert unguarded.because == "the schedule has no zone"
    assert pp.compile(loaded).report.not_guarded == loaded.report.not_guarded
    assert pp.compile(loaded.schedule).report.not_guarded == loaded.report.not_guarded
