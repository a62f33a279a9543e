"""``photoperiod new``."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from photoperiod.schedule.conversation import Conversation
from tests.cli.terminal import CTRL_D, Terminal
from tests.conftest import Run
from tests.readings.bench import csv
from tests.schedule.talking import TYPED, key_of
from tests.schedule.test_conversation import WRONG, right
from tests.schedule.test_starter import REEF

#: A tank for which `check` finds no error.
TANK = TYPED | {
    "channels": "blue", "zones": "crest", "dli": "2 to 9", "ppfd_max": "300", "full_ppfd": "100",
    "measured_on": "later",
}  # fmt: skip

needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals")


def options(typed: dict[str, str]) -> list[str]:
    words = []
    for name, text in typed.items():
        question, subject = key_of(name)
        words += ["--" + question.replace("_", "-"), f"{subject}={text}" if subject else text]
    return words


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"dark": "standby", "standby_volts": "0.5", "relay": "none"},
        {"between": "hold", "after_last_row": "hold", "clock": "utc", "response": "log-law"},
        {"dark": "never", "relay": "none", "lit_night_because": "algae only, no corals"},
        {"relay": "follows-level", "on_level_percent": "5"},
    ],
)
def test_what_new_writes_passes_check(run: Run, tmp_path: Path, changes: dict[str, str]) -> None:
    path = tmp_path / "tank.yaml"
    code, out, err = run("new", path, *options(TANK | changes))
    assert (code, out) == (0, ""), err
    assert err == f"wrote {path}; next: photoperiod check {path}\n"
    code, out, err = run("check", path)
    assert code == 0, out + err
    before = path.read_bytes()
    code, _, err = run("new", path, *options(TANK))
    assert code == 4 and "is there already" in err
    assert path.read_bytes() == before


def test_different_tubes_zones_and_a_moon_come_from_options_too(run: Run, tmp_path: Path) -> None:
    code, out, err = run("new", "-", *options(TYPED | REEF))
    assert code == 0
    assert "tubes: [white-1, white-2, white-3, white-4, white-5, white-6]" in out
    assert "full_ppfd: {measured_on: 2027-03-20, zones: {crest: 130, sand: 55}}" in out
    assert "PPFD of white, moon is left for later" in err
    path = tmp_path / "reef.yaml"
    path.write_text(out, encoding="utf-8")
    code, out, err = run("check", path)
    assert code == 0, out


@pytest.mark.parametrize(
    ("changes", "code", "words"),
    [
        ({"channels": "../x"}, 2, "'--channels': '../x'"),
        ({"rows": "0"}, 2, "'--rows': '0': 0 is not from 1 to 1440; write a whole number from 1 to 1440"),
        ({"floor_volts": "11"}, 2, "'--floor-volts'"),
        ({"dawn": "9"}, 2, "'9' may be morning or evening; write a time as HH:MM"),
        ({"tubes": "-2"}, 2, "'--tubes'"),
        ({"dusk": "08:00"}, 2, "--dusk: that is not after dawn at 09:00"),
        ({"floor_volts@strip": "1"}, 2, "--floor-volts: there is no ballast 'strip'; allowed here: pair"),
        ({"dawn@bleu": "10:00"}, 2, "--dawn: there is no channel 'bleu'; did you mean 'blue'?"),
        ({"dli@sand": "later"}, 2, "there is no zone 'sand'"),
        ({"ppfd_max": "50"}, 1, "PHO402"),
        ({"full_scale_volts": "9.5", "peak_light_percent": "100"}, 1, "PHO401"),
        ({"relay": "follows-level", "on_level_percent": "20"}, 1, "PHO322"),
    ],
)  # fmt: skip
def test_answers_that_can_not_be_are_refused_and_nothing_is_written(
    run: Run, tmp_path: Path, changes: dict[str, str], code: int, words: str
) -> None:
    found, out, err = run("new", tmp_path / "t.yaml", *options(TANK | changes))
    assert (found, out) == (code, "")
    assert words in " ".join(err.split())
    assert "note PHO" not in err and "not guarded" not in err, "what can wait for `check`"
    assert list(tmp_path.iterdir()) == []


def test_without_a_terminal_the_options_that_are_missing_are_named(
    run: Run, tmp_path: Path
) -> None:
    left_out = ("rows", "floor_volts", "dawn")
    typed = {name: text for name, text in TANK.items() if name not in left_out}
    code, out, err = run("new", tmp_path / "tank.yaml", *options(typed), stdin=b"12\n1\n9:00\n")
    assert (code, out) == (2, "")
    assert [line.split()[0] for line in err.splitlines()[1:]] == [
        "--rows", "--floor-volts", "--dawn", "Taken",
    ]  # fmt: skip
    assert (
        "  --rows  How many rows (time, level) the controller holds for one channel: a whole number"
        in err
    )
    code, _, err = run("new", tmp_path / "tank.yaml")
    assert code == 2
    assert (
        "\n  Those of each ballast, channel and zone may follow: --response, --sweep-file," in err
    )
    assert "\\x0a" not in err
    assert (
        ", --full-ppfd, --gives, --dawn," in err and ", --moonlight, --moon-light-percent," in err
    )
    assert list(tmp_path.iterdir()) == []


def test_without_a_terminal_what_would_be_taken_for_an_answer_is_told(
    run: Run, tmp_path: Path
) -> None:
    typed = {name: text for name, text in TANK.items() if name not in ("rows", "dawn")}
    typed["channels"] = "blue, moon"
    _, _, err = run("new", tmp_path / "tank.yaml", *options(typed))
    assert "--dawn  moon: first light" in err
    assert "; --gives day (or moon, both)." in err.splitlines()[-1]
    _, _, err = run("new", tmp_path / "tank.yaml", *options(typed), "--gives", "moon=moon")
    assert "--dawn  moon" not in err and "--moon-start  moon" in err
    assert "; --moonlight steady (or phase, phase-and-rise)." in err.splitlines()[-1]
    _, _, err = run("new", tmp_path / "tank.yaml", *options(typed), "--gives", "moon")
    assert "--gives" not in err, "it was told"


@pytest.mark.parametrize("name", ["no/such/folder/tank.yaml", "folder"])
def test_a_target_that_can_not_be_written_is_refused_before_anything_is_asked(
    run: Run, tmp_path: Path, name: str
) -> None:
    (tmp_path / "folder").mkdir()
    code, _, err = run("new", tmp_path / name)
    assert code == 4 and "PHO502" in err
    assert ("is there already" if name == "folder" else "is not there") in err


def test_a_file_without_a_name_or_in_a_file_is_refused_before_anything_is_asked(
    run: Run, tmp_path: Path
) -> None:
    code, _, err = run("new", "")
    assert code == 2 and "FILE is the name of a file to write" in err
    (tmp_path / "notes").write_text("mine", encoding="utf-8")
    code, _, err = run("new", tmp_path / "notes" / "tank.yaml")
    assert code == 4 and "PHO502" in err and "is a file" in err


def test_kept_answers_that_are_none_are_refused_and_stay(run: Run, tmp_path: Path) -> None:
    kept = tmp_path / "tank.yaml.answers"
    kept.write_text("schedule: 1\n", encoding="utf-8")
    code, _, err = run("new", tmp_path / "tank.yaml", *options(TANK))
    assert code == 4
    assert "holds no answers: line 1 is no answer" in err and "move it away" in err
    assert kept.read_text(encoding="utf-8") == "schedule: 1\n"
    assert not (tmp_path / "tank.yaml").exists()


def converse(terminal: Terminal, told: list[str]) -> None:
    """Answer every question: first wrongly, then ask what it means, then rightly."""
    talk = Conversation()
    terminal.until_prompt()
    while (item := talk.current()) is not None:
        for reply in (WRONG[item.question.name], "?", right(*item.key)):
            told.append(talk.reply(reply))
            shown = terminal.ask(reply)
            assert "".join(told[-1].split()) in "".join(shown.split()), (item.key, reply)


@needs_pty
def test_in_a_terminal_every_question_is_answered_wrongly_once_and_explained(
    tmp_path: Path,
) -> None:
    # the sweep of the strip: 1 % at 0.6 V, full at 10 V, square law between
    light = [(0.6 + 0.47 * at, 200 * (0.1 + 0.9 * at / 20) ** 2) for at in range(21)]
    (tmp_path / "light").mkdir()
    (tmp_path / "light" / "sweep.csv").write_bytes(
        csv(*[f"{v:.2f},{each:.3f}" for v, each in light], head="volts,ppfd_umol_m2_s")
    )
    terminal = Terminal(tmp_path, "new", "tank.yaml")
    told: list[str] = []
    converse(terminal, told)
    assert len(told) > 150
    assert terminal.ask("back").endswith("white: when its moonlight ends [02:00]: ")
    assert terminal.ask("1am").endswith("\nWrite tank.yaml [yes]: ")
    terminal.type("")
    assert terminal.exit_code() == 0
    assert "wrote tank.yaml; next: photoperiod check tank.yaml" in terminal.shown
    assert "end: 01:00" in (tmp_path / "tank.yaml").read_text(encoding="utf-8")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["light", "tank.yaml"]


@needs_pty
def test_ctrl_c_and_ctrl_d_keep_the_answers_and_new_goes_on_from_there(tmp_path: Path) -> None:
    given = {name: text for name, text in TANK.items() if name not in ("tank", "rows", "dawn")}
    arguments = ("new", "tank.yaml", *options(given))
    terminal = Terminal(tmp_path, *arguments)
    assert terminal.until_prompt().endswith("A short name for the tank: ")
    terminal.ask("North Wall")
    assert terminal.interrupt() == 130
    kept = tmp_path / "tank.yaml.answers"
    assert "`photoperiod new tank.yaml` goes on from there" in " ".join(terminal.shown.split())
    assert "tank = north-wall\n" in kept.read_text(encoding="utf-8")
    terminal = Terminal(tmp_path, *arguments)
    shown = terminal.until_prompt()
    assert "Goes on with " in shown and " answers from tank.yaml.answers." in shown
    assert shown.endswith("[none]: ")
    for reply in ("", "12 rows"):
        terminal.ask(reply)
    terminal.type(CTRL_D)
    assert terminal.exit_code() == 130
    assert not (tmp_path / "tank.yaml").exists()
    terminal = Terminal(tmp_path, "new", "tank.yaml")
    assert terminal.until_prompt().endswith("blue: when its tubes are fitted (or later) [later]: ")
    assert terminal.ask("").endswith("if you have one (or none) [none]: ")
    assert terminal.ask("").endswith("[day]: ")
    assert terminal.ask("").endswith("blue: first light: ")
    assert terminal.ask("9am").endswith("Write tank.yaml [yes]: ")
    terminal.type("yes")
    assert terminal.exit_code() == 0
    text = (tmp_path / "tank.yaml").read_text(encoding="utf-8")
    assert "tank: north-wall\n" in text and "setpoints_per_channel: 12\n" in text
    assert not kept.exists()


@needs_pty
def test_answers_for_standard_output_are_kept_as_options(tmp_path: Path) -> None:
    given = {name: text for name, text in TANK.items() if name not in ("tank", "title")}
    terminal = Terminal(tmp_path, "new", "-", *options(given))
    terminal.until_prompt()
    terminal.ask("North Wall")
    terminal.type(CTRL_D)
    assert terminal.exit_code() == 130
    shown = " ".join(terminal.shown.split())
    assert "The answers so far: photoperiod new - --tank north-wall --rows 10" in shown
    assert "--full-ppfd blue/crest=100" in shown
    assert list(tmp_path.iterdir()) == []


def test_files_of_readings_lie_beside_the_new_schedule(run: Run, tmp_path: Path) -> None:
    rows = [f"{v / 2},{200 * max(v / 20, 0.1) ** 2:.2f}" for v in range(1, 21)]
    (tmp_path / "sweep.csv").write_bytes(csv(*rows, head="volts,ppfd_umol_m2_s"))
    head = "zone,channel,level_percent,ppfd_umol_m2_s,immersion_applied"
    (tmp_path / "r.csv").write_bytes(csv("crest,blue,100,130,yes", head=head))
    typed = TANK | {"response": "swept", "sweep_file": "sweep.csv", "readings_file": "r.csv"}
    del typed["full_ppfd"], typed["measured_on"]
    path = tmp_path / "tank.yaml"
    code, _, err = run("new", path, *options(typed))
    assert code == 0, err
    code, out, _ = run("check", path)
    assert code == 0, out
    # a floor that is not the one of the sweep, and a file that is not there
    for changes, words in (
        ({"floor_volts": "1.5"}, "write `floor: {volts: 1, light_percent: 1}`"),
        ({"readings_file": "gone.csv"}, "can't read 'gone.csv'"),
    ):
        code, _, err = run("new", tmp_path / "other.yaml", *options(typed | changes))
        assert code == 1 and words in err
        assert not (tmp_path / "other.yaml").exists()


@needs_pty
def test_a_readings_file_that_is_not_there_is_told_of_at_once(tmp_path: Path) -> None:
    given = {name: text for name, text in TANK.items() if name not in ("full_ppfd", "measured_on")}
    terminal = Terminal(tmp_path, "new", "tank.yaml", *options(given))
    shown = terminal.until_prompt()
    while "A file of readings" not in shown.split("\n")[-1]:
        shown = terminal.ask("")
    shown = " ".join(terminal.ask("gone.csv").split())
    assert "There is no file 'gone.csv' in this folder yet. Put it there before the end" in shown
    assert "name another and answer none" not in shown
    assert "or answer none" in shown
    (tmp_path / "gone.csv").write_bytes(
        csv(
            "crest,blue,100,130,yes",
            head="zone,channel,level_percent,ppfd_umol_m2_s,immersion_applied",
        )
    )
    assert "There is no file" not in terminal.ask("")
    assert "readings-file = gone.csv" in (tmp_path / "tank.yaml.answers").read_text(
        "utf-8"
    ).replace("_", "-")
    terminal.type(CTRL_D)
    terminal.exit_code()
