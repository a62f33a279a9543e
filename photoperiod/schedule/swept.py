"""The response of a ballast from a file of readings, a sweep."""

from __future__ import annotations

from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.readings_files import ReadingsFiles, found_in
from photoperiod.text import plain_number, short

#: The kind of a response that a file tells.
SWEPT = "swept"

#: Volts and light percent are written with three decimals, as `measure sweep` prints them.
WRITTEN = 0.0006


def swept(
    response: Cursor,
    ends: tuple[float, float, float],
    files: ReadingsFiles,
    findings: Findings,
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the volts [V] and the light [fraction of full] of a sweep from floor to full.

    Parameters
    ----------
    response : Cursor
        The response in the file.
    ends : (float, float, float)
        Floor volts [V], floor light [fraction of full] and full volts [V], as the ballast has them.
    files : ReadingsFiles
        The files that the schedule names.
    findings : Findings
        Findings are added here.

    Raises
    ------
    AlreadyReported
        If the file tells no curve, or one with another floor or full than the ballast.
    """
    from photoperiod.readings.sweep import curve_points, sweep_of

    points = curve_points(found_in(response, "sweep", sweep_of, files, findings))
    volts, light = tuple(v for v, _ in points), tuple(percent / 100 for _, percent in points)
    floor_volts, floor_light, full_volts = ends
    differ = (
        abs(volts[0] - floor_volts) > WRITTEN
        or abs(light[0] - floor_light) * 100 > WRITTEN
        or abs(volts[-1] - full_volts) > WRITTEN
    )
    if differ:
        floor = f"{{volts: {plain_number(volts[0])}, light_percent: {plain_number(points[0][1])}}}"
        name = short(response.text("readings"))
        findings.add(
            "PHO313",
            response.at("readings"),
            f"the sweep in '{name}' has its floor at {plain_number(volts[0])} V with"
            f" {plain_number(points[0][1])} % and is full at {plain_number(volts[-1])} V",
            f"write `floor: {floor}` and `full_volts: {plain_number(volts[-1])}`",
        )
        raise AlreadyReported
    return (floor_volts, *volts[1:-1], full_volts), (floor_light, *light[1:-1], 1.0)
