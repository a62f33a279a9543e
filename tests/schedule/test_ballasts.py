from __future__ import annotations

import pytest

from photoperiod.diagnostics.model import Path
from photoperiod.drive.ballast import BelowFloor, DarkKind, ResponseKind
from photoperiod.schedule.ballasts import build_ballast, meet_ballasts
from photoperiod.schedule.controller import build_controller
from photoperiod.schedule.cursor import AlreadyReported
from photoperiod.schedule.model import Ballast, Watts
from photoperiod.schedule.readings_files import ReadingsFiles
from tests.conftest import changed
from tests.schedule.bench import findings_of, told, top_of

RESPONSE, DARK = "response: {kind: square-law}", "dark: {kind: relay}"
AT = ("ballasts", "pair")


def build(*changes: tuple[str, str]) -> tuple[Ballast | None, list[tuple[str, Path]]]:
    """Return the ballast, and the findings on it and on what the controller makes of it."""
    top = top_of(changed(*changes))
    findings = findings_of(top)
    controller = build_controller(top, findings)
    try:
        ballast = build_ballast(
            "pair", top.child("ballasts").child("pair"), ReadingsFiles({}, findings), findings
        )
    except AlreadyReported:
        return None, [(code, path[2:]) for code, path in told(findings)]
    meet_ballasts(controller, {"pair": ballast, "faulty": None}, findings)
    return ballast, [(code, path[2:] if path[:2] == AT else path) for code, path in told(findings)]


def measured(*points: tuple[float, float]) -> tuple[str, str]:
    listed = ", ".join(f"{{volts: {volts}, light_percent: {light}}}" for volts, light in points)
    return RESPONSE, f"response: {{kind: measured, points: [{listed}]}}"


def test_a_ballast_as_it_is_written() -> None:
    watts = "below_floor: nearest\n    watts: {full: 118, floor: 25}"
    ballast, found = build(("below_floor: nearest", watts))
    assert ballast is not None and found == []
    curve = ballast.curve
    assert (curve.kind, curve.dark) == (ResponseKind.SQUARE_LAW, DarkKind.RELAY)
    assert curve.below_floor is BelowFloor.NEAREST
    assert (curve.floor_volts, curve.floor_light, curve.full_volts) == (1.0, 0.01, 10.0)
    assert ballast.watts == Watts(full=118.0, floor=25.0, dark=0.0)
    assert ballast.label == "pair" and ballast.control_milliamps == 2.0


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ([("volts: 1.0,", "volts: 10.0,")], [("PHO308", ("floor", "volts"))]),
        ([("light_percent: 1}", "light_percent: 100}")], [("PHO308", ("floor", "light_percent"))]),
        ([(DARK, "dark: {kind: standby, below_volts: 1.1}")], [("PHO309", ("dark", "below_volts"))]),
        ([(DARK, "dark: {kind: standby, below_volts: 1.0}")], []),
        ([("    below_floor: nearest\n", "")], [("PHO324", ())]),
        ([("    below_floor: nearest\n", ""), (DARK, "dark: {kind: never}")], []),
        (
            [("below_floor: nearest", "below_floor: nearest\n    watts: {full: 25, floor: 26}")],
            [("PHO319", ("watts", "floor"))],
        ),
        ([("relay: {kind: column}", "relay: {kind: none}")], [("PHO307", ("dark",))]),
        ([("most_volts: 10.0", "most_volts: 0.9")], [("PHO314", ("floor", "volts"))]),
        (
            [("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 11}")],
            [("PHO322", ("controller", "relay", "on_level_percent"))],
        ),
        ([("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 10}")], []),
    ],
)  # fmt: skip
def test_what_is_told_of_a_ballast(
    changes: list[tuple[str, str]], found: list[tuple[str, Path]]
) -> None:
    assert build(*changes)[1] == found


@pytest.mark.parametrize(("said", "keeps"), [("", False), (", keeps_mains: true", True)])
def test_a_standby_ballast_keeps_its_mains_only_if_it_is_said(said: str, keeps: bool) -> None:
    ballast, found = build((DARK, f"dark: {{kind: standby, below_volts: 0.8{said}}}"))
    assert found == [] and ballast is not None
    assert ballast.curve.keeps_mains is keeps


@pytest.mark.parametrize(
    ("dark", "place"),
    [
        (DARK, ("floor", "volts")),
        ("dark: {kind: standby, below_volts: 0.8, keeps_mains: true}", ("dark", "below_volts")),
        ("dark: {kind: standby, below_volts: 0.8}", ("floor", "volts")),  # its relay makes it dark
    ],
)
def test_a_port_that_never_comes_low_enough(dark: str, place: Path) -> None:
    # by hand: 1.5 V at code 0, 2 mV a code
    points = "[{code: 0, volts: 1.5}, {code: 4000, volts: 9.5}]"
    converter = f"converter: {{kind: two-point, bits: 12, points: {points}}}"
    old = "converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}"
    assert build((old, converter), (DARK, dark))[1] == [("PHO314", place)]


@pytest.mark.parametrize(
    ("relay", "keeps_mains", "is_refused"),
    [
        ("{kind: column}", "false", False),
        ("{kind: column}", "true", True),
        ("{kind: follows-level, on_level_percent: 9}", "false", False),
        ("{kind: none}", "false", True),
    ],
)
def test_standby_out_of_reach_is_refused_where_no_relay_opens(
    relay: str, keeps_mains: str, is_refused: bool
) -> None:
    # by hand: 0.9 V at code 0, above the standby of 0.8 V and below the floor of 1 V
    points = "[{code: 0, volts: 0.9}, {code: 4000, volts: 9.5}]"
    converter = f"converter: {{kind: two-point, bits: 12, points: {points}}}"
    old = "converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}"
    dark = f"dark: {{kind: standby, below_volts: 0.8, keeps_mains: {keeps_mains}}}"
    found = build((old, converter), (DARK, dark), ("relay: {kind: column}", f"relay: {relay}"))[1]
    assert (("PHO314", ("dark", "below_volts")) in found) is is_refused


@pytest.mark.parametrize(
    ("points", "found"),
    [
        (((1, 1), (5, 40), (10, 100)), []),
        (((1, 1), (5, 40), (5, 50), (10, 100)), [("PHO310", ("points", 2, "volts"))]),
        (((2, 1), (10, 100)), [("PHO313", ("points", 0))]),
        (((1, 1), (9, 100)), [("PHO313", ("points", 1))]),
        (((1, 1), (5, 40), (6, 37), (10, 100)), [("PHO310", ("points", 2, "light_percent"))]),
        (((1, 1), (5, 40), (6, 39), (10, 100)), [("PHO311", ("points",))]),
        (((1, 1), (5, 40), (6, 40), (10, 100)), [("PHO312", ("points", 2, "light_percent"))]),
    ],
)
def test_a_measured_response(
    points: tuple[tuple[float, float], ...], found: list[tuple[str, Path]]
) -> None:
    ballast, told_of_it = build(measured(*points))
    assert told_of_it == [(code, ("response", *path)) for code, path in found]
    assert (ballast is None) is any(code in ("PHO310", "PHO313") for code, _ in found)


def test_a_small_dip_is_levelled_to_its_mean() -> None:
    ballast, _ = build(measured((1, 1), (5, 40), (6, 39), (10, 100)))
    assert ballast is not None
    assert ballast.curve.light == pytest.approx((0.01, 0.395, 0.395, 1.0), rel=1e-12)
