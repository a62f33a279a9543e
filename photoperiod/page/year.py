"""What does the year look like? An actogram: one row a date, grey by PPFD, with dose and night beside it."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from photoperiod.arrays import Bools, Floats, Ints, np
from photoperiod.days.day_curves import DayCurves
from photoperiod.page.dates_axis import month_text
from photoperiod.page.figure import Figure, Numbers, Shape, Words, line
from photoperiod.page.scales import Scale, apart, ticks, top_of
from photoperiod.page.shown import dates_text
from photoperiod.page.trace import box_path, line_path
from photoperiod.program.channel_day import ZoneDay
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program, Table
from photoperiod.schedule.model import Zone
from photoperiod.text import hours_text, number_text, safe
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S, SECONDS_PER_HOUR

#: A cell of the actogram is the mean of so many seconds.
CELL_S = 600

#: Greys from the dimmest light to the brightest; no light is the ground.
GREYS = 5

#: Where the three parts begin and end across the picture. [user units]
ROWS_LEFT, ROWS_RIGHT = 34.0, 216.0
DOSE_LEFT, DOSE_RIGHT = 238.0, 275.0
NIGHT_LEFT, NIGHT_RIGHT = 296.0, 334.0
HOURS = Scale(0.0, 24.0, ROWS_LEFT, ROWS_RIGHT)

TOP = 30.0

#: All dates together are so high, but a date never more or less than this. [user units]
WANTED_HEIGHT, LEAST_ROW, MOST_ROW = 470.0, 0.25, 14.0

#: Labels stand at least so far apart. [user units]
LABEL_GAP = 11.0

#: Where numbers of loads begin, and how far below their rules. [user units]
NUMBERS_LEFT, NUMBER_BELOW = ROWS_RIGHT + 7, 8.0

#: How far the sign of faint light stands below the scale of greys. [user units]
FAINT_BELOW = 13.0

#: What is drawn of the sun as thin lines.
TWILIGHT = ("civil dawn", "sunrise", "sunset", "civil dusk")

#: A line of twilight is broken where it jumps by more. [s]
JUMP_S = 2 * SECONDS_PER_HOUR


@dataclass(frozen=True, slots=True)
class _Rows:
    """Where dates stand: date n from ``top + n * height`` on. [user units]"""

    span: DateSpan
    height: float

    def at(self, date: dt.date) -> float:
        """Return where the row of a date begins."""
        return TOP + (date - self.span.first).days * self.height

    @property
    def bottom(self) -> float:
        """Where the last row ends."""
        return TOP + self.span.days * self.height


def year_figure(program: Program) -> Figure | None:
    """Return the actogram of a program; None for a single date or a day of no date."""
    span = program.span
    if span is None or span.days < 2:
        return None
    rows = _Rows(span, min(max(WANTED_HEIGHT / span.days, LEAST_ROW), MOST_ROW))
    zone = _main_zone(program)
    shapes, words = _cells(program, zone, rows)
    for part in (
        _dates(rows),
        _twilight(program, rows),
        _loads(program, rows),
        _clock_changes(program, rows),
        _doses(program, rows),
        _nights(program, zone, rows),
    ):
        shapes += part[0]
        words += part[1]
    has_faint = any(shape.look == "faint" for shape in shapes)
    what = f"PPFD in {safe(zone.label)}" if zone else "light of all channels"
    return Figure(
        id="year",
        title=f"Every day from {span.first} to {span.last}: {what}",
        about="One row a date, the more ink the more light; beside it the dose and the night of each date."
        " Rules or marks at the edge are loads of the controller, notches changes of its clock.",
        height=rows.bottom + 26 + (FAINT_BELOW if has_faint else 0),
        shapes=tuple(shapes),
        words=tuple(words),
        caption=_caption(program, zone, rows, has_faint=has_faint),
        numbers=(_numbers(program),),
    )


def _main_zone(program: Program) -> Zone | None:
    """Return the zone that is drawn: that of the greatest dose."""
    doses = {id: z.dli.replay for id, z in program.tables[0].zones.items()}
    return program.schedule.zones[max(doses, key=lambda id: doses[id])] if doses else None


def _light(table: Table, zone: Zone | None) -> Floats:
    """Return what is drawn of a table, the mean of each cell: PPFD, or light of all channels."""
    if zone is not None:
        light = table.zones[zone.id].ppfd
    else:
        light = np.sum([c.replay.light for c in table.channels.values()], axis=0)
    cells: Floats = light.reshape(-1, CELL_S).mean(axis=1)
    return cells


def _cells(program: Program, zone: Zone | None, rows: _Rows) -> tuple[list[Shape], list[Words]]:
    """Return the greys of all dates, a path for each grey, and the scale of greys."""
    cells = [_light(table, zone) for table in program.tables]
    most = max(float(each.max()) for each in cells) or 1.0
    paths = [""] * (GREYS + 1)
    faint, faintest = "", 0.0
    for table, light in zip(program.tables, cells, strict=True):
        if table.span is None:
            continue
        top, height = rows.at(table.span.first), table.span.days * rows.height
        grey = _grey(light, most)
        for begin, end in _runs(grey):
            if number := int(grey[begin]):
                paths[number] += _box(begin, end, top, height)
        is_faint = (grey == 0) & _is_lit(table, zone)
        for begin, end in _runs(is_faint.astype(np.int64)):
            if is_faint[begin]:
                faint += _box(begin, end, top, height)
                faintest = max(faintest, float(light[begin:end].max()))
    shapes = [Shape(d, f"grey-{n}") for n, d in enumerate(paths) if d]
    if faint:
        shapes.append(Shape(faint, "faint"))
    words = []
    for hour in range(0, 25, 6):
        words.append(Words(HOURS.at(hour), TOP - 5, f"{hour:02d}", "middle"))
    legend, legend_words = _legend(most, faintest, zone, rows)
    frame = box_path(ROWS_LEFT, TOP, ROWS_RIGHT - ROWS_LEFT, rows.bottom - TOP)
    return [*shapes, Shape(frame, "frame"), *legend], [*words, *legend_words]


def _box(begin: int, end: int, top: float, height: float) -> str:
    """Return the path of some cells of a date."""
    left, right = (HOURS.at(cell * CELL_S / SECONDS_PER_HOUR) for cell in (begin, end))
    return box_path(left, top, right - left, height)


def _is_lit(table: Table, zone: Zone | None) -> Bools:
    """Return in which cells some lamp gives light, even if it is too faint for a grey."""
    lamps = list(table.channels.values())
    if zone is not None:
        lamps = [c for c, full in table.zones[zone.id].limit_sources if full]
    lit = np.any([c.replay.light > 0 for c in lamps], axis=0)
    cells: Bools = lit.reshape(-1, CELL_S).any(axis=1)
    return cells


def _grey(light: Floats, most: float) -> Ints:
    """Return the grey of each light: 0 for none, then even steps up to the most."""
    lit = light > min(NIGHT_PPFD_UMOL_M2_S, most / 1000)
    return np.where(lit, np.clip(np.ceil(light / most * GREYS), 1, GREYS), 0).astype(np.int64)


def _runs(grey: Ints) -> Iterator[tuple[int, int]]:
    edges = [0, *(np.flatnonzero(np.diff(grey)) + 1).tolist(), len(grey)]
    yield from itertools.pairwise(edges)


def _legend(
    most: float, faintest: float, zone: Zone | None, rows: _Rows
) -> tuple[list[Shape], list[Words]]:
    """Return the scale of greys under the rows, and the most light of what is too faint for them."""
    y, size = rows.bottom + 8, 14.0
    shapes, words = [], []
    for number in range(1, GREYS + 1):
        box = box_path(ROWS_LEFT + (number - 1) * size, y, size, 8)
        shapes += [Shape(box, f"grey-{number}"), Shape(box, "frame")]
    words.append(Words(ROWS_LEFT - 4, y + 7.5, "0", "end"))
    unit = "µmol m⁻² s⁻¹" if zone else "of full, summed"
    text = f"{number_text(most, 0 if most >= 10 else 1)} {unit}"
    words.append(Words(ROWS_LEFT + GREYS * size + 4, y + 7.5, text))
    if faintest:
        y += FAINT_BELOW
        box = box_path(ROWS_LEFT, y, size, 8)
        shapes += [Shape(box, "faint"), Shape(box, "frame")]
        words.append(Words(ROWS_LEFT + size + 4, y + 7.5, f"faint, to {faintest:.2g} {unit}"))
    return shapes, words


def _dates(rows: _Rows) -> tuple[list[Shape], list[Words]]:
    """Return the names of months, or of dates where there are few."""
    shapes, words, last = [], [], -LABEL_GAP
    by_month = rows.span.days > 45
    for date in rows.span:
        y = rows.at(date)
        if by_month and date.day != 1 and date != rows.span.first:
            continue
        if by_month and date.day == 1:
            shapes.append(line(ROWS_LEFT - 4, y, ROWS_LEFT, y, "axis"))
        if y - last >= LABEL_GAP:
            text = month_text(date) if by_month else f"{date:%m-%d}"
            words.append(Words(ROWS_LEFT - 6, y + 8, text, "end"))
            last = y
    return shapes, words


def _twilight(program: Program, rows: _Rows) -> tuple[list[Shape], list[Words]]:
    """Return dawn, sunrise, sunset and dusk of the sky that the plan follows, as thin lines."""
    from photoperiod.sky.moon import FIRST_YEAR, LAST_YEAR

    span = rows.span
    if program.schedule.place is None or not (
        FIRST_YEAR < span.first.year <= span.last.year < LAST_YEAR
    ):
        return [], []
    days = DayCurves(program.schedule)
    lines = ["".join(map(line_path, _event_runs(days, name, rows))) for name in TWILIGHT]
    # A wider line in the colour of the ground lets them be seen on dark greys too.
    return [Shape(d, look) for d in lines for look in ("twilight-edge", "twilight")], []


def _event_runs(days: DayCurves, name: str, rows: _Rows) -> Iterator[list[tuple[float, float]]]:
    """Return where an event stands on each date, by the controller's clock, in runs without a jump."""
    run: list[tuple[float, float]] = []
    last = 0
    for date in rows.span:
        sky = days.sky_on(date)
        begin, end = days.controller_clock.day_bounds(date)
        seconds = [days.controller_clock.wall_of(u)[1] for u in sky.instants(name, begin, end)]
        if run and (len(seconds) != 1 or abs(seconds[0] - last) > JUMP_S):
            yield run
            run = []
        if len(seconds) == 1:
            last = seconds[0]
            run.append((HOURS.at(last / SECONDS_PER_HOUR), rows.at(date) + rows.height / 2))
    if len(run) > 1:
        yield run


