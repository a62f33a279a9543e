"""Diagnostics as text: the place, the words, the line, and the marks right under it."""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photoperiod.diagnostics.model import Diagnostic, Related, Report, SourceRange
from photoperiod.diagnostics.unguarded import Unguarded, ZoneLimit
from photoperiod.report.text import (
    LEAST_SHOWN_COLUMNS,
    SHOWN_COLUMNS,
    SHOWN_DIAGNOSTICS,
    counts_line,
    excerpt,
    render_text,
)
from photoperiod.text import safe, width
from tests.conftest import changed, drawn, load

ERROR, WARNING, NOTE = "PHO203", "PHO318", "PHO324"


def finding(code=ERROR, line=1, column=4, length=1, **more):
    return Diagnostic(
        **{
            "code": code,
            "message": "expected a number, got 'x'",
            "source_range": SourceRange(line, column, line, column + length),
        }
        | more
    )


def report(*diagnostics, file="tank.yaml"):
    made = Report(file)
    made.add(diagnostics)
    return made


def without_colour(text):
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


# Whole blocks


def test_a_whole_block():
    d = finding(
        line=2,
        column=8,
        length=3,
        help="write the number alone, in V",
        related=(Related(message="full is written here", source_range=SourceRange(1, 1, 1, 5)),),
    )
    assert render_text(report(d), ["full: 10", "volts: ten"]) == (
        "tank.yaml:2:8  error PHO203 wrong-type\n"
        "  expected a number, got 'x'\n"
        "  2 | volts: ten\n"
        "    |        ~~~\n"
        "  try: write the number alone, in V\n"
        "  see: full is written here (tank.yaml:1:1)\n"
        "  1 | full: 10\n"
        "    | ~~~~\n"
    )


def test_blocks_stand_apart_and_in_the_order_of_the_file():
    late, early = finding(line=2), finding(line=1)
    warning = finding(WARNING, line=1, message="no channel uses it")
    assert render_text(report(late, warning, early), ["a: x", "b: y"]) == (
        "tank.yaml:1:4  error PHO203 wrong-type\n"
        "  expected a number, got 'x'\n"
        "  1 | a: x\n"
        "    |    ~\n"
        "\n"
        "tank.yaml:1:4  warning PHO318 unused\n"
        "  no channel uses it\n"
        "  1 | a: x\n"
        "    |    ~\n"
        "\n"
        "tank.yaml:2:4  error PHO203 wrong-type\n"
        "  expected a number, got 'x'\n"
        "  2 | b: y\n"
        "    |    ~\n"
    )


def test_notes_take_one_line_and_come_last():
    note = finding(NOTE, message="a default", help="say it", line=1)
    text = render_text(
        report(note, finding(line=2), finding(NOTE, message="two")), ["a: x", "b: y"]
    )
    assert text.endswith(
        "\n\ntank.yaml:1:4  note PHO324 default-used: a default\n"
        "tank.yaml:1:4  note PHO324 default-used: two\n"
    )
    assert "say it" not in text


def test_nothing_found_is_no_text():
    assert render_text(report(), []) == ""


def test_without_a_place_there_is_no_excerpt():
    text = render_text(report(finding(source_range=None, help="look")), ["a: x"])
    assert text == "tank.yaml  error PHO203 wrong-type\n  expected a number, got 'x'\n  try: look\n"


def test_an_accepted_finding_gives_its_reason():
    d = finding("PHO403", message="the night is not dark", help="cut the mains").accept(
        "algae only"
    )
    text = render_text(report(d), ["a: x"])
    assert text.startswith("tank.yaml:1:4  accepted PHO403 night-not-dark\n")
    assert "  accepted because: algae only\n" in text
    assert "cut the mains" not in text


def test_what_was_not_checked_is_one_line():
    made = report()
    made.not_run.update({"tube-overdue": "needs dates", "port-overloaded": "needs a number"})
    assert render_text(made, []) == (
        "not checked: port-overloaded (needs a number); tube-overdue (needs dates)\n"
    )
    made.not_run["burn-in-waits"] = "needs dates"
    assert render_text(made, []) == (
        "not checked: 2 checks (needs dates); port-overloaded (needs a number); `--detail` names"
        " them\n"
    )
    assert render_text(made, [], detail=True) == (
        "not checked: burn-in-waits, tube-overdue (needs dates); port-overloaded (needs a number)\n"
    )


