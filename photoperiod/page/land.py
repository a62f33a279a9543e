"""Where does light land? What was read at points of the tank, as this table lights it, depth by depth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from photoperiod.arrays import Bools, Floats, np
from photoperiod.page.figure import WIDTH, Figure, Numbers, Shape, Words, cut
from photoperiod.page.scales import Scale, place_text
from photoperiod.page.trace import box_path
from photoperiod.program.model import Program, Table
from photoperiod.readings.extent import Box
from photoperiod.readings.light_map import LightMap
from photoperiod.readings.model import LightUnit
from photoperiod.readings.read_map import Names, read_map
from photoperiod.schedule.model import Schedule
from photoperiod.text import clock_text, number_text, safe
from photoperiod.units import SECONDS_PER_DAY

#: Room around a map, and above each depth. [user units]
EDGE, ABOVE = 22.0, 18.0

#: The disc of the brightest point has this radius. [user units]
DISC = 7.0

#: A point at which some channel was not read is a ring of this radius. [user units]
UNKNOWN = 2.5

#: A map is never higher than this. [user units]
MOST_HEIGHT = 170.0


@dataclass(frozen=True, slots=True)
class LandedLight:
    """PPFD at points with positions, at the moment at which a table gives them the most together.

    ``ppfd`` [µmol m⁻² s⁻¹] is NaN where some channel that is then lit was not read.
    """

    map: LightMap
    ppfd: Floats
    second: int


def landed(schedule: Schedule, table: Table, files: Mapping[str, bytes]) -> tuple[LandedLight, ...]:
    """Return the light at the points of each file of readings in PPFD; files in lux are left out.

    Parameters
    ----------
    schedule : Schedule
        It knows the ballasts, and so the light at which readings were taken.
    table : Table
        The table.
    files : mapping of str to bytes
        The files of readings that the schedule names.
    """
    curves = {id: channel.ballast.curve for id, channel in schedule.channels.items()}
    found = []
    for name, raw in files.items():
        read = read_map(
            name,
            raw,
            lambda channel, volts: curves[channel].light_at(volts),
            Names(schedule.channels, schedule.zones),
        )
        if read.map is None or read.readings is None or read.readings.unit is not LightUnit.PPFD:
            continue
        if np.isfinite(read.map.x_cm).any():
            found.append(_landed(table, read.map))
    return tuple(found)


def _landed(table: Table, found: LightMap) -> LandedLight:
    lit = {id: c for id, c in table.channels.items() if id in found.full}
    total = np.zeros(SECONDS_PER_DAY)
    for id, c in lit.items():
        total = total + float(np.nansum(found.full[id])) * c.brightness * c.replay.light
    second = int(total.argmax())
    ppfd = np.zeros(found.x_cm.shape)
    for id, c in table.channels.items():
        light = c.brightness * float(c.replay.light[second])
        if light:
            full = found.full.get(id)
            ppfd = ppfd + (np.full(ppfd.shape, np.nan) if full is None else full * light)
    return LandedLight(found, ppfd, second)


def land_figure(program: Program, found: LandedLight, number: int) -> Figure | None:
    """Return the map of each depth, from the surface down; None where nothing is known at any point."""
    map = found.map
    placed = np.isfinite(map.x_cm) & np.isfinite(map.y_cm) & np.isfinite(map.depth_cm)
    known = np.isfinite(found.ppfd) & placed
    if not known.any():
        return None
    x, per_cm = _across(map.x_cm[known], map.y_cm[known])
    most = float(found.ppfd[known].max()) or 1.0
    shapes: list[Shape] = []
    words: list[Words] = []
    top = 0.0
    y_low, y_high = float(map.y_cm[known].min()), float(map.y_cm[known].max())
    for depth in sorted({round(float(d), 1) for d in map.depth_cm[known]}):
        here = known & (np.abs(map.depth_cm - depth) < 0.1)
        height = (y_high - y_low) * per_cm + 2 * EDGE
        y = Scale(y_low, y_high, top + ABOVE + EDGE, top + ABOVE + height - EDGE)
        shapes.append(Shape(box_path(4, top + ABOVE, WIDTH - 8, height), "frame"))
        zones = _zones_at(program, depth)
        shapes += [_edge(box, x, y) for box in zones.values()]
        words += [
            Words(4, top + ABOVE - 5, f"depth {number_text(depth, 1)} cm", "name"),
            Words(WIDTH - 4, top + ABOVE - 5, cut(", ".join(zones), 40), "end"),
        ]
        for index in np.flatnonzero(here).tolist():
            value = float(found.ppfd[index])
            place = x.at(float(map.x_cm[index])), y.at(float(map.y_cm[index]))
            shapes.append(Shape(_disc(*place, DISC * math.sqrt(value / most)), "disc"))
            words.append(Words(place[0], place[1] + 16, number_text(value, 0), "middle small halo"))
        for index in np.flatnonzero(
            ~known & placed & (np.abs(map.depth_cm - depth) < 0.1)
        ).tolist():
            place = x.at(float(map.x_cm[index])), y.at(float(map.y_cm[index]))
            shapes.append(Shape(_disc(*place, UNKNOWN), "hollow"))
        top += ABOVE + height + 6
    return Figure(
        id=f"land-{number}",
        title="PPFD at the points that were read, by depth",
        about=f"A plan of the tank for each depth. Discs have the area of the PPFD at"
        f" {clock_text(found.second)}, and the number stands below each.",
        height=top + 2,
        shapes=tuple(shapes),
        words=tuple(words),
        caption=f"µmol m⁻² s⁻¹ at {clock_text(found.second)}, when the table gives these points the most."
        " The area of a disc is the light. A ring: not every channel was read there.",
        numbers=(_numbers(found, known),),
    )


def _across(x_cm: Floats, y_cm: Floats) -> tuple[Scale, float]:
    """Return the scale of x, and user units for a centimetre, so that a map is not too high."""
    low, high = float(x_cm.min()), float(x_cm.max())
    deep = float(y_cm.max() - y_cm.min())
    per_cm = (WIDTH - 8 - 2 * EDGE) / max(high - low, 1.0)
    if deep * per_cm > MOST_HEIGHT:
        per_cm = MOST_HEIGHT / deep
    half = (high - low) * per_cm / 2
    return Scale(low, high, WIDTH / 2 - half, WIDTH / 2 + half), per_cm


def _zones_at(program: Program, depth: float) -> dict[str, Box]:
    """Return the zones that are boxes and reach a depth, by their labels."""
    return {
        safe(zone.label): zone.extent
        for zone in program.schedule.zones.values()
        if isinstance(zone.extent, Box)
        and zone.extent.depth_cm[0] <= depth <= zone.extent.depth_cm[1]
    }


def _edge(box: Box, x: Scale, y: Scale) -> Shape:
    """Return the edge of a zone, within the map."""
    left, right, top, bottom = 6.0, WIDTH - 6.0, y.begin - EDGE + 2, y.end + EDGE - 2
    x1, x2 = (min(max(x.at(value), left), right) for value in box.x_cm)
    y1, y2 = (min(max(y.at(value), top), bottom) for value in box.y_cm)
    return Shape(box_path(x1, y1, x2 - x1, y2 - y1), "zone-edge")


def _disc(x: float, y: float, radius: float) -> str:
    r = round(max(radius, 0.4), 1)  # rounded first, so that both halves of the circle meet
    half = f"a{place_text(r)} {place_text(r)} 0 1 0"
    across = place_text(2 * r)
    return f"M{place_text(x - r)} {place_text(y)}{half} {across} 0{half} -{across} 0Z"


def _numbers(found: LandedLight, known: Bools) -> Numbers:
    map = found.map
    rows = tuple(
        (
            map.point_text(index),
            f"{found.ppfd[index]:.1f}",
            *(
                "–" if not np.isfinite(full[index]) else f"{full[index]:.1f}"
                for full in map.full.values()
            ),
        )
        for index in np.flatnonzero(known).tolist()
    )
    return Numbers(
        caption=f"PPFD in µmol m⁻² s⁻¹ at {clock_text(found.second)}, and of each channel at full",
        head=("point", "together", *(safe(id) for id in map.full)),
        rows=rows,
    )
