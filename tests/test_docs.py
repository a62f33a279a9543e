"""README and packaging keep their promises."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

from photoperiod.source.json_schema import NAMES
from tests.conftest import EXAMPLES, ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"```sh\n(.+?)\n```", README, re.DOTALL)


def test_readme_begins_with_two_commands_and_ci_runs_them() -> None:
    main, tests = COMMANDS[:2]
    assert "photoperiod compile examples/" in main
    assert "pytest" in tests
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert main in ci
    assert tests in ci


@pytest.mark.parametrize("page", sorted(ROOT.glob("*.md")) + sorted((ROOT / "docs").glob("*.md")),
                         ids=lambda page: page.name)  # fmt: skip
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    anchors = set(re.findall(r'<a id="([^"]+)">', text))
    for target in re.findall(r"\]\(([^)]+)\)", text):
        if target.startswith("#"):
            assert target[1:] in anchors, target
        elif not target.startswith("http"):
            assert (page.parent / target).exists(), target


def test_readme_names_every_example() -> None:
    for example in EXAMPLES:
        assert f"examples/{example.name}" in README


def test_examples_carry_cautions_and_their_schema() -> None:
    for example in EXAMPLES:
        text = example.read_text(encoding="utf-8")
        assert text.startswith("# yaml-language-server: $schema=../schemas/schedule.schema.json\n")
        assert "Mains voltage beside salt water can kill" in text


def test_wheel_holds_package_and_schemas_and_nothing_else(tmp_path: Path) -> None:
    (path,) = WheelBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"])
    names = {name for name in zipfile.ZipFile(path).namelist() if ".dist-info/" not in name}
    package = ROOT / "photoperiod"
    expected = {
        str(file.relative_to(ROOT))
        for file in package.rglob("*")
        if file.suffix in (".py", ".h") or file.name == "py.typed"
    }
    expected |= {f"photoperiod/schemas/{name}.schema.json" for name in NAMES}
    assert names == expected
