"""``photoperiod measure``: a grid to measure on, and what readings tell. Nothing edits a schedule."""

from __future__ import annotations

import contextlib
import re
import sys
from typing import TYPE_CHECKING, TypeVar

import click

from photoperiod.cli.loading import exit_code, load_file, read_file, refused, wants_colour
from photoperiod.cli.options import Number, colour_option

if TYPE_CHECKING:
    from collections.abc import Callable

    from photoperiod.arrays import Floats
    from photoperiod.readings.extent import Extent
    from photoperiod.readings.faults import Faults
    from photoperiod.readings.model import Readings

T = TypeVar("T")

#: Bytes of a file of readings that are looked at: one more than it may have.
MOST_BYTES = 16_777_217

#: What to check if a file can't be read.
WAY_OUT = "check the name; `photoperiod measure grid` writes a file to fill in"


@click.group("measure")
def measure_command() -> None:
    """Turn what you measure at the tank into lines for a schedule."""


strict_option = click.option("--strict", is_flag=True, help="Warnings fail too (exit code 1).")


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
    type=click.Choice(["sheet", "csv"]),
    default="sheet",
    help="A sheet to print, or the CSV file that `measure map` reads when it is filled in.",
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
@strict_option
@colour_option
def map_command(file: str, schedule: str | None, strict: bool, color: str) -> int:
    """Tell what each channel gives to each zone, by the readings in FILE ('-' is standard input)."""
    if file == "-" and schedule == "-":
        raise click.UsageError("only one of FILE and --schedule can be standard input")
    from photoperiod.readings.light_map import at_full_only
    from photoperiod.readings.read_map import Names, read_map

    light_at, names = at_full_only, None
    zones: dict[str, Extent] = {}
    if schedule is not None:
        from photoperiod.api import ScheduleError

        try:
            loaded = load_file(schedule).schedule
        except ScheduleError as fault:
            return refused(fault, color)
        names = Names(loaded.channels, loaded.zones)
        zones = {id: zone.extent for id, zone in loaded.zones.items()}
        curves = {id: channel.ballast.curve for id, channel in loaded.channels.items()}

        def light_at(channel: str, volts: Floats) -> Floats:
            return curves[channel].light_at(volts)

    name, raw = read_file(file, MOST_BYTES, WAY_OUT)
    found = read_map(name, raw, light_at, names)
    code = _tell(name, raw, found.faults, strict, color)
    if found.readings is None or found.map is None:
        return code

    from photoperiod.report.readings import map_text

    if schedule is None:
        zones = dict.fromkeys(zone for zone in found.readings.zones if zone)
    click.echo(map_text(found.readings, found.map, zones, name), nl=False)
    return code


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
    code = _tell(name, raw, found.faults, strict, color)
    if not told:
        return code

    from photoperiod.report.readings import depth_text

    click.echo(depth_text(told, at_depth, at_cm), nl=False)
    return code


@measure_command.command("lux")
@click.option("--illuminant", metavar="NAME", help="A spectrum of the CIE, such as FL11 or D65.")
@click.option("--led", "led_nm", type=(Number(300, 800), Number(1, 200)), metavar="CENTRE WIDTH",
              help="An LED by its centre and its width at half maximum. Unit: nm.")  # fmt: skip
@click.option("--spectrum", metavar="FILE",
              help="A CSV file with the columns wavelength_nm and power; '-' is standard input.")  # fmt: skip
@click.option("--force", is_flag=True, help="Tell it also where lux tell too little.")
@strict_option
@colour_option
def lux_command(
    illuminant: str | None,
    led_nm: tuple[float, float] | None,
    spectrum: str | None,
    force: bool,
    strict: bool,
    color: str,
) -> int:
    """Tell how many lux 1 µmol m⁻² s⁻¹ of a spectrum is; it needs `photoperiod[spectra]`.

    Refused for narrow violet, blue and deep red light, because there a few nanometres decide.
    """
    if sum(each is not None for each in (illuminant, led_nm, spectrum)) != 1:
        raise click.UsageError("name one of --illuminant, --led and --spectrum")

    from photoperiod.readings import spectrum as spectra
    from photoperiod.readings.faults import Faults
    from photoperiod.report.readings import lux_text

    found: spectra.Spectrum | None
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
    code = _tell(name, raw, faults, strict, color) if faults else 0
    if worth is not None and not faults.has_errors:
        click.echo(lux_text(worth), nl=False)
    return code


@measure_command.command("sweep")
@click.argument("file")
@strict_option
@colour_option
def sweep_command(file: str, strict: bool, color: str) -> int:
    """Tell the curve of a ballast, by the volts and the light in FILE ('-' is standard input)."""
    from photoperiod.readings.sweep import sweep_of

    readings, found, code = _told(file, "sweep", sweep_of, strict, color)
    if readings is None or found is None:
        return code

    from photoperiod.report.readings import sweep_text

    click.echo(sweep_text(readings, found), nl=False)
    return code


@measure_command.command("series")
@click.argument("file")
@click.option(
    "--below-percent",
    type=Number(1, 99),
    default=80.0,
    show_default=True,
    help="Tell when light falls below this share of that after 100 h. Unit: %.",
)
@strict_option
@colour_option
def series_command(file: str, below_percent: float, strict: bool, color: str) -> int:
    """Tell how fast tubes fade, by the hours and the light in FILE ('-' is standard input)."""
    from photoperiod.readings.fade import fade_of

    readings, found, code = _told(file, "series", fade_of, strict, color)
    if readings is None or found is None:
        return code

    from photoperiod.report.readings import fade_text

    click.echo(fade_text(readings, found, below_percent / 100), nl=False)
    return code


def _told(
    file: str, use: str, tell: Callable[[Readings, Faults], T | None], strict: bool, color: str
) -> tuple[Readings | None, T | None, int]:
    """Return the readings of a file, what one use of them tells, and the exit code."""
    from photoperiod.readings.faults import TooManyFaults
    from photoperiod.readings.reader import read_readings

    name, raw = read_file(file, MOST_BYTES, WAY_OUT)
    readings, faults = read_readings(name, raw, use)
    found = None
    if readings is not None:
        with contextlib.suppress(TooManyFaults):
            found = tell(readings, faults)
    return readings, found, _tell(name, raw, faults, strict, color)


def _tell(name: str, raw: bytes, faults: Faults, strict: bool, color: str) -> int:
    """Print what was found on a file of readings on standard error, and return the exit code."""
    from photoperiod.diagnostics.model import Report
    from photoperiod.report.text import counts_line, render_text

    report = Report(name)
    report.add(faults)
    lines = re.split(r"\r\n|\n|\r", raw.decode("utf-8-sig", errors="replace")) if raw else []
    text = render_text(report, lines, colour=wants_colour(color, sys.stderr))
    if text:
        click.echo(text, err=True, color=wants_colour(color, sys.stderr))
    click.echo(counts_line(report), err=True)
    return exit_code(report, strict)
