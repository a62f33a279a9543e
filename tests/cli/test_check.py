"""``photoperiod check``."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

from photoperiod.kernel.which import compiled as compiled_kernel
from photoperiod.report.day_picture import LEGEND
from photoperiod.source.json_schema import load_schema
from tests.cli.conftest import PLACE, SUN
from tests.conftest import SCHEDULE, Run, changed

#: Said of dates where no ledger is named.
NOT_COMPARED = "not checked: first date (not compared with the day before: no --ledger was given)"


def test_check_of_a_good_file_says_so(run: Run, write: Callable[..., Path]) -> None:
    path = write(SCHEDULE)
    code, out, err = run("check", path, "--date", "2027-03-02")
    assert code == 0
    assert out == (
        f"{NOT_COMPARED}\n\n"
        "not guarded: rise within a minute in zone 'crest' (no ppfd_rise_per_minute_max)\n\n"
        f"{path}: nothing to complain of in what is guarded\n"
    )
    assert err == ""


def test_check_reads_standard_input(run: Run) -> None:
    guarded = changed((", dark_hours_min: 8}", ", dark_hours_min: 8, ppfd_rise_per_minute_max: 6}"))
    code, out, _ = run("check", "-", "--date", "2027-03-02", stdin=guarded.encode())
    assert (code, out) == (0, f"{NOT_COMPARED}\n\nstandard input: nothing to complain of\n")


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


def test_coloured_check(run: Run, write: Callable[..., Path]) -> None:
    path = write(changed(("watts: 54", "wats: 54")))
    assert "\x1b[31;1merror PHO201\x1b[0m" in run("check", path, "--color", "always")[1]
    assert "\x1b" not in run("check", path)[1]


def test_a_day_that_was_compiled_is_drawn(
    run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    _, out, _ = run("check", write(SCHEDULE))
    assert "THE DAY, on the controller's clock (standard)\n" in out
    assert out.endswith(f"{LEGEND[-1]}\n")
    _, out, _ = run("check", write(SCHEDULE), "--date", "2027-03-02")
    assert "THE DAY OF 2027-03-02, on the controller's clock (standard)\n" in out


@pytest.mark.parametrize(
    "changes",
    [
        [("kind: square-law", "kind: sqare-law")],  # can't be compiled
        [("ppfd_max: 200", "ppfd_max: 50")],  # its table would be refused
        [PLACE, SUN],  # no day without a date
    ],
)
def test_no_picture_of_what_is_no_table(
    run: Run,
    write: Callable[..., Path],
    monkeypatch: pytest.MonkeyPatch,
    changes: list[tuple[str, str]],
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    out = run("check", write(changed(*changes)))[1]
    assert out and "THE DAY" not in out


def test_no_picture_in_what_programs_read(
    run: Run, write: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    for form in ("json", "sarif"):
        json.loads(run("check", write(SCHEDULE), "--format", form)[1])


def test_what_was_not_checked_is_one_line(run: Run, write: Callable[..., Path]) -> None:
    path = write(changed(("  port: {most_volts: 10.0, sink_milliamps: 20}\n", "")))
    (line,) = (line for line in run("check", path)[1].splitlines() if "not checked" in line)
    assert line.startswith("not checked: ")
    assert line.endswith(
        " checks (needs dates: --date, or --from and --to); port-overloaded (needs"
        " controller.port.sink_milliamps); `--detail` names them"
    )
    (line,) = (
        line for line in run("check", path, "--detail")[1].splitlines() if "not checked" in line
    )
    assert "burn-in-waits, " in line and "--detail" not in line


def test_a_first_date_without_a_ledger_is_said_not_to_be_compared(
    run: Run, write: Callable[..., Path], tmp_path: Path
) -> None:
    path, book = write(SCHEDULE), tmp_path / "tank.json"
    assert NOT_COMPARED in run("check", path, "--date", "2027-03-02")[1]
    assert "first date" not in run("check", path)[1]
    run("compile", path, "--date", "2027-03-02", "-o", tmp_path / "out", "--ledger", book)
    assert "first date" not in run("check", path, "--date", "2027-03-03", "--ledger", book)[1]
    for name, why in ((book, "begins with this date"), (tmp_path / "no.json", "is not there yet")):
        told = NOT_COMPARED.replace("no --ledger was given", f"the ledger {why}")
        assert told in run("check", path, "--date", "2027-03-02", "--ledger", name)[1]


#: What a check of a day without a date has no use for, where no two channels share their times.
NOT_NEEDED = (
    "astral", "ephem", "multiprocessing", "scipy",
    "photoperiod.changes", "photoperiod.formats", "photoperiod.program.dated_plan",
    "photoperiod.program.followed_tubes", "photoperiod.setpoints.columns", "photoperiod.setpoints.shared",
    "photoperiod.solve", "photoperiod.source.yaml_indent", "photoperiod.source.yaml_syntax",
    "photoperiod.tubes.burn_in", "photoperiod.tubes.burn_in_windows", "photoperiod.tubes.hours",
    "photoperiod.upkeep.due",
)  # fmt: skip

#: Checks a file, and prints the modules that were imported for it.
IMPORTED = """
import atexit, sys
atexit.register(lambda: print(*sys.modules))
from photoperiod.cli import main
sys.argv = ["photoperiod", "check", sys.argv[1]]
main()
"""


def test_a_check_without_a_date_imports_what_it_uses(write: Callable[..., Path]) -> None:
    command = [sys.executable, "-c", IMPORTED, str(write(SCHEDULE))]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    imported = set(done.stdout.splitlines()[-1].split())
    assert "photoperiod.setpoints.single" in imported  # a day was made
    assert imported & set(NOT_NEEDED) == set()
    if compiled_kernel() is not None:
        assert "photoperiod.setpoints.cones" not in imported