@given(
    st.integers(20, 130), st.booleans(), st.text("ab é水 ", min_size=1, max_size=150),
    st.integers(0, 140), st.integers(1, 20),
)  # fmt: skip
def test_no_line_is_wider_than_the_terminal(room, colour, words, column, length):
    d = finding(message=words, column=column + 1, length=length, help=words)
    made = report(d, finding(NOTE, message=words))
    made.not_run["tube-overdue"] = words
    shown = without_colour(render_text(made, ["v: " + "x" * 150], colour=colour, room=room))
    longest = max(map(width, words.split(" ")))
    least = max(room, longest + 4, LEAST_SHOWN_COLUMNS + len("  1 | ……"))
    assert all(width(line) <= least for line in shown.splitlines())
    whole = render_text(made, ["v: " + "x" * 150]).split()
    kept = [word for word in whole if not set(word) <= set("x~…v:|1")]
    assert kept == [word for word in shown.split() if not set(word) <= set("x~…v:|1")]


def test_a_word_that_is_painted_is_painted_where_lines_are_cut():
    painted = render_text(report(finding()), ["a: x"], colour=True, room=40)
    assert "\x1b[31;1merror PHO203\x1b[0m wrong-type" in painted


@pytest.mark.parametrize("count", [SHOWN_DIAGNOSTICS, SHOWN_DIAGNOSTICS + 1, 173])
def test_fifty_are_shown_unless_all_are_asked_for(count):
    assert SHOWN_DIAGNOSTICS == 50
    lines = [f"a{n}: x" for n in range(count)]
    made = report(*(finding(line=n + 1) for n in range(count)))
    text = render_text(made, lines)
    assert text.count("error PHO203") == 50
    more = f"… and {count - 50} more; `--all` shows them\n"
    assert text.endswith(more) == (count > 50)
    assert ("`--all`" in text) == (count > 50)
    assert "tank.yaml:50:4" in text
    assert "tank.yaml:51:4" not in text
    everything = render_text(made, lines, show_all=True)
    assert everything.count("error PHO203") == count
    assert "`--all`" not in everything


def test_notes_do_not_push_faults_out_of_sight():
    notes = [finding(NOTE, line=n + 1, message="a default") for n in range(60)]
    lines = ["a: x"] * 62
    text = render_text(report(*notes, finding(line=61)), lines)
    assert "tank.yaml:61:4  error PHO203" in text


# Colour


def test_no_colour_unless_it_is_asked_for():
    d = finding(
        help="look", related=(Related(message="there", source_range=SourceRange(1, 1, 1, 2)),)
    )
    note, warning = finding(NOTE, line=2), finding(WARNING, line=2)
    accepted = finding("PHO403", line=2).accept("because")
    made = report(d, note, warning, accepted)
    plain, painted = (
        render_text(made, ["a: x", "b: y"], colour=colour) for colour in (False, True)
    )
    assert "\x1b" not in plain
    assert without_colour(painted) == plain
    for sequence in ("\x1b[31;1m", "\x1b[33;1m", "\x1b[35;1m", "\x1b[36;1m", "\x1b[32;1m"):
        assert sequence in painted
    assert painted.count("\x1b[0m") == len(re.findall(r"\x1b\[[1-9][0-9;]*m", painted))


def test_the_marks_have_the_colour_of_the_severity():
    painted = render_text(report(finding()), ["a: x"], colour=True)
    assert "\x1b[31;1merror PHO203\x1b[0m" in painted
    assert "\x1b[31;1m~\x1b[0m" in painted


def test_colour_is_never_taken_from_the_file():
    hostile = "\x1b[2J\x9b2J\u202e"
    d = finding(
        message=hostile,
        help=hostile,
        related=(Related(message=hostile, source_range=SourceRange(1, 1, 1, 2)),),
    )
    made = report(d, finding(NOTE, message=hostile), file=f"tank{hostile}.yaml")
    made.not_run["x"] = "why"
    painted = render_text(made, [f"a: {hostile}"], colour=True)
    plain = render_text(made, [f"a: {hostile}"]) + counts_line(made)
    for text in (plain, without_colour(painted)):
        assert "\\x1b[2J\\x9b2J\\u202e" in text
        assert not any(
            unicodedata.category(c) in ("Cc", "Cf", "Cs") for c in text if c != "\n"
        )  # fmt: skip


