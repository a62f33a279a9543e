from __future__ import annotations

import inspect
from dataclasses import replace
from pathlib import Path

import pytest

from photoperiod import checks
from photoperiod.checks.registry import CHECKS, Check
from photoperiod.diagnostics.codes import CODES
from tests.checks.bench import loaded

HERE = Path(__file__).parent
MODULES = {path.stem for path in Path(checks.__file__).parent.glob("*.py")}

#: Modules of the package that are no checks.
OTHERS = {"__init__", "acceptances", "dose_advice", "finding", "registry", "run"}

#: What no single table or day can tell. Everything else is about the day of one table.
NEEDS_DATES = {
    "PHO406",
    "PHO414",
    "PHO419",
    "PHO420",
    "PHO421",
    "PHO422",
    "PHO424",
    "PHO425",
    "PHO426",
    "PHO432",
    "PHO440",
    "PHO441",
    "PHO442",
    "PHO443",
    "PHO450",
    "PHO451",
}
ALL_TABLES_AT_ONCE = NEEDS_DATES | {"PHO402", "PHO405", "PHO423", "PHO430", "PHO431"}


def test_every_check_is_registered_once_in_the_order_of_codes() -> None:
    codes = [check.code for check in CHECKS]
    assert codes == sorted(set(codes))
    # PHO415 is about acceptances, which are looked at after all checks.
    assert set(codes) | {"PHO415"} == {code for code in CODES if code[3] == "4"}


def test_every_file_of_a_check_is_registered() -> None:
    assert {check.run.__name__ for check in CHECKS} == MODULES - OTHERS


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_a_check_is_one_documented_function_in_a_file_of_its_name(check: Check) -> None:
    name = CODES[check.code].name.replace("-", "_")
    assert check.name == CODES[check.code].name
    assert check.run.__name__ == name
    module = inspect.getmodule(check.run)
    assert module is not None
    assert module.__name__ == f"photoperiod.checks.{name}"
    assert module.__doc__
    assert check.run.__doc__
    own = inspect.getmembers(module, inspect.isfunction)
    public = [n for n, f in own if f.__module__ == module.__name__ and not n.startswith("_")]
    assert public == [name]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_a_check_has_a_test_file_that_looks_for_its_code(check: Check) -> None:
    text = (HERE / f"test_{check.run.__name__}.py").read_text(encoding="utf-8")
    assert f'CODE = "{check.code}"' in text


def test_only_the_current_of_the_port_must_be_stated() -> None:
    stated = loaded().schedule
    assert {check.code for check in CHECKS if check.needs(stated)} == set()
    unstated = replace(stated, controller=replace(stated.controller, sink_milliamps=None))
    assert {check.code: check.needs(unstated) for check in CHECKS if check.needs(unstated)} == {
        "PHO412": "needs controller.port.sink_milliamps"
    }


def test_a_check_needs_nothing_unless_it_says_so() -> None:
    check = Check("PHO411", list)
    assert (check.needs_dates, check.all_tables_at_once) == (False, False)
    assert not check.needs(loaded().schedule)


def test_what_a_check_needs() -> None:
    assert {check.code for check in CHECKS if check.needs_dates} == NEEDS_DATES
    assert {check.code for check in CHECKS if check.all_tables_at_once} == ALL_TABLES_AT_ONCE
