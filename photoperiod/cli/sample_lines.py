"""A line of each command as it is typed: shown after wrong use, as the way out."""

from __future__ import annotations

from collections.abc import Mapping

#: What is typed after ``photoperiod``, by the names of command and subcommand.
SAMPLE_LINES: Mapping[str, str] = {
    "calendar": "calendar tank.yaml --from 2027-03-01 --to 2027-03-31",
    "check": "check tank.yaml",
    "compare": "compare out/tank/table.json log.csv",
    "compile": "compile tank.yaml --from 2027-03-01 --to 2027-03-31 -o out/tank",
    "explain": "explain PHO201",
    "export": "export csv tank.yaml -o table.csv",
    "hold": "hold --board board.yaml",
    "measure depth": "measure depth readings.csv --at-cm 22",
    "measure grid": "measure grid --length-cm 120 --width-cm 60 --water-cm 55 --channel blue",
    "measure lux": "measure lux --illuminant FL11",
    "measure map": "measure map readings.csv",
    "measure series": "measure series readings.csv",
    "measure sweep": "measure sweep readings.csv",
    "new": "new tank.yaml",
    "overview": "overview reef.yaml frags.yaml --from 2027-03-01 --to 2027-03-31",
    "override": "override --board board.yaml --light-percent 30 --minutes 20",
    "publish": "publish out/tank/table.json --broker broker.local --topic reef/table",
    "release": "release --board board.yaml",
    "replay": "replay out/tank/table.json --at 2027-03-02T13:05",
    "report": "report tank.yaml --from 2027-03-01 --to 2027-03-31 -o tank.html",
    "run": "run out/tank/table.json --speed 600",
    "schema": "schema schedule",
    "sky": "sky tank.yaml --from 2027-03-01 --to 2027-03-31",
    "solve": "solve tank.yaml",
    "tubes": "tubes tank.yaml --from 2027-03-01",
    "watch": "watch tank.yaml",
}


def sample_line(command_path: str) -> str:
    """Return a line of a command as it is typed, such as that of ``photoperiod tubes``; empty for a group."""
    program, _, name = command_path.partition(" ")
    return f"{program} {SAMPLE_LINES[name]}" if name in SAMPLE_LINES else ""
