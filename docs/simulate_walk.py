"""Simulate the circuit of walk.md in ngspice, and write the figures that the page states.

Run: python docs/simulate_walk.py

It needs ngspice (Debian: apt-get install ngspice). The netlist is walk.cir; this file says what is
connected to it and what is read. Copies of the circuit that differ in one thing stand beside each other
in one run.
"""

from __future__ import annotations

import json
import re
import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

NETLIST = Path(__file__).parent / "walk.cir"
FIGURES = Path(__file__).parent / "walk-circuit.json"

Floats = NDArray[np.float64]

#: No run of the simulator needs longer. [s]
TIMEOUT_S = 60

LOGIC_V, RAIL_V, FLOOR_V, CODES = 3.3, 12.0, 1.0, 1024
PULSES_HZ = 16e6 / CODES
BALLAST_A = 2e-3
FILTER_S, BASE_OHM = 10e3 * 2.2e-6, 470.0

#: Parts and how each may fail: open, or two of its ends joined (which ones: numbers of words in walk.cir).
SINGLE_FAULTS = {
    **{part: ("open", "12") for part in ("R3", "C1", "R4", "R5", "R6", "R7", "R8", "C2", "D1")},
    "QT1": ("open", "12", "13", "23"),
    "VT1": ("open",),
    "XA": ("open", "unpowered"),
}

#: Volts at the pair of an open ballast. IEC 60929, Annex E, as quoted, says 10 V or more.
OPEN_V = 11.0

#: The circuit without what the simulation asked for, and with the usual capacitor across R4.
BARE: Mapping[str, object] = {"c2": "1f"}
ACROSS_R4: Mapping[str, object] = {"c2": "1f", "c4": "100p"}

#: Two amplifiers, each stable at a gain of 1: 1 MHz, and 5 MHz with an output that is five times as fast.
SLOW: Mapping[str, object] = {}
FAST: Mapping[str, object] = {"gbw": "5meg", "second": "15meg", "rout": 50, "slew": "5meg"}

#: Other parts that a reader may take: a gain of 2 for 5 V, transistors, slower and faster amplifiers.
OTHERS: tuple[Mapping[str, object], ...] = (
    {"r4": 100e3},
    {"bf": 60, "is": "2.5e-15"},
    {"bf": 400},
    {"gbw": "100k", "second": "300k", "rout": 2e3, "slew": "0.05meg"},
    {"gbw": "10meg", "second": "30meg", "rout": 20, "slew": "10meg"},
)

#: The transistor that needs the most volts and current at its base, in a cold room. Common practice, no
#: source: V_EB 0.06 V above the usual one, an amplification of 60.
WORST: Mapping[str, object] = {"is": "2.5e-15", "bf": 60}
ROOM_C, COLD_C = 27, 15


@dataclass(frozen=True)
class Bench:
    """One copy of the circuit and what is connected to it.

    Parameters
    ----------
    code_v : float
        The mean of the pulses at the isolator's output. [V]
    source : str or None
        What stands there instead, in words of ngspice; None for an output that is dead and open.
    parts : mapping
        Parameters of `side` in walk.cir that differ.
    fault : str
        The name of a `side` with a fault; see `faulty`.
    rail : str
        The 12 V, in words of ngspice; empty if nothing is connected.
    ballasts_a, soft_v, load_f : float
        Current, kind and capacitance of the ballasts. [A, V, F]
    wire : str
        Between both: "short", "cable" of 10 m, "broken", "shorted", or "swapped".
    """

    code_v: float = 0.0
    source: str | None = ""
    parts: Mapping[str, object] = field(default_factory=dict)
    fault: str = ""
    rail: str = f"{RAIL_V:g}"
    ballasts_a: float = 2 * BALLAST_A
    soft_v: float = 0.1
    load_f: float = 1e-12
    wire: str = "short"

    def lines(self, k: int) -> list[str]:
        """Return the lines of the netlist for the copy of this number."""
        parts = " ".join(f"{name}={value}" for name, value in self.parts.items())
        load = f"i={self.ballasts_a:.9g} open={OPEN_V} soft={self.soft_v} c={self.load_f:.9g}"
        found = [
            f"Xside{k} code{k} rail{k} pair{k} side{self.fault} {parts}",
            f"Xload{k} far{k} return{k} ballasts {load}",
        ]
        if self.source is not None:
            found.append(f"Vcode{k} code{k} 0 {self.source or f'{self.code_v:.9g}'}")
        if self.rail:
            found.append(f"Vrail{k} rail{k} 0 {self.rail}")
        there, back = (f"far{k}", f"return{k}")
        if self.wire == "swapped":
            there, back = back, there
        found.append(f"Rback{k} {back} 0 1m")
        if self.wire == "cable":
            found.append(f"Xwire{k} pair{k} {there} cable")
        elif self.wire != "broken":
            found.append(f"Rwire{k} pair{k} {there} 1m")
        if self.wire == "shorted":
            found.append(f"Rshort{k} pair{k} 0 1m")
        return found