# Excerpts


@pytest.mark.parametrize(
    ("line", "column", "end", "shown", "marks"),
    [
        ("volts: ten", 8, 11, "volts: ten", "       ~~~"),
        ("水槽: {w: x}", 9, 10, "水槽: {w: x}", "          ~"),
        ("a: 水槽", 4, 6, "a: 水槽", "   ~~~~"),
        ("e\u0301e\u0301: x", 7, 8, "e\u0301e\u0301: x", "    ~"),
        ("a: e\u0301e\u0301", 4, 8, "a: e\u0301e\u0301", "   ~~"),
        ("a: x\u0301", 5, 6, "a: x\u0301", "    ~"),  # never no mark at all
        ("\U0001f420: x", 4, 5, "\U0001f420: x", "    ~"),
        ("a: \U0001f469\u200d\U0001f52c, b", 8, 9, "a: \U0001f469\u200d\U0001f52c, b", "      ~"),
        ("\ta: x", 1, 2, " a: x", "~"),
        ("\ta:\tx", 5, 6, " a: x", "    ~"),
        ("a: \x1b[31m, b", 11, 12, "a: \\x1b[31m, b", "             ~"),
        ("a: \x1b[31m", 4, 5, "a: \\x1b[31m", "   ~~~~"),
        ("a: \u202ex, b: y", 11, 12, "a: \\u202ex, b: y", "               ~"),
        ("a: \x00", 4, 5, "a: \\x00", "   ~~~~"),
        ("a:", 3, 4, "a:", "  ~"),  # a value that is not written
        ("a: x   ", 4, 5, "a: x", "   ~"),
        ("", 1, 2, "", "~"),
        ("", 1, 1, "", "~"),
        ("a", 9, 12, "a", " ~"),  # past the end: right behind it
    ],
)
def test_marks_stand_under_what_they_mark(line, column, end, shown, marks):
    assert excerpt([line], SourceRange(1, column, 1, end)) == [
        f"  1 | {shown}".rstrip(),
        f"    | {marks}",
    ]


def test_the_margin_is_as_wide_as_the_number_of_the_line():
    lines = ["a: x"] * 1234
    assert excerpt(lines, SourceRange(1234, 4, 1234, 5)) == ["  1234 | a: x", "       |    ~"]


def test_a_span_of_several_lines_is_marked_on_its_first():
    lines = ["a: [1,  ", "  2]"]
    assert excerpt(lines, SourceRange(1, 4, 2, 5)) == ["  1 | a: [1,", "    |    ~~~"]


@pytest.mark.parametrize("line", [0, 3, 99])
def test_a_line_that_is_not_there_is_not_shown(line):
    assert excerpt(["a: x", "b: y"], SourceRange(line, 1, line, 2)) == []
    assert render_text(report(finding(line=3)), ["a: x"]).count("\n") == 2


LONG = "".join(f"{n:03d}," for n in range(100))  # 400 columns; column 4 n + 1 holds n


def marked(shown, marks):
    """Return what stands over the marks."""
    (found,) = re.finditer("~+", marks)
    return shown[found.start() : found.end()]


@pytest.mark.parametrize("number", [0, 3, 10, 16, 17, 24, 25, 40, 62, 75, 80, 95, 99])
def test_long_lines_are_cut_around_the_marks(number):
    column = 4 * number + 1
    shown, marks = excerpt([LONG], SourceRange(1, column, 1, column + 3))
    assert marked(shown, marks) == f"{number:03d}"
    assert len(shown) <= len("  1 | ") + SHOWN_COLUMNS + 2
    assert shown.startswith("  1 | 000") or shown.startswith("  1 | …")
    assert shown.endswith("099,") or shown.endswith("…")


def test_a_mark_longer_than_the_shown_stretch_ends_with_it():
    shown, marks = excerpt([LONG], SourceRange(1, 1, 1, 401))
    assert shown == f"  1 | {LONG[:SHOWN_COLUMNS]}…"
    assert marks == "    | " + "~" * SHOWN_COLUMNS


def test_a_line_of_exactly_the_shown_length_is_whole():
    line = LONG[:SHOWN_COLUMNS]
    shown, _ = excerpt([line], SourceRange(1, 99, 1, 100))
    assert shown == f"  1 | {line}"