def _loads(program: Program, rows: _Rows) -> tuple[list[Shape], list[Words]]:
    """Return a numbered rule at each load of the controller, or a mark at the edge where they are many.

    Where loads are close, their numbers stand apart, and a thin line leads from each to its rule.
    """
    loads = [load[0].span.first for load in program.loads if load[0].span]
    has_rules = _has_room(len(loads), rows)
    right = ROWS_RIGHT + 3 if has_rules else ROWS_LEFT + 3
    shapes = [line(ROWS_LEFT - 3, rows.at(date), right, rows.at(date), "load") for date in loads]
    if not has_rules:
        return shapes, []
    words = []
    places = apart([rows.at(date) + NUMBER_BELOW for date in loads], LABEL_GAP, rows.bottom)
    for number, (date, y) in enumerate(zip(loads, places, strict=True), start=1):
        lead = [(ROWS_RIGHT + 3, rows.at(date)), (NUMBERS_LEFT - 1, y - NUMBER_BELOW / 2)]
        shapes.append(Shape(line_path(lead), "load"))
        words.append(Words(NUMBERS_LEFT, y, str(number), "load-number"))
    return shapes, words


def _has_room(loads: int, rows: _Rows) -> bool:
    """Return whether the numbers of so many loads can stand one below the other."""
    return loads * LABEL_GAP <= rows.bottom - TOP