def faulty(name: str, change: str) -> str:
    """Return the text of a `side` with one part changed, named side_NAME."""
    body = re.search(r"^\.subckt side .*?^\.ends", NETLIST.read_text(), re.DOTALL | re.MULTILINE)
    assert body is not None
    part, what = change.split()
    lines = body[0].replace(".subckt side ", f".subckt side{name} ").split("\n")
    (at,) = (k for k, one in enumerate(lines) if one.startswith(part + " "))
    if what == "open":
        lines[at] = "*"
    elif what == "unpowered":
        lines[at] = lines[at].replace(" amplifier ", " unpowered ")
    else:
        nodes = lines[at].split()
        first, second = (nodes[int(digit)] for digit in what)
        lines.insert(at, f"Rshort {first} {second} 10m")
    return "\n".join(lines)


def simulate(
    benches: Sequence[Bench],
    analysis: str,
    read: Iterable[str],
    more: Iterable[str] = (),
) -> tuple[Floats, dict[str, NDArray[np.complex128]]]:
    """Return the axis of an analysis, and what is read of all copies: the last index is the copy.

    Raises
    ------
    RuntimeError
        If ngspice fails or finds no solution.
    """
    read = list(read)
    wanted = [one.format(k=k) for one in read for k in range(len(benches))]
    deck = ["* walk", NETLIST.read_text(), *more, ".option rshunt=1e12 numdgt=8"]
    deck += [line for k, bench in enumerate(benches) for line in bench.lines(k)]
    deck += [f".save {name}" for name in wanted]
    deck += [analysis, ".end"]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "deck.cir"
        path.write_text("\n".join(deck) + "\n")
        done = subprocess.run(
            ["ngspice", "-b", "-r", "out.raw", path.name], cwd=folder, capture_output=True, text=True,
            timeout=TIMEOUT_S, check=False,
        )  # fmt: skip
        raw = Path(folder) / "out.raw"
        if done.returncode or not raw.exists():
            raise RuntimeError(f"ngspice failed:\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}")
        names, values = _raw(raw.read_bytes())
    column = {name: values[:, at] for at, name in enumerate(names)}
    axis = values[:, 0].real
    return axis, {
        one: np.stack([column[one.format(k=k).lower()] for k in range(len(benches))], axis=-1)
        for one in read
    }


def _raw(raw: bytes) -> tuple[list[str], NDArray[np.complex128]]:
    """Return the names and values of ngspice's binary file: one row for each point."""
    head, _, body = raw.partition(b"Binary:\n")
    text = head.decode()
    count, points = (int(re.search(rf"^No. {what}: *(\d+)", text, re.MULTILINE)[1])  # type: ignore[index]
                     for what in ("Variables", "Points"))  # fmt: skip
    names = re.findall(r"^\s+\d+\s+(\S+)\s+\S+", text.partition("Variables:\n")[2], re.MULTILINE)
    kind = np.complex128 if "complex" in text else np.float64
    values = np.frombuffer(body, kind, count * points).reshape(points, count)
    return names, values.astype(np.complex128)


# What is read


def still(
    benches: Sequence[Bench],
    read: str = "v(pair{k})",
    celsius: float = ROOM_C,
    more: Sequence[str] = (),
) -> Floats:
    """Return what comes to rest in each copy."""
    _, found = simulate(benches, ".op", [read], [f".temp {celsius}", *more])
    return found[read][0].real


def phase_margins(benches: Sequence[Bench]) -> Floats:
    """Return how far the loop of each copy is from oscillating: below 0 it does. [degrees]

    The least margin where the gain of the loop falls through 1 (Nyquist, 1932; the loop is broken
    where nothing loads it).
    """
    before, after = "v(xside{k}.xa.x1)", "v(xside{k}.xa.x2)"
    _, found = simulate(benches, ".ac dec 40 1k 100meg", [before, after])
    loop = -found[before] / found[after]
    phase = np.degrees(np.unwrap(np.angle(loop), axis=0))
    phase -= 360 * np.round(phase[:1] / 360)
    size = np.abs(loop)
    falls = (size[:-1] >= 1) & (size[1:] < 1)
    if not falls.any(axis=0).all():
        raise RuntimeError("a loop has no gain: a copy of the circuit stands at a stop")
    return np.where(falls, 180 + phase[:-1], np.inf).min(axis=0)


