"""Exports that are source code: what people write stays in comments, and what can't be held is refused."""

from __future__ import annotations

import ast
import datetime as dt
import re
import tokenize
from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest

from photoperiod.dates import DateSpan
from photoperiod.drive.grid import Row
from photoperiod.formats import c_header, micropython, table_json
from photoperiod.formats.about import About, AcceptedFinding
from photoperiod.formats.image import ChannelImage, DatedTable, Image, ImageFault
from photoperiod.formats.source_text import comment
from photoperiod.formats.table import PlayableTable, read_table
from tests.conftest import ROOT, compiled
from tests.targets.images import HARD, about, channel, days, expected, expected_day, image, moments
from tests.targets.players import (
    module_folder,
    module_of,
    on_avr,
    on_host,
    on_micropython,
    output_dtype,
)
from tests.targets.tools import WARNINGS, compile_host, run, tool

Render = Callable[..., bytes]

RENDERS = pytest.mark.parametrize(
    "render", [c_header.render, micropython.render], ids=["C", "Python"]
)

EVIL = (
    "*/ int evil = 1; /*",
    "**//* */#error evil",
    "*\\",
    "??/",
    "*??/\n/ int evil;",
    "\\\n#error evil",
    "x\n#error evil",
    "x\r\x0b\x0c\x85\u2028\u2029#error evil",
    '"""\nraise SystemExit\n"""',
    "'''\\\nimport evil",
    "# \rimport evil",
    "\u202e/* evil \u2066*/\u2069",
    "\ufeff\x00\x1a\x7f\ud800",
    "%:define evil",
    '_Pragma("GCC error") ??= ??\' \\u002a/',
)


def evil_about(made: Image, text: str) -> About:
    return about(
        made,
        title=text,
        made_with=text,
        zone_data=text,
        time_zone=text,
        cautions=(text, text + text),
        accepted=(AcceptedFinding("PHO401", "x", message=text, path="", because=text),),
        channels={"lamp": channel(text)},
    )


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


@pytest.mark.parametrize("text", EVIL)
def test_python_comments_do_not_break_out(text: str) -> None:
    made = image([(0, 1)])
    tame = micropython.render(made, evil_about(made, "Reef"))
    module = micropython.render(made, evil_about(made, text))
    assert ast.dump(ast.parse(module)) == ast.dump(ast.parse(tame))
    kinds = {t.type for t in tokenize.tokenize(BytesIO(module).readline)}
    assert tokenize.ERRORTOKEN not in kinds
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e]", module.decode())


def test_comment_keeps_letters_and_tells_the_rest_by_number() -> None:
    assert comment("Käfig – 礁") == "Käfig – 礁"
    assert comment("a\\b\u202ec\n") == "a(U+005C)b(U+202E)c(U+000A)"
    assert comment("/**/ ??/") == "/ * * / ? ? /"


@RENDERS
@pytest.mark.parametrize("id", ["", "Blue", "1a", "a_b", "a b", "x\ny", "a*/", "ä", "a" * 41, "-a"])
def test_only_ids_become_names(render: Render, id: str) -> None:
    made = image([(0, 1)])
    with pytest.raises(ImageFault, match="is no id of a channel"):
        render(made, about(made, channels={id: channel("x")}))


@RENDERS
def test_what_is_told_must_be_of_the_table(render: Render) -> None:
    made = image([(0, 1)])
    with pytest.raises(ImageFault, match="holds 1 channels and tells of 2"):
        render(made, about(made, channels={"a": channel(""), "b": channel("")}))
    with pytest.raises(ImageFault, match="tells of another schedule"):
        render(made, about(made, sha256="0" * 64))


@RENDERS
def test_what_does_not_fit_is_refused(render: Render) -> None:
    made = image([(0, 1)])
    row = tuple(Row(second, second % 2, True) for second in range(0, 86_400, 2))
    many = replace(
        made,
        sets=tuple((Row(0, k, True), *row[1:]) for k in range(6)),
        tables=(DatedTable(0, (5,)),),
    )
    with pytest.raises(ImageFault, match="bytes are more than the"):
        render(many, about(many))
    for wrong in (
        replace(made, top_count=70_000),
        replace(made, channels=(ChannelImage(soft_count=1001),)),
        replace(made, sets=((Row(0, 1001, True),),)),
    ):
        with pytest.raises(ImageFault):
            render(wrong, about(wrong))


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


@RENDERS
def test_same_input_same_bytes_and_text_for_people_stays_out(render: Render) -> None:
    made = HARD["dated-and-shared"]
    first = render(made, about(made))
    assert render(made, about(made)) == first
    assert render(replace(made, about=b'{"a": 1}'), about(made)) == first
    assert first.endswith(b"\n") and b"\r" not in first
    text = first.decode()
    for part in ("Test bench", made.digest.hex(), "photoperiod 0.1.0", "tzdata 2026a",
                 "civil time of Europe/Lisbon", "2027-03-27 to 2027-05-06",
                 "Mains voltage beside salt water can kill."):  # fmt: skip
        assert part in text


def test_header_tells_rows_channels_and_where_they_are() -> None:
    made = HARD["dated-and-shared"]
    text = c_header.render(made, about(made)).decode()
    assert "#define PHOTOPERIOD_OUTPUTS 2\n" in text
    assert "#define PHOTOPERIOD_CHANNEL_LAMP_1 1 /* Lamp 1 */\n" in text
    assert "    /* from 2027-03-28: lamp-0 set 1, lamp-1 set 0 */\n" in text
    told, row = "set 0, 10:00  count 850, 85 %, relay closed", "0xA0, 0x8C, 0x02, 0x52, 0x03,"
    assert f"    /* {told} */\n    {row}\n" in text
    assert "    /* set 1, 07:00  count 0, 0 %, relay open */\n" in text


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
