"""Examples in docstrings and pages do what they say, and the page of the API is that of the code."""

from __future__ import annotations

import doctest
import importlib.util
import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

import photoperiod
from tests.conftest import ROOT

PACKAGE = ROOT / "photoperiod"
MODULES = [
    "photoperiod." + ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
    for path in sorted(PACKAGE.rglob("*.py"))
    if path.stem != "__init__" and ">>>" in path.read_text(encoding="utf-8")
]
PAGES = [
    path
    for path in [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    if path.name != "api.md" and ">>>" in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_a_module(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(import_module(name))
    assert found.attempted > 0 and found.failed == 0


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_examples_in_a_page(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    found = doctest.testfile(str(path), module_relative=False, encoding="utf-8")
    assert found.attempted > 0 and found.failed == 0


def writer() -> ModuleType:
    spec = importlib.util.spec_from_file_location("write_api", ROOT / "docs" / "write_api.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_of_the_api_is_current() -> None:
    made = writer().page()
    assert (ROOT / "docs" / "api.md").read_text(encoding="utf-8") == made


def test_the_page_of_the_api_names_everything_public() -> None:
    names = [name for _, _, names in writer().SECTIONS for name in names]
    assert sorted(names) == sorted({*photoperiod.__all__} - {"__version__"})


def test_the_sweep_prints_and_draws_the_doses(tmp_path: Path) -> None:
    picture = tmp_path / "sweep.svg"
    command = [sys.executable, str(ROOT / "examples" / "sweep_peak.py"), str(picture)]
    done = subprocess.run(
        command, capture_output=True, text=True, check=True, cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "MPLCONFIGDIR": str(tmp_path)},
    )  # fmt: skip
    rows = dict(line.split(maxsplit=1) for line in done.stdout.splitlines()[1:])
    assert len(rows) == 11
    # By hand: (peak x 11 h x 130 + 0.7 x (5 h + 3 h x 2/pi) x 120) x 0.0036 mol m-2 d-1.
    for percent, plan in (("50%", "4.66"), ("80%", "6.21"), ("100%", "7.24")):
        assert rows[percent].split()[0] == plan
    assert rows["75%"].endswith("low") and rows["80%"].endswith("in the band")
    assert picture.read_text(encoding="utf-8").rstrip().endswith("</svg>")
