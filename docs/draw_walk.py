"""Draw the pictures of walk.md: blocks, breadboard, and volts to expect at the meter.

Run: python docs/draw_walk.py

The volts come from the schedule that stands in walk.md, compiled and played by the package itself;
where blocks and symbols stand is chosen by hand. Mains wiring is not drawn, on purpose.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

from drawing import (
    BLUE,
    HOUR,
    INK,
    MINUTE,
    ORANGE,
    PALE,
    Panel,
    Point,
    circle,
    clock,
    line,
    num,
    picture,
    text,
)

from photoperiod.api import compile, load_text
from photoperiod.formats import table_json
from photoperiod.formats.image import FIRST_DAY
from photoperiod.formats.table import PlayableTable, read_table
from photoperiod.player.outputs import OutputState, at_moment

PAGE = Path(__file__).parent / "walk.md"

#: What the circuit does, by simulation: simulate_walk.py writes it.
FIGURES = json.loads((Path(__file__).parent / "walk-circuit.json").read_text(encoding="utf-8"))

#: Grounds behind words: what may be touched like a bell wire, what is treated like mains, what is shut.
SAFE_GROUND, PAIR_GROUND, SHUT_GROUND = "#eef4fa", "#fdf0e6", "#3a3a3a"
WHITE = "#ffffff"

#: When the meter is read.
MOMENTS = (9 * HOUR + 30 * MINUTE, 12 * HOUR, 20 * HOUR + 30 * MINUTE, 22 * HOUR)


#: The worked example of the page [Hz, Ω, F, V, A]; the page tells how each is found.
PULSES_HZ = 16e6 / 1024
FILTER_OHM, FILTER_FARAD = 10e3, 2.2e-6
FEEDBACK_OHM, GROUND_OHM = 200e3, 100e3
PULL_UP_OHM, BASE_OHM, LED_OHM = 22e3, 470, 680
LOOP_FARAD = 1e-9
LOGIC_V, SUPPLY_V, FLOOR_V = 3.3, 12.0, 1.0


def gain() -> float:
    """Return the gain of the amplifier."""
    return 1 + FEEDBACK_OHM / GROUND_OHM


def full_scale_v() -> float:
    """Return the volts at the pair for pulses without pauses."""
    return LOGIC_V * gain()


def filter_s() -> float:
    """Return the time constant of the filter."""
    return FILTER_OHM * FILTER_FARAD


# What is played


def page_schedule() -> bytes:
    """Return the schedule in the page: the block whose first line names bench.yaml."""
    found = re.search(
        r"```yaml\n(# bench\.yaml.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL
    )
    if found is None:
        raise ValueError(f"{PAGE.name} holds no block that begins with '# bench.yaml'")
    return found[1].encode()


def table() -> PlayableTable:
    """Return the table of that schedule, as `compile` writes it and `replay` reads it."""
    program = compile(load_text("bench.yaml", page_schedule())).program
    return read_table("table.json", table_json.render(program, []))


def given_at(held: PlayableTable, second: int) -> OutputState:
    """Return what the only channel is given at a second of the day."""
    (given,) = at_moment(held, FIRST_DAY, second)[1].values()
    return given


# Symbols


def box(
    at: Point, width: float, height: float, words: tuple[str, ...], fill: str = WHITE
) -> list[str]:
    """Return a box with its upper left corner at a point; its first line of words is its name."""
    x, y = at
    parts = [rectangle(at, width, height, fill, INK)]
    first = y + height / 2 + 4 - 8 * (len(words) - 1)
    for k, one in enumerate(words):
        parts.append(text(x + width / 2, first + 16 * k, one, "middle", bold=not k))
    return parts


def rectangle(at: Point, width: float, height: float, fill: str, edge: str = "none") -> str:
    """Return a rectangle."""
    return (
        f'<rect x="{num(at[0])}" y="{num(at[1])}" width="{num(width)}" height="{num(height)}"'
        f' fill="{fill}" stroke="{edge}" stroke-width="1.2"/>'
    )


def arrow(points: list[Point], colour: str = INK, width: float = 1.4) -> list[str]:
    """Return a line that ends in a tip; its last stroke is level or upright."""
    (x0, y0), (x1, y1) = points[-2:]
    dx, dy = (x1 > x0) - (x1 < x0), (y1 > y0) - (y1 < y0)
    wings = [
        (x1 - 8 * dx - 4 * dy, y1 - 8 * dy - 4 * dx),
        (x1 - 8 * dx + 4 * dy, y1 - 8 * dy + 4 * dx),
    ]
    tip = "L".join(f"{num(x)},{num(y)}" for x, y in [*wings, (x1, y1)])
    return [
        line([*points[:-1], (x1 - 4 * dx, y1 - 4 * dy)], colour, width),
        f'<path d="M{tip}Z" fill="{colour}"/>',
    ]


def dot(x: float, y: float) -> str:
    """Return a joint of wires."""
    return circle((x, y), INK, 3)


def across(x: float, y: float) -> list[str]:
    """Return a resistor 40 long that lies, with its left end at a point."""
    return [rectangle((x, y - 6), 40, 12, WHITE, INK)]


def upright(x: float, y: float) -> list[str]:
    """Return a resistor 40 long that stands, with its upper end at a point."""
    return [rectangle((x - 6, y), 12, 40, WHITE, INK)]


def capacitor(x: float, y: float) -> list[str]:
    """Return a capacitor of upright wires, its upper plate at a point."""
    return [
        line([(x - 11, y), (x + 11, y)], INK, 2.2),
        line([(x - 11, y + 7), (x + 11, y + 7)], INK, 2.2),
    ]


def lying_capacitor(x: float, y: float) -> list[str]:
    """Return a capacitor of level wires, its left plate at a point."""
    return [
        line([(x, y - 11), (x, y + 11)], INK, 2.2),
        line([(x + 7, y - 11), (x + 7, y + 11)], INK, 2.2),
    ]


def board_ground(x: float, y: float) -> list[str]:
    """Return the ground of the board: three bars."""
    return [
        line([(x - half, y + down), (x + half, y + down)], INK, 1.6)
        for half, down in ((9, 0), (6, 4), (3, 8))
    ]


def pair_common(x: float, y: float) -> list[str]:
    """Return the common of the control pair: an open triangle."""
    return [
        f'<path d="M{num(x - 8)},{num(y)}L{num(x + 8)},{num(y)}L{num(x)},{num(y + 11)}Z"'
        f' fill="{WHITE}" stroke="{INK}" stroke-width="1.4"/>'
    ]


def diode(x: float, y: float, is_clamp: bool = False, is_up: bool = False) -> list[str]:
    """Return a diode 14 high, its upper end at a point, that leads down, or up."""
    top, bottom = (y, y + 14)
    wide, tip = (bottom, top) if is_up else (top, bottom)
    bar = [(x - 8, tip), (x + 8, tip)]
    if is_clamp:
        bar = [(x - 8, tip + 4), *bar, (x + 8, tip - 4)]
    return [
        f'<path d="M{num(x - 8)},{num(wide)}L{num(x + 8)},{num(wide)}L{num(x)},{num(tip)}Z"'
        f' fill="{WHITE}" stroke="{INK}" stroke-width="1.4"/>',
        line(bar, INK, 1.8),
    ]


# The pictures


def draw_blocks() -> str:
    """Return the picture of what stands between a schedule and a tube."""
    parts = [
        rectangle((0, 0), 720, 186, SAFE_GROUND),
        rectangle((0, 186), 720, 134, PAIR_GROUND),
        text(14, 22, "low voltage, apart from mains: what you build and touch", bold=True),
    ]
    for x, words in (
        (14, ("schedule", "one YAML file")),
        (204, ("table", "time, level, relay")),
        (394, ("controller", "plays the table")),
        (584, ("clock", "with a battery")),
    ):
        parts += box((x, 44), 122, 56, words)
    for begin, end, words in ((136, 204, "compile"), (326, 394, "load")):
        parts += arrow([(begin, 72), (end, 72)])
        parts.append(text((begin + end) / 2 - 2, 64, words, "middle"))
    parts += arrow([(584, 72), (516, 72)])
    parts.append(text(552, 64, "time", "middle"))

    parts.append(line([(0, 186), (720, 186)], ORANGE, 3, "9 5"))
    parts.append(text(150, 178, "isolation: no wire crosses this line", colour=ORANGE, bold=True))
    parts += arrow([(425, 100), (425, 130), (95, 130), (95, 172)], BLUE)
    parts.append(text(105, 124, "relay: on or off", colour=BLUE))
    parts += arrow([(455, 100), (455, 172)], BLUE)
    parts.append(text(463, 134, "level: pulses (PWM)", colour=BLUE))
    parts.append(text(463, 150, "or a converter's bus", colour=BLUE))
    for x in (95, 455):
        parts += box((x - 40, 172), 80, 28, ("isolator",))

    parts.append(text(150, 212, "basic insulation only: treat like mains", bold=True))
    parts += arrow([(455, 200), (455, 226)], BLUE)
    parts += box((380, 226), 150, 62, ("filter, amplifier", "0–10 V", "sinks current"))
    parts += [line([(530, y), (x, y), (x, 330)], INK, 1.6) for x, y in ((661, 249), (652, 258))]
    parts.append(text(538, 240, "control pair", bold=True))
    parts += arrow([(604, 280), (540, 280)], ORANGE)
    parts.append(text(540, 298, "current comes", colour=ORANGE))
    parts.append(text(540, 312, "from the ballast", colour=ORANGE))
    parts += arrow([(95, 200), (95, 330)], BLUE)
    parts.append(text(105, 264, "drives a contactor", colour=BLUE))
    parts.append(text(105, 280, "that is open without power", colour=BLUE))

    parts.append(rectangle((14, 330), 692, 84, SHUT_GROUND, INK))
    parts.append(text(360, 356, "mains side: licensed person only", "middle", WHITE, bold=True))
    parts.append(
        text(360, 378, "drawn shut on purpose; local electrical codes decide", "middle", WHITE)
    )
    parts.append(text(95, 356, "contactor", "middle", WHITE))
    parts.append(text(656, 356, "ballasts", "middle", WHITE))
    parts.append(text(360, 400, "lamp ends: several hundred volts", "middle", WHITE))
    parts += arrow([(656, 414), (656, 436)])
    parts.append(
        f'<rect x="430" y="436" width="276" height="24" rx="12" fill="{WHITE}" stroke="{INK}"'
        ' stroke-width="1.2"/>'
    )
    parts.append(text(568, 452, "tubes", "middle", bold=True))
    parts.append(text(14, 452, "software off is no isolation: unplug before relamping", bold=True))
    return picture("From a schedule to the tubes; the mains side is a closed box", 474, parts)


def draw_breadboard() -> str:
    """Return the picture of the low-voltage side on a breadboard."""

    def wires(*runs: list[Point]) -> list[str]:
        return [line(run, INK, 1.5) for run in runs]

    parts = [
        rectangle((0, 0), 720, 456, SAFE_GROUND),
        text(14, 24, "board side, 3.3 V or 5 V", bold=True),
        text(312, 24, "pair side, 12 V of its own", bold=True),
    ]
    # The board, its clock, its two outputs.
    parts += box((14, 90), 108, 170, ("board", "plays the table"))
    parts += box((14, 330), 108, 54, ("clock", "keeps time"))
    parts += wires([(48, 260), (48, 330)], [(78, 260), (78, 330)])
    parts.append(text(86, 300, "bus, two wires"))
    parts += wires([(122, 352), (150, 352), (150, 366)], [(150, 373), (150, 388)])
    parts += [line([(138, 366), (162, 366)], INK, 1.6), line([(144, 373), (156, 373)], INK, 3)]
    parts += board_ground(150, 388)
    parts.append(text(168, 374, "battery"))
    parts += [text(116, 134, "PWM", "end"), text(116, 224, "relay", "end")]
    parts += wires([(122, 130), (258, 130)], [(186, 130), (186, 142)], [(186, 182), (186, 190)])
    parts += [dot(186, 130), *upright(186, 142), *board_ground(186, 190)]
    parts += [text(198, 160, "R1"), text(198, 176, "10 kΩ")]
    parts += wires([(122, 220), (134, 220)], [(174, 220), (228, 220), (228, 232)],
                   [(228, 246), (228, 260)])  # fmt: skip
    parts += [*across(134, 220), *diode(228, 232), *board_ground(228, 260)]
    parts.append(text(154, 246, f"R2 {LED_OHM} Ω", "middle"))
    parts.append(text(204, 288, "LED in place", "start"))
    parts.append(text(204, 303, "of the relay", "start"))

    # The barrier.
    parts.append(line([(296, 10), (296, 446)], ORANGE, 3, "9 5"))
    parts.append(text(284, 420, "isolation: the two grounds", "end", ORANGE, bold=True))
    parts.append(text(284, 436, "are never joined", "end", ORANGE, bold=True))
    parts += box((258, 114), 76, 32, ("isolator",))

    # Filter, amplifier, transistor.
    parts += wires([(334, 130), (352, 130)], [(392, 130), (452, 130)], [(414, 130), (414, 158)],
                   [(414, 165), (414, 182)], [(343, 130), (343, 200)], [(343, 240), (343, 250)])  # fmt: skip
    parts += [*across(352, 130), dot(414, 130), *capacitor(414, 158), *pair_common(414, 182)]
    parts.append(text(374, 116, f"R3 {FILTER_OHM / 1e3:g} kΩ", "middle"))
    parts += [dot(343, 130), *upright(343, 200), *pair_common(343, 250)]
    parts += [text(355, 218, "R8"), text(355, 234, "10 kΩ")]
    parts += [text(398, 158, "C1", "end"), text(398, 174, f"{FILTER_FARAD * 1e6:g} µF", "end")]
    parts.append(
        f'<path d="M452,114L452,182L514,148Z" fill="{WHITE}" stroke="{INK}" stroke-width="1.4"/>'
    )
    parts += [text(457, 135, "+", bold=True), text(457, 170, "−", bold=True)]
    parts.append(text(452, 106, "amplifier", bold=True))
    parts += wires([(514, 148), (522, 148)], [(562, 148), (574, 148)],
                   [(574, 141), (592, 124), (592, 100), (698, 100)],
                   [(574, 155), (592, 172), (592, 188)])  # fmt: skip
    parts.append(line([(574, 132), (574, 164)], INK, 3))
    parts.append(f'<path d="M577,138L587,135L580,128Z" fill="{INK}"/>')
    parts += [*across(522, 148), *pair_common(592, 188)]
    parts.append(text(542, 136, f"R7 {BASE_OHM} Ω", "middle"))
    parts += [text(614, 222, "T1 (PNP)", "end", bold=True), text(614, 238, "sinks current", "end")]

    # Feedback: it sets the gain at the pair itself.
    parts += wires([(452, 166), (438, 166), (438, 256), (474, 256)],
                   [(514, 256), (622, 256), (622, 100)],
                   [(438, 256), (438, 270)], [(438, 310), (438, 320)])  # fmt: skip
    parts += [dot(438, 256), dot(622, 100), *across(474, 256), *upright(438, 270)]
    parts += pair_common(438, 320)
    parts.append(text(494, 278, f"R4 {FEEDBACK_OHM / 1e3:g} kΩ", "middle"))
    parts += wires([(518, 148), (518, 200), (482, 200)], [(475, 200), (438, 200)])
    parts += [dot(518, 148), dot(438, 200), *lying_capacitor(475, 200)]
    parts.append(text(478, 228, f"C2 {LOOP_FARAD * 1e9:g} nF", "middle"))
    parts += [text(426, 288, "R5", "end"), text(426, 304, f"{GROUND_OHM / 1e3:g} kΩ", "end")]

    # What stands for the ballast, clamp, meter, pair.
    parts += wires([(622, 38), (622, 48)], [(622, 88), (622, 100)], [(665, 100), (665, 180)],
                   [(665, 194), (665, 212)], [(698, 100), (698, 197)], [(698, 227), (698, 262)])  # fmt: skip
    parts += [*upright(622, 48), text(622, 32, f"+{SUPPLY_V:g} V", "middle", bold=True)]
    parts.append(text(608, 66, f"R6 {PULL_UP_OHM / 1e3:g} kΩ: in place", "end"))
    parts.append(text(608, 82, "of a ballast's current", "end"))
    parts += [dot(665, 100), *diode(665, 180, is_clamp=True, is_up=True), *pair_common(665, 212)]
    parts += [text(654, 184, "D1", "end"), text(654, 200, "11 V", "end")]
    parts += [
        circle((698, 212), INK, 15, is_filled=False),
        text(698, 217, "V", "middle", bold=True),
    ]
    parts += pair_common(698, 270)
    parts += [circle((698, y), INK, 4, is_filled=False) for y in (100, 262)]
    parts += [text(708, 88, "pair +", "end"), text(686, 280, "pair −", "end")]

    for k, words in enumerate((
        f"gain 1 + R4 / R5 = {gain():.1f}: {LOGIC_V:g} V becomes {full_scale_v():.1f} V",
        f"filter R3 · C1 = {filter_s() * 1e3:.0f} ms: ripple {FIGURES['ripple_mv']:.1f} mV at the pair",
        f"lowest volts {FIGURES['lowest_v'][1]:.2f} V, below the ballast's floor",
        "no ballast here: the pair ends at the meter",
    )):  # fmt: skip
        parts.append(text(312, 374 + 18 * k, words, bold=k == 3))
    return picture("The low-voltage side on a breadboard, without lamps", 456, parts)


def reading(at: Point, width: float, words: tuple[str, ...]) -> list[str]:
    """Return what a meter is to show: a frame with words, its upper left corner at a point."""
    x, y = at
    parts = [rectangle(at, width, 16 * len(words) + 10, WHITE, INK)]
    return [*parts, *(text(x + 8, y + 18 + 16 * k, w, bold=not k) for k, w in enumerate(words))]


def draw_volts() -> str:
    """Return the picture of the volts to expect at four moments of the day."""
    held = table()
    panel = Panel(58, 40, 632, 260, 8 * HOUR, 23 * HOUR, 10)
    parts = panel.axes(range(8, 24), range(0, 11, 2), "volts at the pair, by replay")
    day = {s: given_at(held, s) for s in range(8 * HOUR, 23 * HOUR + 1, MINUTE)}
    lit = [second for second, given in day.items() if given.relay]
    before = [second for second in day if second <= lit[0]]
    after = [second for second in day if second > lit[-1]]
    for stretch, colour, width, dash in (
        (before, PALE, 1.6, "2 4"), (after, PALE, 1.6, "2 4"), (lit, BLUE, 2.6, ""),
    ):  # fmt: skip
        volts = (day[second].volts for second in stretch)
        parts.append(line(panel.points(stretch, volts), colour, width, dash))
    floor_y = panel.y(FLOOR_V)
    parts.append(line([(panel.left, floor_y), (panel.right, floor_y)], ORANGE, 1.2, "6 3"))
    parts.append(text(panel.x(14 * HOUR), floor_y - 7, f"floor of the ballast: {FLOOR_V:.1f} V",
                      "middle", ORANGE))  # fmt: skip
    for second, (hour, volts, width) in zip(
        MOMENTS,
        ((9.95, 5.6, 144), (13.4, 7.9, 144), (16.2, 5.6, 144), (20.6, 9.5, 100)),
        strict=True,
    ):
        given = day[second]
        left, top = panel.x(hour * HOUR), panel.y(volts)
        point = (panel.x(second), panel.y(given.volts))
        end = {0: (left, top + 16), 1: (left, top + 8), 2: (left + width, top + 16)}.get(
            MOMENTS.index(second), (left + width / 2, top + 58)
        )
        parts.append(line([point, end], INK, 0.8))
        parts.append(circle(point, BLUE if given.relay else PALE, 5.5))
        words: tuple[str, ...] = (
            f"{given.volts:.3f} V",
            f"light {given.light * 100:.1f} %, relay on",
        )
        if not given.relay:
            words = (f"under {FLOOR_V:.1f} V", "relay off: dark")
        parts += reading((left, top), width, (f"at {clock(second)}", *words))
    parts.append(text(panel.right, 340, "dotted: relay off, dark whatever the volts", "end"))
    return picture("Volts to expect at the meter at four moments of the day", 352, parts)


PICTURES: dict[str, Callable[[], str]] = {
    "walk-blocks.svg": draw_blocks,
    "walk-breadboard.svg": draw_breadboard,
    "walk-volts.svg": draw_volts,
}


def main() -> None:
    """Write all pictures beside this file."""
    for name, draw in PICTURES.items():
        (Path(__file__).parent / name).write_bytes(draw().encode())


if __name__ == "__main__":
    main()
