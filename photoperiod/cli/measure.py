"""``photoperiod measure``: a grid to measure on, and what readings tell. Nothing edits a schedule."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from photoperiod.cli.loading import exit_code, load_file, read_file, refused, wants_colour
from photoperiod.cli.options import Number, colour_option

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from photoperiod.arrays import Floats
    from photoperiod.readings.extent import Extent
    from photoperiod.readings.faults import Faults
    from photoperiod.readings.model import Readings
    from photoperiod.readings.photon_shares import Spectrum

T = TypeVar("T")

#: Bytes of a file of readings that are looked at: one more than it may have.
MOST_BYTES = 16_777_217

#: What to check if a file can't be read.
WAY_OUT = "check the name; `photoperiod measure grid` writes a file to fill in"


@click.group("measure")
def measure_command() -> None:
    """Turn what you measure at the tank into lines for a schedule."""


strict_option = click.option("--strict", is_flag=True, help="Warnings fail too (exit code 1).")

form_option = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    help="How to print it; json holds what was found on the file, too.",
)


@measure_command.command("grid")
@click.option("--length-cm", type=Number(10, 2000), required=True, help="Longer side. Unit: cm.")
@click.option("--width-cm", type=Number(10, 2000), required=True, help="Other side. Unit: cm.")
@click.option(
    "--water-cm", type=Number(5, 1000), required=True, help="Depth of the water. Unit: cm."
)
@click.option("--depths", type=click.IntRange(1, 20), default=5, show_default=True,
              help="At how many depths, evenly from near the surface to near the bottom.")  # fmt: skip
@click.option("--channel", "channels", multiple=True, required=True, metavar="ID",
              help="A channel to measure; can be repeated.")  # fmt: skip
@click.option(
    "--format",
    "form",
    type=click.Choice(["sheet", "csv", "json"]),
    default="sheet",
    help="A sheet to print, the CSV file that `measure map` reads when it is filled in, or the points.",
)
def grid_command(
    length_cm: float,
    width_cm: float,
    water_cm: float,
    depths: int,
    channels: tuple[str, ...],
    form: str,
) -> int:
    """Print the points on which to measure a tank.

    The spacing is that of EN 12464-1, which is about rooms: it is borrowed. Points that lie under
    tubes and between them are both among them, if the tubes are not as far apart as the points.
    """
    from photoperiod.readings.grid import even_depths, grid_csv, grid_sheet, measuring_grid

    grid = measuring_grid(length_cm, width_cm, even_depths(water_cm, depths))
    if form == "json":
        from photoperiod.report.readings_json import grid_data, render_readings_json

        click.echo(render_readings_json("grid", grid_data(grid, channels)), nl=False)
        return 0
    render = grid_csv if form == "csv" else grid_sheet
    click.echo(render(grid, channels), nl=False)
    return 0


@measure_command.command("map")
@click.argument("file")
@click.option(
    "--schedule",
    metavar="SCHEDULE",
    help="A schedule that knows the zones, and the curves of ballasts for readings below full.",
)
@click.option("--lux-per-umol", "worths", type=(str, Number(0.5, 150)), multiple=True,
              metavar="CHANNEL NUMBER", help="For readings in lux: how many lux 1 µmol m⁻² s⁻¹ of a channel"
              " is, as `measure lux` tells it; can be repeated.")  # fmt: skip
@form_option
@strict_option
@colour_option
def map_command(
    file: str,
    schedule: str | None,
    worths: tuple[tuple[str, float], ...],
    form: str,
    strict: bool,
    color: str,
) -> int:
    """Tell what each channel gives to each zone, by the readings in FILE ('-' is standard input)."""
    if file == "-" and schedule == "-":
        raise click.UsageError("only one of FILE and --schedule can be standard input")
    from photoperiod.readings.fall_off import fall_off_of_channel
    from photoperiod.readings.light_map import at_full_only
    from photoperiod.readings.lines import Meant, lines_of
    from photoperiod.readings.read_map import Names, read_map
    from photoperiod.report.readings import map_text
    from photoperiod.report.readings_json import map_data

    light_at, names = at_full_only, None
    zones: Mapping[str, Extent] = {}
    beyond: list[str] = []
    if schedule is not None:
        from photoperiod.api import ScheduleError

        try:
            loaded = load_file(schedule).schedule
        except ScheduleError as fault:
            return refused(fault, color)
        names = Names(loaded.channels, loaded.zones)
        zones = {id: zone.extent for id, zone in loaded.zones.items()}
        beyond = [id for id, channel in loaded.channels.items() if channel.beyond_readings]
        curves = {id: channel.ballast.curve for id, channel in loaded.channels.items()}

        def light_at(channel: str, volts: Floats) -> Floats:
            return curves[channel].light_at(volts)

    name, raw = read_file(file, MOST_BYTES, WAY_OUT)
    found = read_map(name, raw, light_at, names)
    answer = None
    if found.readings is not None and found.map is not None:
        if schedule is None:
            zones = dict.fromkeys(zone for zone in found.readings.zones if zone)
        for id, _ in worths:
            if id not in found.map.full:
                raise click.UsageError(
                    f"--lux-per-umol names '{id}', which was not read; the readings have"
                    f" {', '.join(found.map.full)}"
                )
        path = _path_from(schedule, file)
        falls = {
            id: fall_off_of_channel(found.map, id, None) for id in beyond if id in found.map.full
        }
        follow = {id: fall.per_m.value for id, fall in falls.items() if fall}
        meant = Meant(zones=zones, file=path, lux_per_umol=dict(worths), follow=follow)
        told = (found.readings, found.map, meant, lines_of(found.readings, found.map, meant))
        answer = (lambda: map_text(*told, schedule)), (lambda: map_data(*told))
    return _answer("map", name, raw, found.faults, answer, form, strict, color)


def _path_from(schedule: str | None, file: str) -> str | None:
    """Return the path of a file from the folder of a schedule, or from here; None if there is none."""
    folder = Path(schedule).parent if schedule not in (None, "-") else Path()
    with contextlib.suppress(ValueError, OSError):
        path = Path(os.path.relpath(file, folder)).as_posix()
        if file != "-" and "\\" not in path and (folder / path).samefile(file):
            return path
    return None


@measure_command.command("depth")
@click.argument("file")
@click.option("--at-cm", type=Number(0, 1000), help="Tell the light at this depth. Unit: cm.")
@click.option("--beyond", is_flag=True, help="Tell it also above and below what was read.")
@click.option("--height-cm", type=Number(0, 500), help="Of the tubes above the water. Unit: cm.")
@click.option("--tube-length-cm", type=Number(1, 500), help="Lit length of a tube. Unit: cm.")
@click.option("--tube-middle-cm", type=Number(-2000, 2000),
              help="x of the middle of the tubes, which lie along the tank. Unit: cm.")  # fmt: skip
@click.option("--tube-y-cm", type=Number(-2000, 2000), multiple=True,
              help="y of a tube; can be repeated. Unit: cm.")  # fmt: skip
@form_option
@strict_option
@colour_option
def depth_command(
    file: str,
    at_cm: float | None,
    beyond: bool,
    height_cm: float | None,
    tube_length_cm: float | None,
    tube_middle_cm: float | None,
    tube_y_cm: tuple[float, ...],
    form: str,
    strict: bool,
    color: str,
) -> int:
    """Tell how light falls off with depth, by the map in FILE ('-' is standard input).

    Readings alone tell the fall-off in this tank. With height, length and places of the tubes their
    geometry is divided out, and the attenuation of the water is told. All channels of FILE must then
    have their tubes there.
    """
    from photoperiod.readings.fall_off import Fixture, channel_fall_off, light_at_depth
    from photoperiod.readings.light_map import at_full_only
    from photoperiod.readings.read_map import read_map
    from photoperiod.report.readings import depth_text
    from photoperiod.report.readings_json import depth_data

    fixture = None
    sizes = (height_cm, tube_length_cm, tube_middle_cm)
    if any(size is not None for size in sizes) or tube_y_cm:
        if height_cm is None or tube_length_cm is None or tube_middle_cm is None or not tube_y_cm:
            raise click.UsageError(
                "--height-cm, --tube-length-cm, --tube-middle-cm and --tube-y-cm go together"
            )
        fixture = Fixture(
            height_cm=height_cm,
            length_cm=tube_length_cm,
            middle_x_cm=tube_middle_cm,
            tube_y_cm=tube_y_cm,
        )
    name, raw = read_file(file, MOST_BYTES, WAY_OUT)
    found = read_map(name, raw, at_full_only, None)
    told, at_depth = {}, {}
    if found.readings is not None and found.map is not None:
        for channel in found.map.full:
            each = channel_fall_off(found.readings, found.map, channel, fixture, found.faults)
            if each is not None:
                told[channel] = each
                if at_cm is not None:
                    at_depth[channel] = light_at_depth(
                        found.map, channel, at_cm, each, beyond=beyond
                    )
    answer = None
    if told and found.readings is not None:
        readings = found.readings
        answer = (
            (lambda: depth_text(told, at_depth, at_cm)),
            (lambda: depth_data(readings, told, at_depth, at_cm)),
        )
    return _answer("depth", name, raw, found.faults, answer, form, strict, color)


@measure_command.command("lux")
@click.option("--illuminant", metavar="NAME", help="A spectrum of the CIE, such as FL11 or D65.")
@click.option("--led", "led_nm", type=(Number(300, 800), Number(1, 200)), metavar="CENTRE WIDTH",
              help="An LED by its centre and its width at half maximum. Unit: nm.")  # fmt: skip
@click.option("--spectrum", metavar="FILE",
              help="A CSV file with the columns wavelength_nm and power; '-' is standard input.")  # fmt: skip
@click.option("--force", is_flag=True, help="Tell it also where lux tell too little.")
@form_option
@strict_option
@colour_option
def lux_command(
    illuminant: str | None,
    led_nm: tuple[float, float] | None,
    spectrum: str | None,
    force: bool,
    form: str,
    strict: bool,
    color: str,
) -> int:
    """Tell how many lux 1 µmol m⁻² s⁻¹ of a spectrum is; it needs the extra `spectra`.

    Refused for narrow violet, blue and deep red light, because there a few nanometres decide.
    """
    if sum(each is not None for each in (illuminant, led_nm, spectrum)) != 1:
        raise click.UsageError("name one of --illuminant, --led and --spectrum")

    from photoperiod.readings import spectrum as spectra
    from photoperiod.readings.faults import Faults
    from photoperiod.report.readings import lux_text
    from photoperiod.report.readings_json import lux_data

    found: Spectrum | None
    faults, name, raw = Faults(), "the spectrum", b""
    if illuminant is not None:
        found = spectra.illuminant(illuminant)
    elif led_nm is not None:
        found = spectra.led(*led_nm)
    else:
        name, raw = read_file(str(spectrum), MOST_BYTES, "check the name")
        found, faults = spectra.read_spectrum(name, raw)
    worth = None if found is None else spectra.lux_worth(found)
    if worth is not None and not force:
        spectra.refuse_narrow(worth, faults)
    answer = None
    if worth is not None and not faults.has_errors:
        told = worth
        answer = (lambda: lux_text(told)), (lambda: lux_data(told))
    return _answer("lux", name, raw, faults, answer, form, strict, color)


@measure_command.command("sweep")
@click.argument("file")
@form_option
@strict_option
@colour_option
def sweep_command(file: str, form: str, strict: bool, color: str) -> int:
    """Tell the curve of a ballast, by the volts and the light in FILE ('-' is standard input)."""
    from photoperiod.readings.sweep import sweep_of
    from photoperiod.report.readings import sweep_text
    from photoperiod.report.readings_json import sweep_data

    return _told("sweep", file, sweep_of, (sweep_text, sweep_data), form, strict, color)


@measure_command.command("series")
@click.argument("file")
@click.option(
    "--below-percent",
    type=Number(1, 99),
    default=80.0,
    show_default=True,
    help="Tell when light falls below this share of that after 100 h. Unit: %.",
)
@form_option
@strict_option
@colour_option
def series_command(file: str, below_percent: float, form: str, strict: bool, color: str) -> int:
    """Tell how fast tubes fade, by the hours and the light in FILE ('-' is standard input)."""
    from photoperiod.readings.fade import Fade, fade_of
    from photoperiod.report.readings import fade_text
    from photoperiod.report.readings_json import fade_data

    share = below_percent / 100

    def text(readings: Readings, fade: Fade) -> str:
        return fade_text(readings, fade, share)

    def data(readings: Readings, fade: Fade) -> dict[str, Any]:
        return fade_data(readings, fade, share)

    return _told("series", file, fade_of, (text, data), form, strict, color)


def _told(
    use: str,
    file: str,
    tell: Callable[[Readings, Faults], T | None],
    renders: tuple[Callable[[Readings, T], str], Callable[[Readings, T], Mapping[str, Any]]],
    form: str,
    strict: bool,
    color: str,
) -> int:
    """Print what one use of a file of readings tells, and return the exit code."""
    from photoperiod.readings.faults import TooManyFaults
    from photoperiod.readings.reader import read_readings

    name, raw = read_file(file, MOST_BYTES, WAY_OUT)
    readings, faults = read_readings(name, raw, use)
    answer = None
    if readings is not None:
        with contextlib.suppress(TooManyFaults):
            found = tell(readings, faults)
            if found is not None:
                told = readings, found
                answer = (lambda: renders[0](*told)), (lambda: renders[1](*told))
    return _answer(use, name, raw, faults, answer, form, strict, color)


def _answer(
    kind: str,
    name: str,
    raw: bytes,
    faults: Faults,
    answer: tuple[Callable[[], str], Callable[[], Mapping[str, Any]]] | None,
    form: str,
    strict: bool,
    color: str,
) -> int:
    """Print what was found on a file of readings and what it tells, and return the exit code.

    ``answer`` makes what it tells, as text and as data; None if it tells nothing.
    """
    from photoperiod.diagnostics.model import Report
    from photoperiod.report.text import counts_line, render_text

    report = Report(name)
    report.add(faults)
    if form == "json":
        from photoperiod.report.readings_json import render_readings_json

        data = None if answer is None else answer[1]()
        has_file = bool(raw) or kind != "lux"
        about = (name, hashlib.sha256(raw).hexdigest()) if has_file else (None, None)
        click.echo(render_readings_json(kind, data, report, *about), nl=False)
        return exit_code(report, strict)
    if faults or raw:
        lines = re.split(r"\r\n|\n|\r", raw.decode("utf-8-sig", errors="replace"))
        text = render_text(report, lines, colour=wants_colour(color, sys.stderr))
        if text:
            click.echo(text, err=True, color=wants_colour(color, sys.stderr))
        click.echo(counts_line(report), err=True)
    if answer is not None:
        click.echo(answer[0](), nl=False)
    return exit_code(report, strict)
