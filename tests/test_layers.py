"""Imports go down only: a stage knows what stands below it, never what stands above.

Inside a stage they may not go in a circle.
"""

from __future__ import annotations

import ast
import functools
from collections.abc import Mapping
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "photoperiod"

#: From the ground up. A module may import from the lines below its own and from its own line.
LAYERS = (
    ("units", "errors", "text", "arrays"),
    ("diagnostics",),
    ("source",),
    ("drive", "curves", "sky"),
    ("readings",),
    ("schedule",),
    ("days", "kernel"),
    ("changes",),
    ("setpoints",),
    ("tubes",),
    ("program",),
    ("upkeep",),
    ("solve", "checks", "formats", "report"),
    ("player",),
    ("compare", "board"),
    ("page",),
    ("api",),
    ("cli",),
    ("__main__",),
    ("__init__",),  # the names that users import
)
RANK = {name: rank for rank, names in enumerate(LAYERS) for name in names}

#: Libraries that only some parts may know.
ONLY_IN = {
    "yaml": ("source",),
    "jsonschema": ("source",),
    "click": ("cli",),
    "dask": ("cli",),
    "distributed": ("cli",),
    "paho": ("board",),
    "gpiod": ("board",),
    "jinja2": ("page",),
    "icalendar": ("formats",),
    "astral": ("sky",),
    "ephem": ("sky",),
    "tzdata": ("sky",),
    "colour": ("readings",),
    "scipy": ("readings", "solve"),
}

#: Parts that compute nothing, so that a fault of shape is answered before numpy is imported.
WITHOUT_NUMPY = ("units", "errors", "text", "diagnostics", "source", "cli", "api")


def part(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(text: str) -> list[tuple[str, int]]:
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the layer"
            module = str(node.module)
            if module == "photoperiod":
                found += [(f"photoperiod.{alias.name}", node.lineno) for alias in node.names]
            else:
                found.append((module, node.lineno))
    return found


def upward(path: Path, text: str) -> list[str]:
    """Return every import of a file that does not go down."""
    mine = part(path)
    wrong = []
    for module, line in imports(text):
        top, *rest = module.split(".")
        if top == "photoperiod" and rest:
            if rest == ["__version__"]:
                continue
            name = rest[0] if rest[0] in RANK else "__init__"
            if RANK[name] > RANK[mine]:
                wrong.append(f"{path.name}:{line} imports {module}")
            same = RANK[name] == RANK[mine] and name != mine
            if same and RANK[mine] > 2:
                wrong.append(f"{path.name}:{line} imports {module} from beside it")
        elif top == "numpy" and mine in WITHOUT_NUMPY:
            wrong.append(f"{path.name}:{line} imports numpy")
        elif top in ONLY_IN and mine not in ONLY_IN[top]:
            wrong.append(f"{path.name}:{line} imports {top}")
    return wrong


def module_of(path: Path) -> str:
    parts = ("photoperiod", *path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@functools.cache
def names(text: str) -> set[str]:
    """Return what a text imports, late and for types as well: modules, and what it takes from them."""
    found = {module for module, _ in imports(text)}
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def circles(texts: Mapping[str, str]) -> list[list[str]]:
    """Return the circles of imports inside a part: modules of which each imports another one of them.

    ``texts`` is the text of each module, by its name.
    """
    later = {
        module: {
            other
            for other in names(text) & texts.keys() - {module}
            if other.split(".")[:2] == module.split(".")[:2]
        }
        for module, text in texts.items()
    }
    reached = {module: reach(module, later) for module in later}
    found = {
        tuple(sorted(other for other in there if module in reached[other]))
        for module, there in reached.items()
        if module in there
    }
    return [list(circle) for circle in sorted(found)]


def reach(module: str, later: Mapping[str, set[str]]) -> set[str]:
    """Return all modules that one imports, by others as well."""
    found: set[str] = set()
    ahead = [module]
    while ahead:
        new = later[ahead.pop()] - found
        found |= new
        ahead += new
    return found


FILES = sorted(PACKAGE.rglob("*.py"))


def test_every_part_of_the_house_has_its_place() -> None:
    assert {part(path) for path in FILES} == RANK.keys()


def test_imports_go_down() -> None:
    assert len(FILES) > 100
    found = [wrong for path in FILES for wrong in upward(path, path.read_text(encoding="utf-8"))]
    assert found == []


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("curves/curve.py", "from photoperiod.schedule.model import Channel"),
        ("drive/ballast.py", "def f():\n    import photoperiod.setpoints.fit"),
        ("setpoints/fit.py", "from photoperiod import program"),
        ("schedule/build.py", "from photoperiod.days.day_curves import Days"),
        ("readings/x.py", "from photoperiod.schedule.model import Zone"),
        ("program/dated_tables.py", "from photoperiod.checks import run_checks"),
        ("checks/x.py", "from photoperiod.report.text import render_text"),
        ("formats/x.py", "from photoperiod.report.text import render_text"),
        ("formats/x.py", "from photoperiod.api import load"),
        ("solve/x.py", "from photoperiod.checks.run import run_checks"),
        ("program/x.py", "from scipy.optimize import linprog"),
        ("compare/x.py", "from photoperiod.board.config import BoardConfig"),
        ("schedule/parts.py", "import yaml"),
        ("source/document.py", "import click"),
        ("diagnostics/model.py", "import numpy as np"),
        ("cli/main.py", "from photoperiod import compile"),
    ],
)
def test_a_planted_upward_import_is_found(file: str, text: str) -> None:
    assert len(upward(PACKAGE / file, text)) == 1


TEXTS = {module_of(path): path.read_text(encoding="utf-8") for path in FILES}


def test_no_imports_inside_a_part_go_in_a_circle() -> None:
    assert circles(TEXTS) == []


@pytest.mark.parametrize(
    "text",
    [
        "from photoperiod.checks.run import run_checks",
        "from photoperiod.checks import run",
        "import photoperiod.checks.run",
        "def late():\n    from photoperiod.checks.run import run_checks",
        "if TYPE_CHECKING:\n    from photoperiod.checks.run import Check",
    ],
)
def test_a_planted_circle_is_found(text: str) -> None:
    """The runner imports the registry, and the registry the advice."""
    advice, run = "photoperiod.checks.dose_advice", "photoperiod.checks.run"
    planted = {**TEXTS, advice: f"{TEXTS[advice]}\n{text}\n"}
    assert circles(planted) == [[advice, "photoperiod.checks.registry", run]]
    short = {"photoperiod.sky.a": "import photoperiod.sky.b", "photoperiod.sky.b": ""}
    assert circles(short) == []
    assert circles({**short, "photoperiod.sky.b": "import photoperiod.sky.a"}) == [list(short)]


def test_the_kernel_knows_arrays_and_errors_only() -> None:
    known = ("photoperiod.arrays", "photoperiod.errors", "photoperiod.kernel")
    found = [
        module
        for path in FILES
        if part(path) == "kernel"
        for module, _ in imports(path.read_text(encoding="utf-8"))
        if module.startswith("photoperiod") and not module.startswith(known)
    ]
    assert found == []


def test_few_modules_stand_outside_the_stages() -> None:
    assert len(list(PACKAGE.glob("*.py"))) <= 7


def test_no_module_is_over_500_lines() -> None:
    lines = {
        str(path.relative_to(PACKAGE)): len(path.read_text(encoding="utf-8").splitlines())
        for path in FILES
    }
    assert {path: count for path, count in lines.items() if count > 500} == {}
