"""PPFD at full by zone, from numbers of the file and from files of readings beside it."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from pathlib import Path

import pytest

from photoperiod.api import ScheduleError, compile, load, load_text, write
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.formats.about import about_of
from photoperiod.readings.extent import Statistic
from photoperiod.report.summary import render_summary
from photoperiod.schedule.model import PpfdSpread, Schedule
from photoperiod.source.json_schema import validate
from tests.conftest import SCHEDULE, changed
from tests.readings.bench import HEAD, csv

BOX = "extent: {kind: box, x_cm: [0, 50], y_cm: [0, 50], depth_cm: [0, 30]}, "
IN_A_BOX = ("crest: {dli", f"crest: {{{BOX}dli")
BY_FILE = ("{zones: {crest: 130}}", "{readings: map.csv}")
ROWS = ("10,10,5,blue,100,150,yes,", "20,10,5,blue,100,130,yes,", "30,10,5,blue,100,95,yes,")
FILE = "full_ppfd: {readings: map.csv}"


def given(
    tmp_path: Path, *changes: tuple[str, str], rows: tuple[str, ...] = ROWS, head: str = HEAD
) -> Path:
    (tmp_path / "map.csv").write_bytes(csv(*rows, head=head))
    path = tmp_path / "tank.yaml"
    path.write_text(changed(*changes), encoding="utf-8")
    return path


def schedule_of(path: Path) -> Schedule:
    return load(path).schedule


def faults_of(path: Path) -> tuple[Diagnostic, ...]:
    with pytest.raises(ScheduleError) as raised:
        load(path)
    return raised.value.findings


def marked(path: Path, finding: Diagnostic) -> tuple[str, str]:
    at = finding.source_range
    assert at is not None
    line = path.read_text(encoding="utf-8").splitlines()[at.line - 1]
    return finding.code, line[at.column - 1 : at.end_column - 1]


def test_the_mean_counts_for_doses_the_most_for_limits_the_least_for_the_lower_end(
    tmp_path: Path,
) -> None:
    blue = schedule_of(given(tmp_path, IN_A_BOX, BY_FILE)).channels["blue"]
    # by hand: (150 + 130 + 95) / 3 = 125
    assert blue.full_ppfd == pytest.approx({"crest": 125})
    assert blue.limit_ppfd == {"crest": 150}
    assert blue.least_ppfd == {"crest": 95}


def test_each_can_be_chosen(tmp_path: Path) -> None:
    chosen = "from_readings: {limits: mean, dose: least, dli_least: most}, "
    path = given(tmp_path, (IN_A_BOX[0], f"crest: {{{BOX}{chosen}dli"), BY_FILE)
    schedule = schedule_of(path)
    assert schedule.zones["crest"].from_readings.limits is Statistic.MEAN
    blue = schedule.channels["blue"]
    assert blue.full_ppfd == {"crest": 95}
    assert blue.ppfd_spread == {"crest": PpfdSpread(limits=pytest.approx(125), dli_least=150)}


def test_numbers_have_no_spread() -> None:
    blue = load_text("x", SCHEDULE.encode()).schedule.channels["blue"]
    assert blue.ppfd_spread == {}
    assert blue.limit_ppfd == blue.least_ppfd == blue.full_ppfd == {"crest": 130}


def test_a_zone_of_points(tmp_path: Path) -> None:
    points = "extent: {kind: points, points: [{x_cm: 10, y_cm: 10, depth_cm: 5}, {x_cm: 30, y_cm: 10, depth_cm: 5}]}, "  # noqa: E501
    path = given(tmp_path, ("crest: {dli", f"crest: {{{points}dli"), BY_FILE)
    assert schedule_of(path).channels["blue"].full_ppfd == {"crest": 122.5}
    path = given(tmp_path, ("crest: {dli", f"crest: {{{points.replace('30', '31.2')}dli"), BY_FILE)
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO908", "map.csv")
    assert "not read at the point (31.2, 10, 5)" in fault.message


def test_a_zone_by_its_name_in_the_file(tmp_path: Path) -> None:
    head = "zone,channel,level_percent,ppfd_umol_m2_s,immersion_applied"
    rows = ("crest,blue,100,100,yes", "crest,blue,100,140,yes")
    path = given(tmp_path, BY_FILE, rows=rows, head=head)
    assert schedule_of(path).channels["blue"].limit_ppfd == {"crest": 140}


def test_readings_below_full_are_raised_by_the_ballast_of_the_channel(tmp_path: Path) -> None:
    # square law from 1 V: 1 % to 10 V: 100 %; at 8 V √light is 0.1 + 0.9 × 7/9 = 0.8, light 64 %
    path = given(tmp_path, IN_A_BOX, BY_FILE, rows=("10,10,5,blue,80,64,yes,",))
    assert schedule_of(path).channels["blue"].full_ppfd == pytest.approx({"crest": 100})


def test_the_digest_covers_the_file(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, BY_FILE)
    one = schedule_of(path)
    raw = (tmp_path / "map.csv").read_bytes()
    assert one.readings_digests == {"map.csv": hashlib.sha256(raw).hexdigest()}
    lines = (one.file_digest, one.readings_digests["map.csv"])
    assert one.digest == hashlib.sha256("".join(f"{x}\n" for x in lines).encode()).hexdigest()
    (tmp_path / "map.csv").write_bytes(raw + b"\r\n")
    assert schedule_of(path).digest != one.digest


def test_a_file_that_changed_is_noticed_where_its_digest_is_written(tmp_path: Path) -> None:
    digest = hashlib.sha256(csv(*ROWS)).hexdigest()
    pinned = (BY_FILE[0], f"{{readings: map.csv, readings_sha256: {digest}}}")
    path = given(tmp_path, IN_A_BOX, pinned)
    assert schedule_of(path).channels["blue"].full_ppfd
    path = given(tmp_path, IN_A_BOX, pinned, rows=(*ROWS, "40,10,5,blue,100,90,yes,"))
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO910", digest)
    assert "'map.csv' has changed" in fault.message


def test_faults_of_the_file_are_told_with_row_and_column_once(tmp_path: Path) -> None:
    rows = ("10,10,5,blue,100,15O,yes,", "10,10,5,blue,100,-3,yes,")
    path = given(tmp_path, IN_A_BOX, BY_FILE, rows=rows)
    found = faults_of(path)
    assert [marked(path, each) for each in found] == [("PHO904", "map.csv")] * 2
    assert sorted(each.message for each in found) == [
        "map.csv:2:18: '15O' is not a number", "map.csv:3:18: -3 is not from 0 to 5000",
    ]  # fmt: skip


def test_warnings_of_the_file_are_told_too(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, BY_FILE, rows=(*ROWS, ROWS[0]))
    found = [each for each in load(path).findings if each.code == "PHO905"]
    assert [each.message for each in found] == ["map.csv:5:1: this row repeats line 2 cell by cell"]


@pytest.mark.parametrize(
    ("name", "reason"),
    [("gone.csv", "no such file"), (".", "is a folder"), ("map.csv/x", "not a folder")],
)
def test_a_file_that_can_not_be_read_is_told_at_its_name(
    tmp_path: Path, name: str, reason: str
) -> None:
    path = given(tmp_path, IN_A_BOX, (BY_FILE[0], f"{{readings: {name}}}"))
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO901", name)
    assert reason in fault.message


def test_a_schedule_without_a_folder_can_name_no_file(tmp_path: Path) -> None:
    text = given(tmp_path, IN_A_BOX, BY_FILE).read_bytes()
    with pytest.raises(ScheduleError, match="no folder to look in"):
        load_text("standard input", text)
    assert load_text("standard input", text, tmp_path).schedule.channels["blue"].full_ppfd


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, BY_FILE)
    with (tmp_path / "map.csv").open("wb") as stream:
        stream.truncate(200_000_000)  # a hole, which takes no room
    (fault,) = faults_of(path)
    assert "more than 16,777,216 bytes" in fault.message


@pytest.mark.parametrize(
    ("change", "rows", "code", "shown", "message"),
    [
        (BY_FILE, ("10,10,5,blue,100,1,yes,", "9,9,5,bleu,100,1,yes,"), "PHO910", "map.csv",
         "map.csv:3:7: the schedule has no channel 'bleu'"),
        (BY_FILE, ("90,10,5,blue,100,1,yes,",), "PHO908", "map.csv",
         "no reading of channel 'blue' is in a zone"),
        ((BY_FILE[0], "{readings: map.csv, zones: {crest: 5}}"), ROWS, "PHO910", "5",
         "zone 'crest' has a number here, and 3 points in the readings"),
        ((BY_FILE[0], "{}"), ROWS, "PHO202", "full_ppfd", "'full_ppfd' lacks 'zones' or 'readings'"),
        ((BY_FILE[0], "{readings: /etc/map.csv}"), ROWS, "PHO206", "/etc/map.csv",
         "'/etc/map.csv' does not have the right form"),
    ],
)  # fmt: skip
def test_what_does_not_fit_the_schedule(
    tmp_path: Path, change: tuple[str, str], rows: tuple[str, ...], code: str, shown: str,
    message: str,
) -> None:  # fmt: skip
    path = given(tmp_path, IN_A_BOX, change, rows=rows)
    (fault,) = faults_of(path)
    assert marked(path, fault) == (code, shown)
    assert fault.message == message


def test_a_channel_without_a_reading_is_told(tmp_path: Path) -> None:
    text = changed(IN_A_BOX, BY_FILE)
    start, end = text.index("  blue:\n"), text.index("tank: bench")
    white = text[start:end].replace("blue:", "white:").replace("    tubes: [blue-a]\n", "")
    path = given(tmp_path, IN_A_BOX, BY_FILE)
    path.write_text(text[:end] + white + text[end:], encoding="utf-8")
    (fault,) = faults_of(path)
    assert fault.message == "'map.csv' has no reading of channel 'white'"


def test_water_that_changed_acts_on_the_depth_of_each_point(tmp_path: Path) -> None:
    # e^(−0.5 × 0.05) at 5 cm depth: 150 becomes 146.3
    change = (BY_FILE[0], "{readings: map.csv, water_change_per_m: 0.5}")
    blue = schedule_of(given(tmp_path, IN_A_BOX, change)).channels["blue"]
    assert blue.limit_ppfd["crest"] == pytest.approx(146.3, abs=0.01)


def test_water_that_changed_needs_depths(tmp_path: Path) -> None:
    head = "zone,channel,level_percent,ppfd_umol_m2_s,immersion_applied"
    change = (BY_FILE[0], "{readings: map.csv, water_change_per_m: 0.5}")
    path = given(tmp_path, change, rows=("crest,blue,100,100,yes",), head=head)
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO908", "0.5")


def test_a_point_between_depths_is_told(tmp_path: Path) -> None:
    points = "extent: {kind: points, points: [{x_cm: 10, y_cm: 10, depth_cm: 15}]}, "
    rows = ("10,10,5,blue,100,100,yes,", "10,10,25,blue,100,40,yes,")
    path = given(tmp_path, ("crest: {dli", f"crest: {{{points}dli"), BY_FILE, rows=rows)
    loaded = load(path)
    assert loaded.schedule.channels["blue"].full_ppfd["crest"] == pytest.approx(63.246, abs=1e-3)
    assert [each.message for each in loaded.findings if each.code == "PHO909"] == [
        "channel 'blue' was not read at 1 of 1 point of zone 'crest': they lie between depths that were,"
        " and are interpolated"
    ]


LUX = HEAD.replace("ppfd_umol_m2_s", "lux")


def test_lux_are_turned_into_ppfd_by_the_worth_that_is_stated(tmp_path: Path) -> None:
    # CIE FL11: 76.04 lux for 1 µmol m⁻² s⁻¹ (REFERENCES), so 9504 lux are 124.99 and 11,406 are 150
    change = (BY_FILE[0], "{readings: map.csv, lux_per_umol: 76.04}")
    rows = ("10,10,5,blue,100,7602,yes,", "20,10,5,blue,100,11406,yes,")
    blue = schedule_of(given(tmp_path, IN_A_BOX, change, rows=rows, head=LUX)).channels["blue"]
    assert blue.full_ppfd["crest"] == pytest.approx(124.99, abs=0.01)
    assert blue.limit_ppfd["crest"] == pytest.approx(150, abs=0.01)
    assert blue.least_ppfd["crest"] == pytest.approx(99.97, abs=0.01)


def test_lux_without_their_worth_are_refused(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, BY_FILE, rows=("10,10,5,blue,100,7602,yes,",), head=LUX)
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO911", "map.csv")


def test_a_worth_of_lux_for_readings_of_ppfd_is_refused(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, (BY_FILE[0], "{readings: map.csv, lux_per_umol: 76.04}"))
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO910", "76.04")


def test_a_box_the_wrong_way_round(tmp_path: Path) -> None:
    path = given(
        tmp_path, ("crest: {dli", f"crest: {{{BOX.replace('[0, 30]', '[30, 0]')}dli"), BY_FILE
    )
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO319", "[30, 0]")


DATED = HEAD + ",date"


@pytest.mark.parametrize(
    ("days", "stated", "expected"),
    [
        (("2027-02-20",), "", dt.date(2027, 2, 20)),
        (("2027-02-20", "2027-02-22"), "measured_on: 2027-02-22, ", dt.date(2027, 2, 22)),
        (("",), "", None),
        (("",), "measured_on: 2027-02-22, ", dt.date(2027, 2, 22)),
    ],
)
def test_the_date_is_that_of_the_readings(
    tmp_path: Path, days: tuple[str, ...], stated: str, expected: dt.date | None
) -> None:
    rows = tuple(f"{10 + x},10,5,blue,100,150,yes,,{day}" for x, day in enumerate(days))
    change = (BY_FILE[0], f"{{{stated}readings: map.csv}}")
    path = given(tmp_path, IN_A_BOX, change, rows=rows, head=DATED)
    assert schedule_of(path).channels["blue"].measured_on == expected


@pytest.mark.parametrize(
    ("days", "stated", "shown", "words"),
    [
        (
            ("2027-02-20", "2027-02-22"),
            "",
            "map.csv",
            "are of several dates, 2027-02-20 to 2027-02-22",
        ),
        (("2027-02-20",), "measured_on: 2027-03-01, ", "2027-03-01", "are of 2027-02-20, not of"),
    ],
)
def test_dates_that_do_not_agree(
    tmp_path: Path, days: tuple[str, ...], stated: str, shown: str, words: str
) -> None:
    rows = tuple(f"{10 + x},10,5,blue,100,150,yes,,{day}" for x, day in enumerate(days))
    change = (BY_FILE[0], f"{{{stated}readings: map.csv}}")
    path = given(tmp_path, IN_A_BOX, change, rows=rows, head=DATED)
    (fault,) = faults_of(path)
    assert marked(path, fault) == ("PHO910", shown)
    assert words in fault.message


def test_a_faulty_ballast_is_one_message(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, BY_FILE, ("full_volts: 10.0", "full_volts: 0.5"))
    assert [each.code for each in faults_of(path)] == ["PHO308"]


#: Light falls as 200 e^(−2z): 164.87 at 10 cm, 110.76 or so at 30 cm, at two places.
DEEP = tuple(f"{x},10,{z},blue,100,{200 * 2.718281828459045 ** (-2 * z / 100):.4f},yes," for x in (10, 20)
             for z in (10, 20, 30))  # fmt: skip
BELOW = ("extent: {kind: points, points: [{x_cm: 10, y_cm: 10, depth_cm: 30},"
         " {x_cm: 20, y_cm: 10, depth_cm: 45}]}")  # fmt: skip
FOLLOWED = "{readings: map.csv, beyond_readings: fall-off}"


def test_beyond_the_readings_nothing_is_told_unless_the_schedule_says_so(tmp_path: Path) -> None:
    in_points = ("crest: {dli", f"crest: {{{BELOW}, dli")
    for value in ("{readings: map.csv}", "{readings: map.csv, beyond_readings: refuse}"):
        path = given(tmp_path, in_points, (BY_FILE[0], value), rows=DEEP)
        (fault,) = faults_of(path)
        assert fault.code == "PHO908" and "(20, 10, 45)" in fault.message
        assert "`beyond_readings: fall-off`" in fault.help
    path = given(tmp_path, in_points, (BY_FILE[0], FOLLOWED), rows=DEEP)
    loaded = load(path)
    (warning,) = (each for each in loaded.findings if each.code == "PHO917")
    assert marked(path, warning) == ("PHO917", "fall-off")
    assert "at 1 of 2 points of zone 'crest'" in warning.message
    blue = loaded.schedule.channels["blue"]
    # by hand: 200 e^(−0.6) = 109.762 at 30 cm, 200 e^(−0.9) = 81.314 at 45 cm
    assert blue.full_ppfd["crest"] == pytest.approx((109.762 + 81.314) / 2, abs=0.01)
    assert blue.limit_ppfd["crest"] == pytest.approx(109.762, abs=0.01)
    assert blue.beyond_readings == ("crest",)
    assert loaded.schedule.beyond_readings == {"blue": ("crest",)}


def test_every_output_says_that_light_lies_beyond_the_readings(tmp_path: Path) -> None:
    path = given(
        tmp_path, ("crest: {dli", f"crest: {{{BELOW}, dli"), (BY_FILE[0], FOLLOWED), rows=DEEP
    )
    compiled = compile(load(path))
    write(compiled, tmp_path / "out")
    out = {each.name: each.read_text(encoding="utf-8") for each in (tmp_path / "out").iterdir()}
    words = "Light in crest lies beyond all readings at some points"
    assert words in out["table.json"] and words in " ".join(out["typing-sheet.txt"].split())
    for name in ("summary.json", "manifest.json"):
        data = json.loads(out[name])
        assert data["schedule"]["beyond_readings"] == {"blue": ["crest"]}
        assert validate(data, name.removesuffix(".json"))[0] == []
    assert "PHO917" in out["summary.json"]
    assert "BEYOND THE READINGS: at some points of crest" in render_summary(compiled.program, [])
    # what every export tells, in its comments or its image
    assert any(words in each for each in about_of(compiled.program, compiled.findings).cautions)


def test_what_is_not_beyond_is_not_called_so(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, (BY_FILE[0], FOLLOWED), rows=DEEP)
    compiled = compile(load(path))
    assert compiled.program.schedule.beyond_readings == {}
    assert not any(each.code == "PHO917" for each in compiled.findings)
    assert "BEYOND" not in render_summary(compiled.program, [])


def test_a_fall_off_that_is_not_known_can_not_be_followed(tmp_path: Path) -> None:
    path = given(tmp_path, IN_A_BOX, (BY_FILE[0], FOLLOWED))
    (fault,) = faults_of(path)
    assert (fault.code, fault.path[-1]) == ("PHO908", "beyond_readings")
