"""The commands as a user meets them: what goes to which stream, exit codes, files."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from photoperiod import __version__
from photoperiod.diagnostics.codes import CODES
from photoperiod.source.json_schema import NAMES, load_schema
from tests.conftest import EXAMPLES, ROOT, SCHEDULE, Run, changed


def test_check_of_a_good_file_says_so(run: Run, write: Callable[..., Path]) -> None:
    path = write(SCHEDULE)
    code, out, err = run("check", path, "--date", "2027-03-02")
    assert code == 0
    assert out == f"{path}: nothing to complain of\n"
    assert err == ""


def test_check_reads_standard_input(run: Run) -> None:
    code, out, _ = run("check", "-", "--date", "2027-03-02", stdin=SCHEDULE.encode())
    assert (code, out) == (0, "standard input: nothing to complain of\n")


def test_check_prints_faults_to_standard_output(run: Run, write: Callable[..., Path]) -> None:
    code, out, err = run("check", write(changed(("kind: square-law", "kind: sqare-law"))))
    assert code == 1
    assert "  'sqare-law' is not allowed here\n" in out
    assert "  16 |     response: {kind: sqare-law}\n     |                      ~~~~~~~~~\n" in out
    assert "  try: did you mean 'square-law'?\n" in out
    assert out.endswith("1 error; `photoperiod explain PHO204` tells more\n")
    assert err == ""


def test_check_as_json_keeps_its_promise(run: Run, write: Callable[..., Path]) -> None:
    path = write(changed(("  clock: standard\n", ""), ("watts: 54", "wats: 54")))
    code, out, _ = run("check", path, "--format", "json")
    assert code == 1
    data = json.loads(out)
    jsonschema.validate(data, load_schema("diagnostics"))
    assert [(d["code"], d["name"], d["severity"], d["line"], d["column"], d["path"])
            for d in data["diagnostics"]] == [
        ("PHO202", "missing-key", "error", 3, 1, ["controller"]),
        ("PHO201", "unknown-key", "error", 21, 12, ["tubes", "blue-a", "wats"]),
    ]  # fmt: skip
    assert data["diagnostics"][1]["file"] == str(path)
    assert data["summary"] == {
        "file": str(path), "errors": 2, "warnings": 0, "accepted": 0, "notes": 0,
    }  # fmt: skip


def test_strict_makes_warnings_fail(run: Run, write: Callable[..., Path]) -> None:
    path = write(changed(("dli: [3, 5]", "dli: [9, 14]")))
    assert run("check", path)[0] == 0
    assert run("check", path, "--strict")[0] == 1
    target = path.parent / "out"
    assert run("compile", path, "--strict", "-o", target)[0] == 1
    assert not target.exists()


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_examples_compile(run: Run, tmp_path: Path, example: Path) -> None:
    target = tmp_path / "out"
    # those that follow the sky take longer: over a change of clocks is enough
    is_long = "{kind: sun" in example.read_text() or "sunrise" in example.read_text()
    dates = ("--from", "2027-03-26" if is_long else "2027-03-01", "--to", "2027-03-31")
    code, out, _ = run("compile", example, *dates, "-o", target)
    assert code == 0
    names = {"table.csv", "table.json", "summary.json", "manifest.json"}
    held = {path.name for path in target.iterdir()}
    loads = json.loads((target / "summary.json").read_text(encoding="utf-8"))["loads"]
    sheets = [f"typing-sheet-{load['load_before']}.txt" for load in loads]
    assert held == names | set(sheets if len(loads) > 1 else ["typing-sheet.txt"])
    for name in ("table", "summary", "manifest"):
        data = json.loads((target / f"{name}.json").read_text(encoding="utf-8"))
        jsonschema.validate(data, load_schema(name))
    assert "\x1b" not in out
    first = {path.name: path.read_bytes() for path in target.iterdir()}
    assert run("compile", example, *dates, "-o", target)[0] == 0
    assert {path.name: path.read_bytes() for path in target.iterdir()} == first


def test_table_csv_has_the_columns_promised(run: Run, write: Callable[..., Path]) -> None:
    path = write(SCHEDULE)
    assert run("compile", path, "--date", "2027-03-02", "-o", path.parent / "out")[0] == 0
    raw = (path.parent / "out" / "table.csv").read_bytes()
    assert raw.count(b"\r\n") == raw.count(b"\n")  # RFC 4180: lines end with CRLF
    rows = list(csv.DictReader(io.StringIO(raw.decode(), newline="")))
    assert list(rows[0]) == [
        "channel", "from_date", "time", "level_percent", "volts", "converter_code", "relay",
    ]  # fmt: skip
    assert rows[0]["channel"] == "blue"
    assert rows[0]["from_date"] == "2027-03-02"
    assert (rows[0]["time"], rows[0]["relay"]) == ("09:00", "on")
    peak = max(rows, key=lambda row: float(row["volts"]))
    # by hand: 89 % of 10 V is code 3645.44, and 3645 · 10/4096 V = 8.8989 V
    assert (peak["level_percent"], peak["converter_code"], peak["volts"]) == (
        "89",
        "3645",
        "8.8989",
    )
    assert rows[-1]["time"] == "21:00"
    assert rows[-1]["relay"] == "off"
    assert rows[-1]["level_percent"] == "0"


def test_compile_prints_the_doses_and_keeps_warnings_apart(
    run: Run, write: Callable[..., Path]
) -> None:
    path = write(changed(("dli: [3, 5]", "dli: [9, 14]")))
    code, out, err = run("compile", path, "-o", path.parent / "out")
    assert code == 0
    assert "4.08 (4.12)" in out
    assert "PHO405" not in out
    assert "warning PHO405" in err


@pytest.mark.parametrize(
    "changes",
    [
        [("kind: square-law", "kind: cube-law")],
        [("ppfd_max: 200", "ppfd_max: 50")],
        [("    dark: {kind: relay}\n", "    dark: {kind: never}\n")],
        [("setpoints_per_channel: 16", "setpoints_per_channel: 1")],
    ],
)
def test_nothing_is_written_for_a_schedule_that_is_refused(
    run: Run, write: Callable[..., Path], changes: list[tuple[str, str]]
) -> None:
    target = write(SCHEDULE).parent / "out"
    path = write(changed(*changes))
    code, out, err = run("compile", path, "-o", target)
    assert code == 1
    assert out == ""
    assert err.endswith("nothing was written\n")
    assert not target.exists()
    assert {p.name for p in path.parent.iterdir()} == {path.name}


@pytest.mark.parametrize(
    "arguments",
    [
        ("compile", "FILE"),
        ("compile", "FILE", "-o", "-"),
        ("compile", "FILE", "-o", ""),
        ("check", "FILE", "--date", "2027-02-30"),
        ("check", "FILE", "--date", "02.03.2027"),
        ("check", "FILE", "--date", "2027-03-02", "--to", "2027-03-03"),
        ("check", "FILE", "--from", "2027-03-02"),
        ("check", "FILE", "--from", "2027-03-02", "--to", "2027-03-01"),
        ("check", "FILE", "--from", "2027-01-01", "--to", "2047-01-01"),
        ("check", "FILE", "--format", "xml"),
        ("check",),
        ("chek", "FILE"),
        ("explain", "S999"),
        ("schema", "tabel"),
        ("schema", "board", "--markdown"),
        ("check", "FILE", "--date", "9999-12-31"),
        ("check", "FILE", "--from", "1899-01-01", "--to", "1899-01-02"),
        ("publish", "FILE", "--broker", "127.0.0.1:x", "--topic", "t"),
        ("publish", "FILE", "--broker", "127.0.0.1", "--topic", "a/#"),
        ("publish", "FILE", "FILE", "--broker", "127.0.0.1", "--topic", "t"),
        ("compare", "-", "-"),
        ("run", "-", "--board", "FILE"),
        ("export", "pdf", "FILE", "-o", "x"),
    ],
)
def test_wrong_use_is_exit_code_2(
    run: Run, write: Callable[..., Path], arguments: tuple[str, ...]
) -> None:
    path = write(SCHEDULE)
    code, out, err = run(*(path if word == "FILE" else word for word in arguments))
    assert code == 2
    assert out == ""
    assert err
    assert "bug" not in err


def test_files_that_cannot_be_read_are_exit_code_4(run: Run, tmp_path: Path) -> None:
    for file in (tmp_path / "missing.yaml", tmp_path, "a\0b"):
        code, out, err = run("check", file)
        assert code == 4
        assert out == ""
        assert err.startswith("error PHO501: can't read '")
        assert "  try: " in err


def test_targets_that_cannot_be_written_are_exit_code_4(
    run: Run, write: Callable[..., Path]
) -> None:
    path = write(SCHEDULE)
    code, out, err = run("compile", path, "-o", path / "out")
    assert (code, out) == (4, "")
    assert (
        f"error PHO502: can't write '{path / 'out'}': something on the way to it is a file" in err
    )
    foreign = path.parent / "photos"
    foreign.mkdir()
    (foreign / "reef.jpg").write_bytes(b"mine")
    code, out, err = run("compile", path, "-o", foreign)
    assert (code, out) == (4, "")
    assert "error PHO503: " in err
    assert [file.name for file in foreign.iterdir()] == ["reef.jpg"]


def test_an_endless_file_is_refused_at_once(run: Run) -> None:
    code, out, _ = run("check", "/dev/zero")
    assert code == 1
    assert "PHO104" in out


def test_every_code_is_explained(run: Run) -> None:
    for code, entry in CODES.items():
        status, out, _ = run("explain", code.lower())
        assert status == 0
        assert out.startswith(f"{code} {entry.name} ({entry.severity}): {entry.title}\n\n")
        assert run("explain", entry.name)[1] == out
    listing = run("explain")[1]
    assert len(listing.splitlines()) == len(CODES)


def test_explain_guesses_what_was_meant(run: Run) -> None:
    assert "did you mean unknown-key?" in run("explain", "unknwn-key")[2]


def test_schema_prints_what_editors_need(run: Run) -> None:
    for name in NAMES:
        assert json.loads(run("schema", name)[1]) == load_schema(name)
    path = Path(run("schema", "--path")[1].strip())
    assert json.loads(path.read_text(encoding="utf-8")) == load_schema("schedule")


def test_help_names_the_commands_and_exit_codes(run: Run) -> None:
    code, out, _ = run("--help")
    assert code == 0
    for word in ("new", "check", "compile", "explain", "schema", "Exit codes"):
        assert word in out
    assert run("--version")[1] == f"photoperiod, version {__version__}\n"


def test_colour_follows_option_then_environment(
    write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    from photoperiod.cli.loading import wants_colour

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert wants_colour("auto", Terminal())
    assert not wants_colour("auto", io.StringIO())
    monkeypatch.setenv("TERM", "dumb")
    assert not wants_colour("auto", Terminal())
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert wants_colour("auto", io.StringIO())
    monkeypatch.setenv("NO_COLOR", "1")
    assert not wants_colour("auto", Terminal())
    assert wants_colour("always", io.StringIO())
    monkeypatch.delenv("NO_COLOR")
    assert not wants_colour("never", Terminal())


def test_coloured_check(run: Run, write: Callable[..., Path]) -> None:
    path = write(changed(("watts: 54", "wats: 54")))
    assert "\x1b[31;1merror PHO201\x1b[0m" in run("check", path, "--color", "always")[1]
    assert "\x1b" not in run("check", path)[1]


def test_a_bug_of_ours_is_exit_code_3(
    run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    import photoperiod.program.dated_tables

    def broken(*_: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(photoperiod.program.dated_tables, "compile_program", broken)
    path = write(SCHEDULE)
    code, out, err = run("compile", path, "-o", path.parent / "out")
    assert code == 3
    assert out == ""
    assert "This is a bug in photoperiod, not in your file: ZeroDivisionError: planted" in err
    assert not (path.parent / "out").exists()


ANSWERS = {
    "title": 'Say "hello" \\ wave',
    "rows": 12,
    "between": "line",
    "after-last-row": "wrap",
    "relay": "column",
    "time-step-minutes": 1,
    "level-step-percent": 1,
    "clock": "standard",
    "bits": 12,
    "full-scale-volts": 10,
    "response": "square-law",
    "floor-volts": 1,
    "floor-light-percent": 1,
    "full-volts": 10,
    "dark": "relay",
    "channels": "blue, white",
    "tubes": 2,
    "tube-watts": 54,
    "dawn": "09:00",
    "dusk": "21:00",
    "ramp-minutes": 60,
    "peak-light-percent": 80,
}


def options(answers: dict[str, object]) -> list[object]:
    return [word for name, value in answers.items() for word in (f"--{name}", value)]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"dark": "standby", "standby-volts": 0.5, "relay": "none"},
        {"tubes": 0},
        {"between": "hold", "after-last-row": "hold", "clock": "utc", "response": "log-law"},
    ],
)
def test_new_writes_a_schedule_that_compiles(
    run: Run, tmp_path: Path, changes: dict[str, object]
) -> None:
    path = tmp_path / "tank.yaml"
    code, _, err = run("new", path, *options(ANSWERS | changes))
    assert code == 0, err
    assert run("compile", path, "-o", tmp_path / "out")[0] == 0
    code, _, err = run("new", path, *options(ANSWERS))
    assert code == 4
    assert "is there already" in err


def test_new_asks_for_what_was_not_said(run: Run) -> None:
    answers = dict(ANSWERS)
    del answers["response"], answers["floor-volts"]
    code, out, err = run("new", "-", *options(answers), stdin=b"cube-law\nlinear\n1.5\n")
    assert code == 0
    assert "response: {kind: linear}" in out
    assert "floor: {volts: 1.5, light_percent: 1.0}" in out
    assert "How does the light follow the volts" in err


def test_new_accepts_nothing_in_the_name_of_its_user(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "tank.yaml"
    assert run("new", path, *options(ANSWERS | {"dark": "never", "relay": "none"}))[0] == 0
    code, _, err = run("compile", path, "-o", tmp_path / "out")
    assert code == 1
    assert "error PHO403 night-not-dark" in err


@pytest.mark.parametrize(
    "change",
    [{"channels": "../x"}, {"rows": 0}, {"floor-volts": 11}, {"dawn": "10am"}, {"tubes": -2}],
)
def test_new_refuses_an_answer_at_its_question(
    run: Run, tmp_path: Path, change: dict[str, object]
) -> None:
    code, _, err = run("new", tmp_path / "t.yaml", *options(ANSWERS | change))
    assert code == 2
    assert f"'--{next(iter(change))}'" in err


def test_new_asks_again_for_an_answer_that_cannot_be(run: Run) -> None:
    answers = {name: value for name, value in ANSWERS.items() if name != "dawn"}
    code, out, err = run("new", "-", *options(answers), stdin=b"10am\n10:00\n")
    assert code == 0
    assert 'start: "10:00"' in out
    assert "'10am' is not in the form asked for" in err


def test_new_stops_when_nobody_answers(run: Run, tmp_path: Path) -> None:
    code, _, err = run("new", tmp_path / "tank.yaml")
    assert code == 130
    assert "can also be given as --title, --rows," in err
    assert err.endswith("interrupted\n")
    assert not (tmp_path / "tank.yaml").exists()


def test_new_refuses_answers_that_make_no_schedule(run: Run, tmp_path: Path) -> None:
    code, _, err = run("new", tmp_path / "t.yaml", *options(ANSWERS | {"dusk": "09:00"}))
    assert code == 1
    assert "PHO305" in err
    assert not (tmp_path / "t.yaml").exists()


def test_module_and_script_are_the_same_program() -> None:
    command = [sys.executable, "-m", "photoperiod", "--version"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout == f"photoperiod, version {__version__}\n"


def test_a_full_standard_output_is_said_plainly(write: Callable[..., Path]) -> None:
    path = write(SCHEDULE)
    command = [
        sys.executable,
        "-m",
        "photoperiod",
        "compile",
        str(path),
        "-o",
        str(path.parent / "o"),
    ]
    with open("/dev/full", "w") as full:  # noqa: PTH123
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 4
    assert done.stderr.endswith("error: can't write to standard output: no space left on device\n")


def test_a_reader_that_stops_reading_is_no_bug(write: Callable[..., Path]) -> None:
    read, back = os.pipe()
    os.close(read)
    command = [sys.executable, "-m", "photoperiod", "explain"]
    done = subprocess.run(command, stdout=back, stderr=subprocess.PIPE, text=True, check=False)
    os.close(back)
    assert "bug" not in done.stderr
    assert "Traceback" not in done.stderr


def test_help_does_not_load_what_it_does_not_need() -> None:
    probe = (
        "import sys\nfrom photoperiod.cli.main import cli\n"
        "print([m for m in ('numpy', 'yaml', 'jsonschema') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


@pytest.mark.parametrize("form", ["text", "csv", "json"])
def test_sky_lists_events_moon_and_clock_changes(run: Run, form: str) -> None:
    example = ROOT / "examples" / "natural-year.yaml"
    dates = ("--from", "2027-03-27", "--to", "2027-03-29")
    code, out, err = run("sky", example, *dates, "--format", form)
    assert code == 0 and err == ""
    again = run("sky", example, *dates, "--format", form)
    assert again[1] == out
    # By the ephem library's own finder (next_rising, next_setting; pressure 0, horizon -0:50 for the
    # sun's centre and -0:34 for the moon's limb), in UTC-1: sunrise 06:46:04, sunset 19:13:49, moonrise
    # 01:06:33.
    if form == "text":
        line = next(line for line in out.splitlines() if line.startswith("2027-03-28  "))
        assert "  06:4" in line and "  19:1" in line and "  01:0" in line
        assert "2027-03-28 01:00 UTC: the controller's clock goes forward by 60 min" in out
    elif form == "csv":
        rows = list(csv.DictReader(io.StringIO(out)))
        assert [row["date"] for row in rows] == ["2027-03-27", "2027-03-28", "2027-03-29"]
        for name, second in (("sunrise", 24_364), ("sunset", 69_229), ("moonrise", 3_993)):
            hours, minutes, seconds = (int(part) for part in rows[1][name].split(":"))
            assert abs(hours * 3600 + minutes * 60 + seconds - second) <= 10
    else:
        data = json.loads(out)
        assert data["zone_data"].startswith("tzdata ")
        assert data["clock_changes"] == [
            {"clock": "controller", "at": "2027-03-28T01:00:00+00:00",
             "offset_before_s": -3600, "offset_after_s": 0}
        ]  # fmt: skip
        assert data["dates"][0]["events"]["noon"]


def test_sky_in_the_polar_night_has_no_sunrise(run: Run) -> None:
    example = ROOT / "examples" / "polar-night.yaml"
    code, out, _ = run("sky", example, "--date", "2027-12-21", "--format", "json")
    assert code == 0
    (date,) = json.loads(out)["dates"]
    assert date["events"]["sunrise"] == date["events"]["sunset"] == [] and date["day_s"] == 0
    code, out, _ = run("sky", example, "--date", "2027-06-21", "--format", "json")
    assert json.loads(out)["dates"][0]["day_s"] == 86_400


def test_sky_needs_a_place_dates_and_a_known_year(run: Run, write: Callable[..., Path]) -> None:
    code, _, err = run("sky", write(SCHEDULE), "--date", "2027-03-02")
    assert code == 2 and "has no place" in err
    example = ROOT / "examples" / "natural-year.yaml"
    code, _, err = run("sky", example)
    assert code == 2 and "give --date" in err
    code, _, err = run("sky", example, "--date", "2150-01-01")
    assert code == 2 and "the sky is known from 1901 to 2099" in err
    code, _, err = run("compile", example, "-o", "nowhere")
    assert code == 2 and "days follow the sky, or clocks differ" in err
