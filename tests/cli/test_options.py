"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import SCHEDULE, Run


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


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("chek", "FILE"), "There is no command 'chek'; did you mean 'check'?"),
        (("xylophone",), "There is no command 'xylophone'; allowed here: calendar, check,"),
        (("check", "FILE", "--from", "2027-03-02", "--to", "2027-03-01"),
         "did you exchange --from and --to?"),
        (("check", "FILE", "--date", "02.03.2027"), "'02.03.2027' is not a date; write it as 2027-03-02"),
        (("check", "FILE", "--date", "2027-02-30"),
         "there is no such date as 2027-02-30; the days of 2027-02 are 01 to 28"),
        (("check", "FILE", "--date", "2028-02-30"), "the days of 2028-02 are 01 to 29"),
        (("check", "FILE", "--date", "0000-01-01"),
         "there is no such date as 0000-01-01; years are 0001 to 9999"),
        (("check", "FILE", "--date", "2027-13-01"),
         "there is no such date as 2027-13-01; months are 01 to 12"),
        (("export", "c", "FILE", "-o", "x", "--flash-bytes", "abc"),
         "'abc' is not a whole number; write it in digits, such as 4096"),
        (("export", "c", "FILE", "-o", "x", "--flash-bytes", "0"), "0 is too small; the least is 1"),
        (("compile", "FILE", "-o", "x", "--jobs", "0"), "0 is too small; the least is 1"),
        (("tubes", "FILE", "--years", "11"), "11 is too large; the most is 10"),
    ],
)  # fmt: skip
def test_wrong_use_has_a_way_out(
    run: Run, write: Callable[..., Path], arguments: tuple[str, ...], words: str
) -> None:
    path = write(SCHEDULE)
    code, _, err = run(*(path if word == "FILE" else word for word in arguments))
    assert code == 2
    assert words in " ".join(err.split())
