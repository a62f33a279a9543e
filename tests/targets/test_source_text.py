"""Exports that are source code: what people write stays in comments, and what can't be held is refused."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import numpy as np
import pytest

from photoperiod.formats import c_header, table_json
from photoperiod.formats.table import PlayableTable, read_table
from photoperiod.program.dates import DateSpan
from tests.conftest import ROOT, compiled
from tests.formats.evil import EVIL, evil_about
from tests.targets.images import HARD, about, days, expected, expected_day, image, moments
from tests.targets.players import (
    module_folder,
    module_of,
    on_avr,
    on_host,
    on_micropython,
    output_dtype,
)
from tests.targets.tools import WARNINGS, compile_host, run, tool


def code_tokens(header: bytes, folder: Path) -> str:
    """Return what the preprocessor leaves of a header, trigraphs replaced."""
    (folder / "photoperiod.h").write_bytes(header)
    command = [tool("gcc"), "-std=c99", "-trigraphs", *WARNINGS, "-E", "-P"]
    return run([*command, "-x", "c", folder / "photoperiod.h"]).decode()


@pytest.mark.parametrize("text", EVIL)
def test_c_comments_do_not_break_out(text: str, tmp_path: Path) -> None:
    made = image([(0, 1)])
    tame = c_header.render(made, evil_about(made, "Reef"))
    header = c_header.render(made, evil_about(made, text))
    assert code_tokens(header, tmp_path) == code_tokens(tame, tmp_path)
    assert "\\" not in header.decode().partition("#ifdef PHOTOPERIOD_IMAGE_CRC32")[0]


def test_an_avr_refuses_a_table_beyond_its_objects(tmp_path: Path) -> None:
    rows = [(second, second % 3) for second in range(0, 86_400, 12)]
    header = c_header.render(made := image(rows), about(made))
    (tmp_path / "photoperiod.h").write_bytes(header)
    (tmp_path / "x.c").write_text('#include "photoperiod.h"\nint main(void) { return 0; }\n')
    command = [tool("avr-gcc"), "-mmcu=atmega328p", "-std=c99", "-c", f"-I{tmp_path}"]
    with pytest.raises(AssertionError, match="the table has 36102 bytes"):
        run([*command, tmp_path / "x.c", "-o", tmp_path / "x.o"])


def test_two_tables_in_one_source_file_are_told(tmp_path: Path) -> None:
    for name in ("falls", "ties"):
        (tmp_path / f"{name}.h").write_bytes(c_header.render(HARD[name], about(HARD[name])))
    (tmp_path / "x.c").write_text('#include "falls.h"\n#include "ties.h"\n')
    with pytest.raises(AssertionError, match="two tables in one source file"):
        run([tool("gcc"), "-std=c99", "-c", tmp_path / "x.c", "-o", tmp_path / "x.o"])


@pytest.mark.parametrize("name", ["dated-and-shared", "wide-down"])
def test_nothing_is_kept_in_writable_memory(name: str, tmp_path: Path) -> None:
    """The player takes flash alone, neither heap nor floats, and 64 bits for wide tables only."""
    made = HARD[name]
    (tmp_path / "photoperiod.h").write_bytes(c_header.render(made, about(made)))
    (tmp_path / "x.c").write_text(
        '#include "photoperiod.h"\n'
        "uint8_t once(photoperiod_table *t, const photoperiod_moment *m, photoperiod_output *o);\n"
        "uint8_t once(photoperiod_table *t, const photoperiod_moment *m, photoperiod_output *o) {\n"
        "  photoperiod_check(t, photoperiod_image, PHOTOPERIOD_IMAGE_LENGTH);\n"
        "  return photoperiod_play(t, m, o, PHOTOPERIOD_OUTPUTS);\n}\n"
    )
    command = [tool("avr-gcc"), "-mmcu=atmega328p", "-std=c99", "-Os", *WARNINGS, "-c"]
    run([*command, tmp_path / "x.c", "-o", tmp_path / "x.o"])
    _, sizes = run([tool("avr-size"), tmp_path / "x.o"]).decode().splitlines()
    _text, data, bss = sizes.split()[:3]
    assert (data, bss) == ("0", "0")
    library = run([tool("avr-nm"), "-u", tmp_path / "x.o"]).decode().split()
    assert any(re.search("si[34]", name) for name in library), "it divides 32 bits"
    assert any(re.search("di[234]", name) for name in library) == made.is_wide
    assert not [name for name in library if "sf" in name or "alloc" in name]


# Examples of the repository, compiled and exported

#: An example, and the days for which it is compiled.
EXAMPLES = {"teaching-reef": None, "measured-ballast": None, "southern-summer": 20}


@pytest.fixture(scope="module", params=EXAMPLES)
def exported(request: pytest.FixtureRequest) -> PlayableTable:
    first = dt.date(2027, 3, 21)
    days_wanted = EXAMPLES[request.param]
    span = None if days_wanted is None else DateSpan(first, first + dt.timedelta(days_wanted - 1))
    text = (ROOT / "examples" / f"{request.param}.yaml").read_text(encoding="utf-8")
    outcome = compiled(text, span)
    assert outcome.program is not None
    return read_table("table.json", table_json.render(outcome.program, ()))


def test_examples_on_every_target(exported: PlayableTable, tmp_path: Path) -> None:
    made, told = exported.image, exported.about
    day = days(made)[1]
    asked = moments(made)
    wanted = np.concatenate([expected(made, asked), expected_day(made, day)])
    outputs = len(made.channels)

    program = compile_host(tmp_path, header=c_header.render(made, told))
    verdict, _, played = on_host(program, b"B", outputs, asked, [day])
    assert verdict == 0
    assert np.array_equal(played, wanted)

    fault, _, played, _ = on_avr(tmp_path, made, told, asked[::7], day, 43_200)
    assert fault == 0
    assert np.array_equal(played, expected(made, asked)[::7])

    folder = module_folder(tmp_path, module_of(made, told))
    raw = on_micropython(folder, asked, [(day, 60)])
    played = np.frombuffer(raw, dtype=output_dtype(outputs))
    assert np.array_equal(played, np.concatenate([wanted[: len(asked)], wanted[len(asked) :: 60]]))
