"""A sketch in its folder: nothing that a person wrote is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.formats.sketch import render
from photoperiod.formats.sketch_folder import write_sketch
from tests.formats.sketching import many, wiring

FILES = ("photoperiod.h", "main.c", "pins.h")


def test_pins_and_a_changed_sketch_stay(tmp_path: Path) -> None:
    first = render(wiring("atmega328p"), *many(1))
    second = render(wiring("atmega328p"), *many(2))
    done = write_sketch(tmp_path, first)
    assert (done.written, done.kept) == (FILES, ())
    assert write_sketch(tmp_path, second).kept == ("pins.h",)
    assert (tmp_path / "pins.h").read_bytes() == first.pins[1]
    for name in FILES[:2]:
        assert (tmp_path / name).read_bytes() == second.made[name] != first.made[name]
    main = tmp_path / "main.c"
    main.write_bytes(main.read_bytes() + b"/* mine */\n")
    done = write_sketch(tmp_path, first)
    assert (done.written, done.kept) == (("photoperiod.h",), ("main.c", "pins.h"))
    assert main.read_bytes().endswith(b"/* mine */\n")


def test_a_main_file_of_somebody_else_stays(tmp_path: Path) -> None:
    (tmp_path / "main.py").write_text("print('mine')\n")
    done = write_sketch(tmp_path, render(wiring("esp32"), *many(1)))
    assert done.kept == ("main.py",) and done.written == ("photoperiod_table.py", "pins.py")
    assert (tmp_path / "main.py").read_text() == "print('mine')\n"


def test_what_can_not_be_read_is_said(tmp_path: Path) -> None:
    (tmp_path / "main.c").mkdir()
    with pytest.raises(OutsideWorldError, match=r"can't read '.*main\.c'"):
        write_sketch(tmp_path, render(wiring("atmega328p"), *many(1)))