def _clock_changes(program: Program, rows: _Rows) -> tuple[list[Shape], list[Words]]:
    """Return a notch in both edges of the rows where a clock changes."""
    shapes = []
    for _, change in program.clock_changes:
        date = change.at.date()
        if not rows.span.first <= date <= rows.span.last:
            continue
        y = rows.at(date)
        for edge, into in ((ROWS_LEFT, 7.0), (ROWS_RIGHT, -7.0)):
            notch = line_path([(edge, y - 4), (edge + into, y), (edge, y + 4)])
            shapes.append(Shape(notch, "notch"))
    return shapes, []


def _doses(program: Program, rows: _Rows) -> tuple[list[Shape], list[Words]]:
    """Return the dose of each zone on each date as a line from the top down."""
    ids = list(program.schedule.zones)
    if not ids:
        return [], []
    dated = _by_date(program)
    most = max(max(z.dli.replay, z.dli_at_end) for _, t in dated for z in t.zones.values())
    x = Scale(0.0, top_of(most), DOSE_LEFT, DOSE_RIGHT)
    shapes = _side_axis(x, rows, ticks(x.high, 2))
    words = [Words(x.at(v), TOP - 5, number_text(v), "middle") for v in ticks(x.high, 2)]
    words.append(Words(DOSE_LEFT - 8, TOP - 17, "mol m⁻² d⁻¹"))
    for number, id in enumerate(ids):
        places = []
        for span, table in dated:
            zone = table.zones[id]
            top, bottom = rows.at(span.first), rows.at(span.last) + rows.height
            places += [(x.at(zone.dli.replay), top), (x.at(zone.dli_at_end), bottom)]
        shapes.append(Shape(line_path(places), f"zone-{min(number, 3)}"))
    return shapes, words


