"""Write a file of each format that is read back: ``python -m tests.samples.make VERSION``."""

from __future__ import annotations

import datetime as dt
import shutil
import sys
import tempfile
from pathlib import Path

from photoperiod.board.events import Event
from photoperiod.formats import records_csv, table_image
from photoperiod.formats.folder import render_all
from photoperiod.formats.ledger_json import render_ledger
from photoperiod.program.dates import DateSpan
from tests.board.bench import BOARD, MIDNIGHT, Bench
from tests.conftest import SCHEDULE, compiled

PLACE = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"

SPAN = DateSpan(dt.date(2027, 3, 2), dt.date(2027, 3, 6))


def make(folder: Path) -> None:
    """Write a schedule, all that is made of it, and what a player keeps of a day with it."""
    schedule = SCHEDULE.replace("controller:\n", PLACE + "controller:\n")
    outcome = compiled(schedule, SPAN)
    program = outcome.program
    assert program is not None
    findings = outcome.report.sorted()
    image = table_image.render(program, findings)
    board = BOARD.replace("{folder: log}", "{folder: log, every_seconds: 600}")
    files = {
        "schedule.yaml": schedule.encode(),
        "board.yaml": board.encode(),
        "ledger.json": render_ledger(program, None),
        "table.bin": image,
        "records.csv": records_csv.render(program, findings),
    }
    files |= {f"out/{name}": raw for name, raw in render_all(program, findings).items()}
    with tempfile.TemporaryDirectory() as scratch:
        bench = Bench(Path(scratch), image, board, unix=MIDNIGHT + 3600, stop_s=86_399)
        bench.system.at(40_000, lambda: bench.store.hold("a photograph"))
        bench.system.at(40_600, lambda: bench.store.release())
        assert bench.run() == 0
        files["state.json"] = (bench.store.folder / "state.json").read_bytes()
        logs = sorted((Path(scratch) / "log").iterdir())
        files["run.csv"] = next(p.read_bytes() for p in logs if Event.HOLD in p.read_text())
    shutil.rmtree(folder, ignore_errors=True)
    for name, raw in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(raw)


if __name__ == "__main__":
    make(Path(__file__).parent / sys.argv[1])
