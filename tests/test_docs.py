"""README and packaging keep their promises."""

from __future__ import annotations

import importlib.metadata
import os
import re
import shutil
import subprocess
import sys
import textwrap
import zipfile
from pathlib import Path

import click
import pytest

from photoperiod.api import load_text
from photoperiod.cli.export import export_command
from photoperiod.cli.main import COMMANDS as CLI_COMMANDS
from photoperiod.cli.measure import measure_command
from photoperiod.source.json_schema import NAMES
from tests.conftest import EXAMPLES, ROOT, Run
from tests.targets.tools import missing, tool
from tests.test_layers import LAYERS

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
FOR_DEVELOPERS = [
    ROOT / "DEVELOPERS.md",
    ROOT / "docs" / "decisions.md",
    ROOT / "docs" / "setpoints.md",
]

#: Layers that are no stage: what every module may name, and what starts the program.
NO_STAGES = {"__init__", "__main__"}
COMMANDS = re.findall(r"```sh\n(.+?)\n```", README, re.DOTALL)


def test_readme_begins_with_two_commands_and_ci_runs_them() -> None:
    main, tests = COMMANDS[:2]
    assert "photoperiod compile examples/" in main
    assert "pytest" in tests
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert main in ci
    assert tests in ci


def in_powershell(command: str) -> str:
    """Return a command of a shell as PowerShell on Windows has it; venv puts programs into Scripts there."""
    command = command.replace("python3 -m venv", "py -3 -m venv").replace(" && ", "; ")
    return re.sub(r"(\.venv[a-z-]*)/bin/", r"\1\\Scripts\\", command)


def test_readme_has_the_same_two_commands_for_powershell() -> None:
    (block,) = re.findall(r"```powershell\n(.+?)\n```", README, re.DOTALL)
    assert block.splitlines() == [in_powershell(command) for command in COMMANDS[:2]]


@pytest.mark.parametrize("page", sorted(ROOT.glob("*.md")) + sorted((ROOT / "docs").glob("*.md")),
                         ids=lambda page: page.name)  # fmt: skip
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)]+)\)", text):
        if target.startswith("http"):
            continue
        name, _, anchor = target.partition("#")
        there = page.parent / name if name else page
        assert there.exists(), target
        if anchor:
            anchors = re.findall(r'<a id="([^"]+)">', there.read_text(encoding="utf-8"))
            assert anchor in anchors, target


