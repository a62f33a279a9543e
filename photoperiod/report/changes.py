"""What changes do within the dates of a program, as lines for people."""

from __future__ import annotations

from photoperiod.program.model import ChangedDose, ChangeEffect, Program
from photoperiod.schedule.change_rules import words_of
from photoperiod.text import and_list, number_text

#: Doses below this are none [mol m⁻² d⁻¹].
NO_DOSE = 1e-9

#: What is said of the first date where nothing tells of the day before.
NOT_COMPARED = "The first date is not compared with the day before: {why}."

#: What is said of the doses of dates beside those that were found.
FOUND_WITHOUT_CHANGES = (
    "The doses told for dates are those with the changes;"
    " what a zone asks for was found without them."
)


def change_lines(program: Program) -> list[str]:
    """Return a section on the changes that act on the dates; empty if there are none."""
    if not program.effects:
        return []
    lines = ["CHANGES"]
    for effect in program.effects:
        channels = and_list(effect.change.channels)
        lines.append(f"  {words_of(effect.change)}: {_dates(effect)}, {channels}")
        lines += [
            f"    {zone}: {_doses([doses[zone] for doses in effect.doses.values()])}"
            for zone in program.schedule.zones
        ]
    return lines


def found_beside_changes_line(program: Program) -> list[str]:
    """Return which doses are with changes and which without, where both are told; empty else."""
    if program.schedule.found is None or not program.effects:
        return []
    return [FOUND_WITHOUT_CHANGES]


def first_date_line(program: Program) -> list[str]:
    """Return that the first date is not compared, if that is so; empty else."""
    why = program.no_day_before
    return [] if why is None else [NOT_COMPARED.format(why=why)]


def _dates(effect: ChangeEffect) -> str:
    if effect.first == effect.last:
        return str(effect.first)
    return f"{effect.first} to {effect.last}"


def _doses(doses: list[ChangedDose]) -> str:
    """Return the doses of a zone as a change begins and ends, beside those without it."""
    given = _range([each.given for each in doses])
    without = _range([each.without for each in doses])
    if all(abs(each.given - each.without) < NO_DOSE for each in doses):
        return f"DLI {given} mol/m², as without it"
    shares = [each.given / each.without * 100 for each in doses if each.without > NO_DOSE]
    share = f" ({_range(shares, 0)} %)" if shares else ""
    return f"DLI {given} mol/m² instead of {without}{share}"


def _range(values: list[float], decimals: int = 2) -> str:
    """Return the first and the last of some numbers in words."""
    first, last = number_text(values[0], decimals), number_text(values[-1], decimals)
    return first if first == last else f"{first} to {last}"
