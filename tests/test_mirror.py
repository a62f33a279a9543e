"""Tests mirror the package: who changes a module knows which file tests it."""

from __future__ import annotations

from pathlib import Path

TESTS = Path(__file__).resolve().parent
PACKAGE = TESTS.parent / "photoperiod"

#: Test files that belong to no module, each with the reason.
OF_NO_MODULE = {
    "board/test_no_flash.py": "a promise that the whole player keeps, whatever happens",
    "board/test_listener.py": "examples/board/listener.py, on MicroPython",
    "board/test_page.py": "docs/board.md",
    "changes/test_properties.py": "changes, program and ledger together",
    "days/test_sky_days.py": "days, sky and program together",
    "formats/test_atomic_stops.py": "formats/atomic.py, interrupted and killed at each of its steps",
    "page/test_browser.py": "the page in a real browser: all its modules together",
    "page/test_colours.py": "the style sheet of the page",
    "test_allowed.py": "schedules that have no fault: all stages together",
    "cli/test_run_under_fire.py": "a real player, killed and on cards that die: it takes long",
    "test_codes.py": "one damaged schedule for each finding code: all stages together",
    "test_conftest.py": "the shared helpers of the tests",
    "test_docs.py": "the documents, not the code",
    "test_examples_in_docs.py": "the examples in docstrings and documents",
    "test_fuzz.py": "random damage: all stages together",
    "test_layers.py": "the imports of all modules",
    "test_many_faults.py": "schedules with several faults: all stages together",
    "test_mirror.py": "this file",
    "test_pictures.py": "the pictures of the documents",
    "test_samples.py": "files as earlier versions wrote them: all formats together",
    "test_schemas.py": "the schemas that editors read",
    "test_sweep.py": "benchmarks/sweep.py, which long sweeps share",
    "test_walk.py": "the walk through a whole day in the documents",
    "test_windows.py": "a promise that all commands but the player's keep",
    "test_walk_circuit.py": "the circuit of the walk, in a simulator",
}

#: Folders of test files that belong to no module, each with the reason.
FOLDERS_OF_NO_MODULE = {
    "drawn": "schedules drawn over the whole language, through all stages and all formats",
    "oracle": "independent programs that judge ours",
    "world": "the whole player of a board in a simulated world",
    "targets": "the exported players on compilers, simulators and interpreters",
}

#: Modules that still lack their file. This list only ever gets shorter.
NOT_YET: list[str] = []

#: Test files that still have to move to the module that they test. This list only ever gets shorter.
STILL_TO_MOVE: list[str] = []


def modules() -> list[str]:
    """Return the modules that need tests: without package markers, and the exported players."""
    found = (path.relative_to(PACKAGE) for path in PACKAGE.rglob("*.py"))
    return sorted(
        path.as_posix()
        for path in found
        if not path.name.startswith("__") and path.parts[:2] != ("formats", "players")
    )


def mirrored(module: str) -> str:
    """Return the path of a module's test file within tests/."""
    path = Path(module)
    return path.with_name(f"test_{path.name}").as_posix()


def files_of_tests() -> list[str]:
    return sorted(path.relative_to(TESTS).as_posix() for path in TESTS.rglob("test_*.py"))


def test_every_module_has_its_test_file() -> None:
    there = set(files_of_tests())
    missing = [module for module in modules() if mirrored(module) not in there]
    assert missing == sorted(NOT_YET), "NOT_YET holds what is missing, and nothing else"


def test_every_test_file_belongs_to_a_module_or_says_why_not() -> None:
    known = {mirrored(module) for module in modules()} | OF_NO_MODULE.keys()
    strays = [
        file
        for file in files_of_tests()
        if file not in known and file.split("/")[0] not in FOLDERS_OF_NO_MODULE
    ]
    assert strays == sorted(STILL_TO_MOVE), "STILL_TO_MOVE holds the strays, and nothing else"


def test_every_test_file_of_no_module_is_there() -> None:
    there = set(files_of_tests())
    assert set(OF_NO_MODULE) <= there
    assert set(FOLDERS_OF_NO_MODULE) <= {file.split("/")[0] for file in there}
    assert not OF_NO_MODULE.keys() & {mirrored(module) for module in modules()}
