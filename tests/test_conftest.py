"""What the shared helpers of these tests promise."""

from __future__ import annotations

import os
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis.strategies import booleans

from tests import conftest
from tests.conftest import (
    ROOT,
    drawn,
    made_once,
    naming,
    pytest_collection_modifyitems,
    pytest_make_collect_report,
)


def kept_of(options: dict[str, object], names: list[str]) -> tuple[list[str], list[str]]:
    """Which tests are kept and which deselected; slow ones have names that begin so."""
    deselected: list[str] = []
    config = SimpleNamespace(
        getoption=options.get,
        hook=SimpleNamespace(
            pytest_deselected=lambda items: deselected.extend(item.name for item in items)
        ),
    )
    items = [
        SimpleNamespace(
            name=name, nodeid=name, path=ROOT,
            get_closest_marker={
                "slow": SimpleNamespace(kwargs={"in_each_part": name.endswith("each")})
                if name.startswith("slow") else None
            }.get,
        )
        for name in names
    ]  # fmt: skip
    pytest_collection_modifyitems(config, items)
    return [item.name for item in items], deselected


def test_long_sweeps_are_deselected_unless_they_are_asked_for() -> None:
    asked = {"--slow": True, "--slow-part": "0/1"}
    assert kept_of(asked, ["quick", "slow"]) == (["quick", "slow"], [])
    assert kept_of({"--slow": False}, ["quick", "slow"]) == (["quick"], ["slow"])


def test_each_long_sweep_is_in_one_part_and_some_are_in_each() -> None:
    names = ["quick", "slow each", *(f"slow {number}" for number in range(60))]
    parts = [kept_of({"--slow": True, "--slow-part": f"{part}/3"}, names)[0] for part in range(3)]
    for part in parts:
        assert part[:2] == ["quick", "slow each"]
        assert 10 <= len(part) - 2 <= 30
    assert sorted(name for part in parts for name in part[2:]) == sorted(names[2:])


def test_workers_read_files_in_different_orders_and_run_them_in_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    folder, names = ROOT / "tests", ["a", "b", "c", "d"]
    monkeypatch.setattr(conftest, "WORKERS", 2)
    first, run = [], []
    for worker in ("gw0", "gw1"):
        monkeypatch.setattr(conftest, "WORKER", worker)
        hook = pytest_make_collect_report(SimpleNamespace(path=folder))
        next(hook)
        with pytest.raises(StopIteration) as done:
            hook.send(SimpleNamespace(result=names))
        first.append(done.value.value.result)
        items = [
            SimpleNamespace(path=folder / name, number=number, get_closest_marker=lambda _: None)
            for name in first[-1]
            for number in (2, 1)  # tests of a file stay in its order
        ]
        config = SimpleNamespace(
            getoption=lambda _: False, hook=SimpleNamespace(pytest_deselected=lambda items: None)
        )
        pytest_collection_modifyitems(config, items)
        run.append([(item.path.name, item.number) for item in items])
    assert first == [["a", "b", "c", "d"], ["c", "d", "a", "b"]]
    assert run[0] == run[1] == [(name, number) for name in names for number in (2, 1)]


@pytest.mark.skipif(os.name != "posix", reason="elsewhere each worker makes its own")
def test_of_the_workers_one_makes_what_all_use(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[Path] = []

    def make(folder: Path) -> Path:
        made.append(folder)
        if len(made) == 1:
            raise OSError("no compiler")
        return folder / "program"

    monkeypatch.setattr(conftest, "WORKER", "gw0")
    bases = [SimpleNamespace(getbasetemp=lambda n=n: tmp_path / f"popen-gw{n}") for n in range(3)]
    with pytest.raises(OSError, match="no compiler"):
        made_once(bases[0], "tool", make)
    paths = [made_once(base, "tool", make) for base in bases]
    assert paths == [tmp_path / "tool" / "program"] * 3
    assert len(made) == 2  # who failed does not count as done


def test_the_input_that_fails_is_named() -> None:
    with pytest.raises(AssertionError) as failed:
        for number in range(3):
            with naming(f"number {number}"):
                assert number != 1
    assert failed.value.__notes__ == ["the input: 'number 1'"]


def test_drawn_cases_are_the_same_each_time_and_may_take_their_time() -> None:
    made = settings(max_examples=3)
    assert (made.derandomize, made.deadline) == (True, None)


@pytest.mark.parametrize(
    ("profile", "few", "more", "by_default"), [("some", 3, 50, 25), ("all", 3, 200, 100)]
)
def test_the_long_sweeps_draw_all_cases(profile: str, few: int, more: int, by_default: int) -> None:
    before = "some" if settings().max_examples == 25 else "all"
    settings.load_profile(profile)
    try:
        assert (drawn(3), drawn(200), settings().max_examples) == (few, more, by_default)
    finally:
        settings.load_profile(before)


def test_property_tests_belong_to_the_long_sweeps_too() -> None:
    @given(booleans())
    def drawn_test(is_so: bool) -> None:
        pass

    marked: list[str] = []
    item, plain = (
        SimpleNamespace(
            obj=what, path=ROOT, add_marker=marked.append, get_closest_marker=lambda _: None
        )
        for what in (drawn_test, print)
    )
    config = SimpleNamespace(
        getoption={"--slow": True, "--slow-part": "0/1"}.get,
        hook=SimpleNamespace(pytest_deselected=lambda items: None),
    )
    pytest_collection_modifyitems(config, [plain, item])
    assert marked == ["slow"]


def test_what_the_profile_says_is_said_there_alone() -> None:
    words = ("derandomize" + "=", "deadline" + "=")
    files = [path for path in (ROOT / "tests").rglob("*.py") if path.name != "conftest.py"]
    assert len(files) > 300
    strays = [
        f"{path.relative_to(ROOT)}: {word}"
        for path in files
        for word in words
        if word in path.read_text(encoding="utf-8")
    ]
    assert strays == []
