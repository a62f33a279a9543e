"""The walk is true: its commands are run, its arithmetic is done again."""

from __future__ import annotations

import importlib.util
import math
import re
import shlex
from pathlib import Path

import pytest

from tests.conftest import ROOT, Run

PAGE = (ROOT / "docs" / "walk.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", PAGE, re.DOTALL)

#: Where a line of output is left out, or a part of one.
LEFT_OUT = "…"


def console(text: str) -> list[tuple[list[str], str]]:
    """Return the commands of a block with what they print."""
    found = []
    for part in re.split(r"^\$ ", text.replace("\\\n", " "), flags=re.MULTILINE)[1:]:
        command, _, output = part.partition("\n")
        found.append((shlex.split(command)[1:], output))
    return found


def can_run(arguments: list[str]) -> bool:
    """Return whether a command is there and ends by itself."""
    if arguments[0] == "run":
        return False  # it goes on until it is stopped; tests of the board run it
    needs = {"c": "c_header", "micropython": "micropython"}.get(arguments[1])
    is_there = needs is None or importlib.util.find_spec(f"photoperiod.formats.{needs}") is not None
    return arguments[0] != "export" or is_there


def test_commands_of_the_page_do_what_it_says(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = 0
    for kind, text in BLOCKS:
        if kind == "csv":
            Path("first-day.csv").write_text(text, encoding="utf-8")
        elif kind == "yaml" and text.startswith("# bench.yaml"):
            Path("bench.yaml").write_text(text, encoding="utf-8")
        elif kind == "console":
            for arguments, output in console(text):
                if not can_run(arguments):
                    continue
                code, out, err = run(*arguments)
                assert code == 0, arguments
                for chunk in re.split(rf"^{LEFT_OUT}\n", output, flags=re.MULTILINE):
                    pattern = re.escape(chunk.strip("\n")).replace(LEFT_OUT, "[^\n]*")
                    assert re.search(pattern, out) or re.search(pattern, err), (arguments, chunk)
                ran += 1
    assert ran >= 9


def test_arithmetic_of_the_page() -> None:
    pulses_hz = 16e6 / 2**10
    volts = 3.3 * (1 + 200 / 100)
    assert f"= {pulses_hz:,.0f} Hz".replace(",", " ") in PAGE
    assert f"= {2**10 / (4 * pulses_hz) * 1e3:.1f} ms" in PAGE
    assert f"0.022 s) = {volts / (4 * pulses_hz * 10e3 * 2.2e-6) * 1e3:.1f} mV" in PAGE
    assert f"step of {volts / 2**10 * 1e3:.1f} mV" in PAGE
    assert (
        f"gives {16e6 / 2**12:.0f} Hz and asks for {2**12 / (4 * 16e6 / 2**12) * 1e3:.0f} ms"
        in PAGE
    )
    assert f"9.9 V = {pulses_hz * 1e-6 * volts:.2f} V" in PAGE
    slope, at_0 = (8.561 - 1.262) / (896 - 128), 1.262 - 128 * (8.561 - 1.262) / (896 - 128)
    assert f"= {slope * 1e3:.3f} mV a code" in PAGE
    assert f"= {at_0:.3f} V at" in PAGE
    assert f"= {at_0 + 1023 * slope:.2f} V" in PAGE
    low, high = (3.3 * (1 + 2 * (1 + sign * 0.02)) for sign in (-1, 1))
    assert f"{low:.2f} to {high:.2f} V" in PAGE
    sunk = 4e-3 + (12 - 0.8) / 22e3
    assert f"= {sunk * 1e3:.1f} mA" in PAGE
    assert f"its base I / (β + 1) = {sunk / 101 * 1e6:.0f} µA" in PAGE
    assert f"= {0.1 + sunk / 101 * 470 + 0.7:.2f} V" in PAGE
    assert f"makes\n{sunk / 101 * 470:.2f} V at R7" in PAGE
    assert f"needs 4.6 · R · C = {math.log(100) * 10e3 * 2.2e-6:.2f} s to" in PAGE
    assert f"{math.log(100):.1f}" == "4.6"
    assert f"95 µA at the top, more than the 9.9 V / 300 kΩ = {9.9 / 300e3 * 1e6:.0f} µA" in PAGE
    assert math.floor((12 - 9.9) / 22e3 * 1e6) == 95
    assert f"gives {(12 - 1) / 1.2e3 * 1e3:.1f} mA" in PAGE
    assert f"= {11**2 / 1.2e3:.1f} W" in PAGE
    assert f"= {1e9 / pulses_hz:.0f} ns".replace("64000", "64 000") in PAGE


def test_the_page_defers_to_codes_at_each_step_in_mains() -> None:
    assert PAGE.index("Local electrical codes and licensed practice decide") < PAGE.index("## 1.")
    steps = dict(re.findall(r"^## (\d)\. .*?\n(.*?)(?=^## |\Z)", PAGE, re.DOTALL | re.MULTILINE))
    for step in "2578":
        words = " ".join(steps[step].replace(">", " ").lower().split())
        assert "licensed person" in words, step
        assert "local electrical codes" in words, step
    assert "plug" in steps["8"].split(".")[0].lower()