@pytest.mark.parametrize("page", FOR_DEVELOPERS, ids=lambda page: page.name)
def test_files_that_pages_for_developers_name_are_there(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    named = re.findall(
        r"`((?:photoperiod|tests|docs|schemas|benchmarks|examples|\.ci)/[^`<>]+)`", text
    )
    assert named
    for name in named:
        assert (ROOT / name).exists(), name


def test_stages_stand_in_the_table_and_in_the_picture_in_the_order_of_imports() -> None:
    picture = (ROOT / "docs" / "stages.svg").read_text(encoding="utf-8")
    drawn = re.findall(r'y="(\d+)" font-size="15" font-weight="bold">([^<]+)</text>', picture)
    heights = {name: int(y) for y, names in drawn for name in names.split(", ")}
    table = DEVELOPERS[: DEVELOPERS.index("\n## ")]
    last_row, last_height = -1, 0
    for layer in LAYERS:
        stages = [name for name in layer if name not in NO_STAGES]
        if not stages:
            continue
        rows = [table.index(f"`{name}`", table.index("| --- |")) for name in stages]
        assert min(rows) > last_row, stages
        assert min(heights[name] for name in stages) > last_height, stages
        last_row, last_height = max(rows), max(heights[name] for name in stages)


def outputs_in(page: str) -> list[str]:
    """Return the outputs that a page quotes, without the indent of the list that they stand in."""
    text = (ROOT / page).read_text(encoding="utf-8")
    return [
        textwrap.dedent(block).strip("\n")
        for block in re.findall(r"^ *```text\n(.*?)^ *```", text, re.DOTALL | re.MULTILINE)
    ]


def test_readme_names_the_extra_that_its_commands_need() -> None:
    (caption,) = re.findall(r"From the page that `photoperiod report .+?\n\n", README, re.DOTALL)
    needed = importlib.metadata.requires("photoperiod") or []
    assert any(each.startswith("jinja2") and "report" in each for each in needed)
    assert ".venv/bin/pip install '.[report]'" in caption
    assert "pip install '.[report]'" in (ROOT / "docs" / "page.md").read_text(encoding="utf-8")


def test_readme_is_short() -> None:
    assert len(README.split()) < 1200


def test_outputs_in_pages_are_what_the_commands_print(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    summary, fault = outputs_in("README.md")
    (new_tubes,) = outputs_in("docs/new-tubes.md")
    (new_corals,) = outputs_in("docs/new-corals.md")
    (picture,) = outputs_in("docs/first-table.md")
    (tanks,) = [each for each in outputs_in("docs/many-tanks.md") if each.startswith("tank\n")]
    monkeypatch.chdir(tmp_path)
    smallest = (ROOT / "examples" / "smallest.yaml").read_text(encoding="utf-8")
    Path("tank.yaml").write_text(smallest.replace("square-law", "sqare-law"), encoding="utf-8")
    code, out, err = run("check", "tank.yaml")
    assert code == 1
    assert fault in out + err
    Path("tank.yaml").write_text(smallest, encoding="utf-8")
    (first,) = re.findall(r"photoperiod compile examples/smallest.yaml (.+)", COMMANDS[0])
    monkeypatch.delenv("COLUMNS", raising=False)
    code, out, err = run("compile", "tank.yaml", *first.split())
    assert code == 0
    for part in summary.split("\n\n"):
        assert part in out
    dates = ("--from", "2027-03-01", "--to", "2027-03-31")
    monkeypatch.setenv("COLUMNS", "80")
    code, out, err = run("compile", "tank.yaml", *dates, "-o", "out/tank")
    assert code == 0
    assert picture in out
    reefs = [ROOT / "examples" / f"{name}.yaml" for name in ("teaching-reef", "new-tubes")]
    code, out, err = run("overview", *reefs, *dates)
    assert code == 0
    assert out.startswith(tanks)
    code, out, err = run("compile", ROOT / "examples" / "new-tubes.yaml", *dates, "-o", "new")
    assert code == 0
    for part in new_tubes.split("\n\n"):
        assert part in out
    dates = ("--from", "2027-03-31", "--to", "2027-05-02")
    monkeypatch.delenv("COLUMNS")
    code, out, err = run("compile", ROOT / "examples" / "new-corals.yaml", *dates, "-o", "corals")
    assert code == 0
    for part in new_corals.split("\n\n"):
        assert part in out


def test_the_steps_follow_the_first_command_in_the_same_folder(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    shutil.copy(ROOT / "examples" / "smallest.yaml", tmp_path / "tank.yaml")
    monkeypatch.chdir(tmp_path)
    (first,) = re.findall(r"photoperiod (compile .+)", COMMANDS[0])
    page = (ROOT / "docs" / "first-table.md").read_text(encoding="utf-8")
    steps = [
        re.findall(r"`photoperiod (compile tank\.yaml [^`]+)`", text) for text in (README, page)
    ]
    for (step,) in steps:
        for command in (first, step):
            code, _, err = run(*command.split())
            assert code == 0, err
    (played,) = re.findall(r"`photoperiod run (\S+) --speed", README)
    assert Path(played).is_file()


def test_commands_that_pages_and_messages_name_are_there() -> None:
    (kind,) = (each for each in export_command.params if each.name == "kind")
    assert isinstance(kind.type, click.Choice)
    uses = {"measure": set(measure_command.commands), "export": set(kind.type.choices)}
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")]
    others = [*(ROOT / "schemas").glob("*.json"), *EXAMPLES, *(ROOT / "photoperiod").rglob("*.py")]
    for file in (*pages, *others):
        text = file.read_text(encoding="utf-8")
        # in backquotes, after the prompt of a shell or `&&`, in a folder, or as a line of a page begins
        named = re.findall(r"(?:`|\$ |&& |bin/)photoperiod ([a-z]+)(?: ([a-z]+)\b(?!\.))?", text)
        if file in pages:
            named += re.findall(r"^photoperiod ([a-z]+)(?: ([a-z]+)\b(?!\.))?", text, re.MULTILINE)
        named += [("measure", use) for use in re.findall(r"`measure ([a-z]+)", text)]
        for command, use in named:
            assert command in CLI_COMMANDS, (file.name, command)
            if use and command in uses:
                assert use in uses[command], (file.name, command, use)


def test_no_page_compiles_one_schedule_into_the_folder_that_holds_those_of_others() -> None:
    for file in (ROOT / "README.md", *(ROOT / "docs").glob("*.md")):
        for name, folder in re.findall(
            r"photoperiod compile ([^\s*]+\.yaml)\b[^`\n&]*? -o (\S+?)[`\s]",
            file.read_text(encoding="utf-8"),
        ):
            assert folder != "out", (
                f"{file.name} compiles {name} over what README's first command wrote"
            )


def test_the_page_of_the_first_table_names_every_example() -> None:
    page = (ROOT / "docs" / "first-table.md").read_text(encoding="utf-8")
    for example in EXAMPLES:
        assert f"(../examples/{example.name})" in page


def test_each_example_is_a_tank_of_its_own() -> None:
    paths = sorted((ROOT / "examples").glob("*.yaml"))
    ids = [re.findall("^tank: (.+)$", path.read_text("utf-8"), re.M) for path in paths]
    assert len({*map(tuple, ids)}) == len(paths)


def test_examples_carry_cautions_and_their_schema() -> None:
    for example in EXAMPLES:
        text = example.read_text(encoding="utf-8")
        assert text.startswith("# yaml-language-server: $schema=../schemas/schedule.schema.json\n")
        assert "Mains voltage beside salt water can kill" in text


def sources_copied(folder: Path) -> Path:
    """Return a copy of all that a wheel is built of."""
    tree = folder / "tree"
    tree.mkdir()
    for name in ("pyproject.toml", "setup.py", "MANIFEST.in", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, tree)
    for name in ("photoperiod", "schemas"):
        shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("*.so", "*.pyc"))
    return tree


def built_wheel(tree: Path, compiler: str) -> Path:
    """Return the wheel that setuptools builds of the sources in `tree`."""
    if int(importlib.metadata.version("setuptools").split(".")[0]) < 77:
        missing("setuptools of this environment is older than pyproject.toml asks for")
    folder = tree.parent / f"by-{compiler}"
    folder.mkdir()
    build = f"import setuptools.build_meta as b; print(b.build_wheel({str(folder)!r}))"
    if compiler != "false":  # what is in a wheel does not hang on how fast its kernel is
        quick = tree.parent / "quick"
        quick.write_text(f'#!/bin/sh\nexec {tool(compiler)} "$@" -O0\n', encoding="utf-8")
        quick.chmod(0o755)
        compiler = str(quick)
    subprocess.run(
        [sys.executable, "-W", "ignore", "-c", build],
        cwd=tree, env={**os.environ, "CC": compiler}, capture_output=True, check=True,
    )  # fmt: skip
    (wheel,) = folder.glob("*.whl")
    return wheel


@pytest.mark.parametrize("compiler", ["gcc", "false"])
def test_wheel_holds_package_and_schemas_and_nothing_else(tmp_path: Path, compiler: str) -> None:
    path = built_wheel(sources_copied(tmp_path), compiler)
    names = {name for name in zipfile.ZipFile(path).namelist() if ".dist-info/" not in name}
    package = ROOT / "photoperiod"
    expected = {
        str(file.relative_to(ROOT))
        for file in package.rglob("*")
        if file.suffix in (".py", ".h", ".c", ".html", ".css", ".js") or file.name == "py.typed"
    }
    expected |= {f"photoperiod/schemas/{name}.schema.json" for name in NAMES}
    kernels = names - expected
    assert expected <= names
    if compiler == "false":  # without a compiler it is one for every machine
        assert path.name.endswith("-py3-none-any.whl")
        assert kernels == set()
    else:
        assert "-cp311-abi3-" in path.name
        assert {Path(name).stem for name in kernels} == {"_paths.abi3"}


@pytest.mark.slow
def test_a_kernel_that_an_earlier_build_left_gets_into_no_wheel(tmp_path: Path) -> None:
    tree = sources_copied(tmp_path)
    built_wheel(tree, "gcc")
    assert list(tree.glob("build/lib*/photoperiod/kernel/_paths*"))
    assert built_wheel(tree, "false").name.endswith("-py3-none-any.whl")


def test_the_lines_of_a_tube_that_takes_a_place_are_right() -> None:
    page = (ROOT / "docs/new-tubes.md").read_text(encoding="utf-8")
    (lines,) = re.findall(r"```yaml\n(tubes:.*?)channels:\n.*?```", page, re.DOTALL)
    text = (ROOT / "examples/new-tubes.yaml").read_text(encoding="utf-8")
    text = re.sub(
        r"  white-a:.*?(?=\nzones:)", lines.removeprefix("tubes:\n"), text, flags=re.DOTALL
    )
    text = text.replace("[white-a, white-b-old, white-b]", "[white-1, white-1b]")
    white = load_text("page", text.encode()).schedule.channels["white"]
    assert [(tube.id, tube.place) for tube in white.tubes] == [
        ("white-1", "left"),
        ("white-1b", "left"),
    ]
    assert all(tube.depreciation for tube in white.tubes)
