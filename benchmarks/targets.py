"""What the players cost on their targets: flash, memory, cycles, instructions, time as ratios.

Needs the tools of tests/targets, and valgrind for instructions on this machine.
"""

from __future__ import annotations

import datetime as dt
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from photoperiod.api import compile, load_text  # noqa: E402
from photoperiod.formats import c_header, micropython, table_json  # noqa: E402
from photoperiod.formats.image import encode  # noqa: E402
from photoperiod.formats.table import PlayableTable, read_table  # noqa: E402
from photoperiod.player.reference import play  # noqa: E402
from photoperiod.program.dates import DateSpan  # noqa: E402
from tests.targets.images import HARD, about  # noqa: E402
from tests.targets.players import board, module_folder, simulated  # noqa: E402
from tests.targets.tools import run, tool  # noqa: E402

SOURCES = Path(__file__).parent / "targets_c"

#: A clock of 16 MHz, as these controllers have it. [Hz]
CLOCK_HZ = 16_000_000

STEP_S = 61

#: More than a soft start takes, as the header has it.
OVER = "PHOTOPERIOD_SOFT_START_OVER"


def example(name: str, span: DateSpan | None) -> PlayableTable:
    text = (ROOT / "examples" / f"{name}.yaml").read_bytes()
    program = compile(load_text(name, text), span).program
    return read_table("table.json", table_json.render(program, ()))


def cases() -> dict[str, PlayableTable]:
    march = DateSpan(dt.date(2027, 3, 1), dt.date(2027, 3, 31))
    wide = HARD["wide-down"]
    return {
        "two lamps": example("smallest", None),
        "four lamps, dated": example("teaching-reef", march),
        "three lamps, a year": example(
            "natural-year", DateSpan(dt.date(2027, 1, 1), dt.date(2027, 12, 31))
        ),
        "one lamp, 64 bits": PlayableTable(about=about(wide), image=wide, paths={}),
    }


# ATmega328P


def avr_program(folder: Path, header: bytes, *defines: str) -> Path:
    (folder / "photoperiod.h").write_bytes(header)
    program = folder / "cycles.elf"
    command = [tool("avr-gcc"), "-mmcu=atmega328p", "-std=gnu99", "-Os", "-ffunction-sections"]
    command += ["-Wl,--gc-sections", f"-I{folder}", *(f"-D{define}" for define in defines)]
    run([*command, SOURCES / "avr.c", "-o", program])
    return program


def avr_sizes(program: Path) -> tuple[int, int]:
    """Return flash and RAM that are taken before anything is called. [bytes]"""
    text, data, bss = run([tool("avr-size"), program]).decode().splitlines()[1].split()[:3]
    return int(text) + int(data), int(data) + int(bss)


def avr(folder: Path, case: str, exported: PlayableTable) -> None:
    made = exported.image
    header = c_header.render(made, exported.about)
    length = len(encode(made)) - len(made.about)
    day = f"DAY={(made.span or (0, 0))[0]}"
    program = avr_program(folder, header, day, f"SINCE_START_S={OVER}")
    flash, ram = avr_sizes(program)
    empty_flash, _ = avr_sizes(avr_program(folder, header, "NOTHING"))
    program = avr_program(folder, header, day, f"SINCE_START_S={OVER}")
    least, mean, most, check, stack = map(int, simulated(program))
    outputs = len(made.channels)
    soft = int(simulated(avr_program(folder, header, day, "SINCE_START_S=7"))[2])
    print(
        f"  {case:20} image {length:6,} B; player and check {flash - empty_flash - length:5,} B of flash;"
        f" RAM {ram:3} B of the caller, {stack:3} B of stack"
    )
    print(
        f"  {'':20} play {least:6,} / {mean:6,} / {most:6,} cycles for {outputs} outputs"
        f" ({most / CLOCK_HZ * 1e3:.2f} ms at most; in a soft start {soft:,} cycles);"
        f" check {check:9,} cycles ({check / CLOCK_HZ * 1e3:.0f} ms)"
    )


# This machine