def _nights(program: Program, zone: Zone | None, rows: _Rows) -> tuple[list[Shape], list[Words]]:
    """Return the night of the drawn zone on each date, and what it needs at least."""
    if zone is None:
        return [], []
    x = Scale(0.0, 24.0, NIGHT_LEFT, NIGHT_RIGHT)
    shapes = _side_axis(x, rows, (0.0, 12.0, 24.0))
    words = [Words(x.at(h), TOP - 5, number_text(h), "middle") for h in (0.0, 12.0, 24.0)]
    words.append(Words(NIGHT_RIGHT, TOP - 17, "night, h", "end"))
    places = []
    for span, table in _by_date(program):
        hours = table.zones[zone.id].night_s / SECONDS_PER_HOUR
        top, bottom = rows.at(span.first), rows.at(span.last) + rows.height
        places += [(x.at(hours), top), (x.at(hours), bottom)]
    shapes.append(Shape(line_path(places), "zone-0"))
    needed = x.at(zone.dark_hours_min)
    shapes.append(line(needed, TOP, needed, rows.bottom, "limit"))
    return shapes, words


def _side_axis(x: Scale, rows: _Rows, values: Sequence[float]) -> list[Shape]:
    return [line(x.at(value), TOP, x.at(value), rows.bottom, "grid") for value in values]


def _by_date(program: Program) -> list[tuple[DateSpan, Table]]:
    return [(table.span, table) for table in program.tables if table.span]


def _caption(program: Program, zone: Zone | None, rows: _Rows, *, has_faint: bool) -> str:
    """Return how to read it, and which line is which zone."""
    parts = ["The more ink, the more light."]
    if has_faint:
        parts.append("Dots are light that is too faint for that, such as a moon.")
    if program.schedule.place is not None:
        parts.append("Thin lines: dawn, sunrise, sunset and dusk of the sky.")
    if program.loads:
        has_rules = _has_room(len(program.loads), rows)
        parts.append(
            "A rule with a number is a load." if has_rules else "A mark at the left edge is a load."
        )
    if program.clock_changes:
        parts.append("A notch is a change of clocks.")
    looks = ("whole", "dashed", "dotted")
    names = [safe(z.label) for z in program.schedule.zones.values()]
    if len(names) > 1:
        told = [f"{n} {look}" for n, look in zip(names, looks, strict=False)]
        told += ["others thin"] if len(names) > len(looks) else []
        parts.append(f"Doses: {', '.join(told)}.")
    if zone is not None:
        parts.append(f"The night is that of {safe(zone.label)}, the rule beside it what it needs.")
    return " ".join(parts)


def _numbers(program: Program) -> Numbers:
    """Return the doses and nights of each run of dates, a row for each."""
    zones: Mapping[str, Zone] = program.schedule.zones
    rows = []
    for span, table in _by_date(program):
        cells = [dates_text(span)]
        for id in zones:
            cells += [_dose_text(table.zones[id]), hours_text(table.zones[id].night_s)]
        if not zones:
            cells.append(f"{sum(c.full_light_hours.replay for c in table.channels.values()):.2f}")
        rows.append(tuple(cells))
    heads = [word for z in zones.values() for word in (safe(z.label), "night")]
    return Numbers(
        caption="Dose, in mol m⁻² d⁻¹, and night of each date",
        head=("dates", *(heads or ["full-light hours of all channels"])),
        rows=tuple(rows),
    )


def _dose_text(zone: ZoneDay) -> str:
    first, last = f"{zone.dli.replay:.2f}", f"{zone.dli_at_end:.2f}"
    return first if first == last else f"{first} to {last}"