def loads(parts: Mapping[str, object]) -> list[Bench]:
    """Return the circuit at levels, currents and lengths of wire that may occur."""
    return [
        Bench(code_v, parts=parts, ballasts_a=amperes, load_f=farad, wire=wire)
        for code_v, amperes, farad, wire in product(
            (0.55, 1.7, 3.3), (0, 1e-3, 8e-3), (1e-12, 1e-9, 3e-9, 1e-8), ("short", "cable")
        )
    ]


def trace(
    benches: Sequence[Bench],
    span_s: float,
    step_s: float,
    start_s: float = 0.0,
    more: Sequence[str] = (),
) -> tuple[Floats, Floats]:
    """Return times, and the volts at each pair over them."""
    times, found = simulate(
        benches, f".tran {step_s} {span_s} {start_s} {step_s}", ["v(pair{k})"], more
    )
    return times, found["v(pair{k})"].real


# The figures of the page


def levels() -> dict[str, object]:
    """Return the full volts, the lowest ones, and what the parts make of them."""
    ballasts = (1, 2, 4)
    usual = [Bench(ballasts_a=n * BALLAST_A) for n in ballasts]
    worst = [Bench(ballasts_a=n * BALLAST_A, parts=WORST) for n in ballasts]
    sunk_a = np.arange(0.0, 30e-3, 0.25e-3)
    most = {
        name: sunk_a[still([Bench(ballasts_a=a, parts=parts) for a in sunk_a], celsius=at) < FLOOR_V]
        for name, parts, at in (("usual", SLOW, ROOM_C), ("worst", WORST, COLD_C))
    }  # fmt: skip
    inside = np.arange(128, CODES, 32) / CODES * LOGIC_V
    line = still([Bench(v) for v in inside])
    first, last = line[0], line[(896 - 128) // 32]
    straight = first + (inside - inside[0]) * (last - first) / (inside[24] - inside[0])
    corners = [
        {"r4": 200e3 * a, "r5": 100e3 * b, "offset": offset, "bias": bias}
        for a, b, offset, bias in product((0.99, 1.01), (0.99, 1.01), (-5e-3, 5e-3), (0, "200n"))
    ]
    full = still([Bench(LOGIC_V, parts=parts) for parts in corners])
    resistors = still([Bench(LOGIC_V, parts={**one, "offset": 0, "bias": 0}) for one in corners])
    light_rail = {"r4": 202e3, "r5": 99e3, "r6": 22.22e3, "offset": 5e-3}
    unloaded = [
        Bench(LOGIC_V, ballasts_a=0),
        Bench(LOGIC_V, ballasts_a=0, rail=f"{RAIL_V * 0.95}", parts=light_rail),
    ]
    held = [
        Bench(1.7, ballasts_a=amperes, soft_v=soft_v)
        for amperes, soft_v in ((0, 0.1), (8e-3, 0.1), (8e-3, OPEN_V))
    ]
    base_v = still(usual, "v(xside{k}.base)") - still(usual, "v(xside{k}.out)")
    return {
        "full_v": still([Bench(LOGIC_V)])[0],
        "full_by_resistors_v": [resistors.min(), resistors.max()],
        "full_by_all_parts_v": [full.min(), full.max()],
        "straight_within_mv": 1e3 * np.abs(line - straight).max(),
        "moved_by_ballasts_mv": 1e3 * np.ptp(still(held)),
        "lowest_v": still(usual),
        "lowest_worst_v": still(worst, celsius=COLD_C),
        "transistor_ma": 1e3 * still(usual, "i(v.xside{k}.vt1)"),
        "base_ua": 1e6 * base_v / BASE_OHM,
        "most_sunk_ma": 1e3 * most["usual"][-1],
        "most_sunk_worst_ma": 1e3 * most["worst"][-1],
        "kept_by_r6_ua": 1e6 * still(unloaded, "i(v.xside{k}.vt1)"),
    }


def loop() -> dict[str, object]:
    """Return how near the loop is to oscillating, with and without its capacitor."""
    found: dict[str, object] = {}
    swinging = []
    for name, parts in (("bare", BARE), ("across_r4", ACROSS_R4), ("c2", {})):
        least = []
        for amplifier in (SLOW, FAST):
            benches = loads({**parts, **amplifier})
            margins = phase_margins(benches)
            least.append(margins.min())
            worst = benches[int(margins.argmin())]
        found[f"phase_margin_{name}_deg"] = least
        # A small step, past the filter, into the worst case of the fast amplifier.
        step = f"pwl(0 {worst.code_v} 10u {worst.code_v} 11u {worst.code_v - 0.02})"
        swinging.append(replace(worst, source=step, parts={**worst.parts, "c1": "1p", "r3": 100}))
    found["phase_margin_others_deg"] = [phase_margins(loads(parts)).min() for parts in OTHERS]
    _, volts = trace(swinging, 3.2e-3, 1e-7, 3e-3)
    return {**found, "swing_v": np.ptp(volts, axis=0)}


def moves() -> dict[str, object]:
    """Return ripple, the time of a step, and what a slow edge of the isolator does."""
    period_s, edge_s = 1 / PULSES_HZ, 1e-8
    wave_v = LOGIC_V / (4 * PULSES_HZ * FILTER_S)  # of the filter, at half: the textbook's
    pulses = [
        Bench(source=f"pulse(0 {LOGIC_V} 0 {edge_s} {edge_s} {high_s - edge_s:.10g} {period_s:.10g})",
              parts=parts)
        for high_s, parts in ((period_s / 2, {}), (period_s / 2, BARE))
    ]  # fmt: skip
    begin = [f".ic v(xside{k}.filtered)={LOGIC_V / 2 - wave_v / 2:.6f}" for k in range(2)]
    _, rippled = trace(pulses, 5e-3, 5e-7, 4e-3, begin)
    step = [
        Bench(source=f"pwl(0 {0.1 * LOGIC_V} 1m {0.1 * LOGIC_V} 1.001m {0.9 * LOGIC_V})",
              parts=parts, load_f=1e-8, wire="cable", ballasts_a=amperes)
        for parts, amperes in product((SLOW, FAST), (0, 4e-3))
    ]  # fmt: skip
    times, volts = trace(step, 0.25, 2e-4)
    risen = (volts - volts[0]) / (volts[-1] - volts[0])
    return {
        "ripple_mv": 1e3 * np.ptp(rippled[:, 0]),
        "ripple_without_c2_mv": 1e3 * np.ptp(rippled[:, 1]),
        "step_s": times[np.nonzero((risen < 0.99).any(axis=1))[0][-1]] - 1e-3,
        "overshoot_percent": 100 * (risen.max() - 1),
    }


def faults() -> dict[str, object]:
    """Return what a broken part, wire or supply does at code 0, with two ballasts."""
    text = []
    single = {}
    for part, ways in SINGLE_FAULTS.items():
        for way in ways:
            name = f"_{part}_{way}"
            text.append(faulty(name, f"{part} {way}"))
            single[f"{part} {way}"] = name
    volts = still([Bench(fault=name) for name in single.values()], more=text)
    whole, *dim = still([Bench(1.0, fault=name) for name in ("", *single.values())], more=text)
    dead = [
        Bench(rail=rail, fault=fault)
        for rail, fault in product(("0", ""), ("_XA_unpowered", "_XA_open"))
    ]
    shorted = [Bench(LOGIC_V, wire="shorted")]
    return {
        "single_faults": len(single),
        "single_faults_above_floor_v": {
            name.replace(" ", "_"): volt
            for name, volt in zip(single, volts, strict=True) if volt > FLOOR_V
        },
        "single_faults_brighter_at_3_v": {
            name.replace(" ", "_"): volt
            for name, volt in zip(single, dim, strict=True) if volt > whole + 0.05
        },
        "board_unpowered_v": still([Bench()])[0],
        "logic_supply_dead_v": still([Bench(source=None), Bench(source=None, parts={"r8": "1e12"})]),
        "rail_dead_v": still(dead, more=text),
        "open_pair_here_v": still([Bench(1.7, wire="broken")])[0],
        "open_pair_at_ballast_v": still([Bench(1.7, wire="broken")], "v(far{k})")[0],
        "shorted_pair_base_ma": 1e3 / BASE_OHM * (
            still(shorted, "v(xside{k}.out)") - still(shorted, "v(xside{k}.base)"))[0],
        "swapped_pair_v": still([Bench(v, wire="swapped") for v in (0, LOGIC_V)]),
    }  # fmt: skip


def figures() -> dict[str, object]:
    """Return all figures, as walk-circuit.json holds them: four digits each."""
    found = {**levels(), **loop(), **moves(), **faults()}
    return {name: _rounded(value) for name, value in found.items()}


def _rounded(value: object) -> object:
    if isinstance(value, dict):
        return {name: _rounded(one) for name, one in value.items()}
    if isinstance(value, (list, np.ndarray)):
        return [_rounded(one) for one in value]
    return value if isinstance(value, int) else float(f"{round(float(value), 4):.4g}")


def main() -> None:
    """Write the figures beside this file."""
    FIGURES.write_text(json.dumps(figures(), indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