@settings(max_examples=drawn(400))
@given(
    st.one_of(
        st.text(max_size=20),
        st.text(alphabet="ab: \t水\u0301\x1b\u202e\U0001f420\u200d", max_size=40),
        st.text(alphabet="abc水\t ", min_size=90, max_size=300),
    ),
    st.integers(1, 320),
    st.integers(0, 60),
)
def test_marks_of_any_span_stand_under_it(line, column, length):
    line = "".join(line.splitlines())
    shown, marks = excerpt([line], SourceRange(1, column, 1, column + length))
    prefix = "    | "
    assert marks.startswith(prefix)
    spaces, count = re.fullmatch("( *)(~+)", marks[len(prefix) :]).groups()
    assert not any(unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") for c in shown)
    assert len(shown) >= len("  1 |")
    over = shown[len("  1 | ") :]
    # Whatever is shown, the marks do not begin behind the end of the line nor outrun it.
    whole = safe(line.replace("\t", " "))
    blank = width(whole) - width(whole.rstrip())
    assert len(spaces) <= width(over) + blank
    assert len(count) == 1 or len(spaces) + len(count) <= width(over) + blank


# Words of the file, from the reader to the report


@pytest.mark.parametrize(
    "escape", ["\\e", "\\x1b", "\\x07", "\\x9b", "\\x7f", "\\u202e", "\\u2066"]
)
def test_no_escape_of_a_label_or_key_is_sent(escape):
    text = changed(
        ("title: Test bench", f'title: "{escape}[2J"\n"{escape}[31m": 1'),
        ("    ballast: pair", f'    ballast: "{escape}pair"'),
        ("between: line", f'between: "{escape}line"'),
    )
    outcome = load("tank.yaml", text.encode())
    assert [d.code for d in outcome.report] == ["PHO201", "PHO204", "PHO206"]
    shown = render_text(outcome.report, outcome.document.lines)
    for character in shown:
        assert character == "\n" or unicodedata.category(character) not in ("Cc", "Cf")


def test_a_raw_override_in_a_line_is_shown_as_an_escape():
    text = changed(("between: line", "between: lime # \u202eenil"))
    outcome = load("tank.yaml", text.encode())
    shown = render_text(outcome.report, outcome.document.lines)
    assert "  between: lime # \\u202eenil\n" in shown
    assert "\u202e" not in shown


# The line that counts


@pytest.mark.parametrize(
    ("diagnostics", "line"),
    [
        ([], "tank.yaml: nothing to complain of"),
        ([finding()], "tank.yaml: 1 error; `photoperiod explain PHO203` tells more"),
        (
            [finding(), finding(line=2)],
            "tank.yaml: 2 errors; `photoperiod explain PHO203` tells more",
        ),
        ([finding(WARNING)], "tank.yaml: 1 warning; `photoperiod explain PHO318` tells more"),
        ([finding(NOTE)], "tank.yaml: 1 note"),
        ([finding(NOTE), finding(NOTE, line=2)], "tank.yaml: 2 notes"),
        (
            [finding("PHO403").accept("x")],
            "tank.yaml: 1 accepted; `photoperiod explain PHO403` tells more",
        ),
        (
            [
                finding(NOTE),
                finding(WARNING, line=1),
                finding(line=2),
                finding("PHO403", line=3).accept("x"),
                finding(WARNING, line=3),
            ],
            "tank.yaml: 1 error, 2 warnings, 1 accepted, 1 note; `photoperiod explain PHO203` tells more",
        ),
    ],
)
def test_counts_line(diagnostics, line):
    assert counts_line(report(*diagnostics)) == line


def test_counts_line_shows_a_hostile_file_name():
    assert counts_line(report(file="a\x1b[2J\n.yaml")).startswith("a\\x1b[2J\\x0a.yaml: nothing")


def test_what_is_not_guarded_is_said_and_silence_is_not_taken_for_safety():
    made = report()
    made.not_guarded = (
        Unguarded(limits=(ZoneLimit.PPFD_MAX,), zones=("sand",), because="no ppfd_max"),
    )
    assert render_text(made, []) == "not guarded: most light in zone 'sand' (no ppfd_max)\n"
    assert counts_line(made).endswith(": nothing to complain of in what is guarded")