def host(folder: Path, case: str, exported: PlayableTable) -> None:
    made = exported.image
    (folder / "photoperiod.h").write_bytes(c_header.render(made, exported.about))
    program = folder / "host"
    day = (made.span or (0, 0))[0]
    run(
        [
            tool("gcc"),
            "-std=c99",
            "-O2",
            f"-DDAY={day}",
            f"-I{folder}",
            SOURCES / "host.c",
            "-o",
            program,
        ]
    )
    plays = len(range(0, 86_400, STEP_S))
    instructions = [_instructions(folder, program, days) for days in (1, 3)]
    each = (instructions[1] - instructions[0]) / 2 / plays
    print(f"  {case:20} {each:6.0f} instructions to play {len(made.channels)} outputs")


def _instructions(folder: Path, program: Path, days: int) -> int:
    done = subprocess.run(
        [
            "valgrind",
            "--tool=callgrind",
            f"--callgrind-out-file={folder / 'out'}",
            program,
            str(days),
        ],
        capture_output=True,
        check=True,
        timeout=120,
    )
    found = re.search(rb"Collected : (\d+)", done.stderr)
    assert found is not None
    return int(found[1])


# MicroPython


def best_s(work: Callable[[], object]) -> float:
    times = []
    for _ in range(3):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def python(folder: Path, case: str, exported: PlayableTable) -> None:
    made = exported.image
    source = micropython.render(made, exported.about)
    module = ModuleType("photoperiod_table")
    exec(source.decode(), module.__dict__)
    own = module.load()
    day = (made.span or (0, 0))[0]
    seconds = range(0, 86_400, STEP_S)
    reference_s = best_s(lambda: [play(made, day, second) for second in seconds])
    module_s = best_s(lambda: [own(day, second) for second in seconds])
    module_folder(folder, source)
    (folder / "bench.py").write_text(
        "import time, photoperiod_table as t\nown = t.load()\nbest = 1 << 60\n"
        "for _ in range(3):\n    begin = time.ticks_us()\n"
        f"    for second in range(0, 86400, {STEP_S}):\n        own({day}, second)\n"
        "    best = min(best, time.ticks_diff(time.ticks_us(), begin))\nprint(best)\n"
    )
    unix_s = int(run([tool("micropython"), "bench.py"], cwd=folder)) / 1e6
    print(
        f"  {case:20} module {len(source):6,} B; time of the reference 1, of the module in CPython"
        f" {module_s / reference_s:.2f}, in MicroPython {unix_s / reference_s:.2f}"
    )


def heap(case: str, exported: PlayableTable) -> None:
    made = exported.image
    source = micropython.render(made, exported.about)
    with board() as b:
        before = b.free_bytes()
        try:
            b.put("photoperiod_table.py", source)
            b.restart()
            before = b.free_bytes()
            b.run("import photoperiod_table as t")
        except AssertionError as error:
            print(f"  {case:20} too much for {before:,} B free: {str(error).splitlines()[-1]}")
            return
        after = b.free_bytes()
        b.run("play=t.load()")
        loaded = b.free_bytes()
        b.run(f"a=({(made.span or (0, 0))[0]},43200)")
        b.run("m=gc.mem_free()")
        each = int(b.run("play(*a);print(m-gc.mem_free())"))
    print(
        f"  {case:20} of {before:,} B free the module keeps {before - after:,}, the player {after - loaded:,};"
        f" a moment takes {each:,} until they are collected"
    )


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found = cases()
        print("C on an ATmega328P, avr-gcc -Os (cycles: least / mean / most over a day)")
        for case, exported in found.items():
            avr(folder, case, exported)
        print("C on this machine, gcc -O2")
        for case, exported in found.items():
            host(folder, case, exported)
        print("MicroPython and CPython on this machine, as parts of the reference's time")
        for case, exported in found.items():
            python(folder, case, exported)
        print("MicroPython on a Cortex-M0 board with 16 KiB of RAM")
        for case, exported in found.items():
            heap(case, exported)


if __name__ == "__main__":
    main()
