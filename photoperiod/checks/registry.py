"""The list of all checks. A new check is one file with one function, and one line here."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from photoperiod.checks.bright_moonlight import bright_moonlight
from photoperiod.checks.burn_in_from_dark import burn_in_from_dark
from photoperiod.checks.burn_in_waits import burn_in_waits
from photoperiod.checks.change_beyond_dates import change_beyond_dates
from photoperiod.checks.clock_set_back_lit import clock_set_back_lit
from photoperiod.checks.day_moves_too_far import day_moves_too_far
from photoperiod.checks.dimmed_during_burn_in import dimmed_during_burn_in
from photoperiod.checks.dose_advice import Others, dose_advice
from photoperiod.checks.dose_jumps import dose_jumps
from photoperiod.checks.dose_outside_band import dose_outside_band
from photoperiod.checks.floor_costs_dose import floor_costs_dose
from photoperiod.checks.light_not_held import light_not_held
from photoperiod.checks.limit_not_shown import limit_not_shown
from photoperiod.checks.lit_at_change import lit_at_change
from photoperiod.checks.many_loads import many_loads
from photoperiod.checks.many_starts import many_starts
from photoperiod.checks.measured_tubes_not_told import measured_tubes_not_told
from photoperiod.checks.moon_seldom_shown import moon_seldom_shown
from photoperiod.checks.more_than_controller_holds import more_than_controller_holds
from photoperiod.checks.night_not_dark import night_not_dark
from photoperiod.checks.night_too_short import night_too_short
from photoperiod.checks.older_tubes_assumed import older_tubes_assumed
from photoperiod.checks.part_is_out import part_is_out
from photoperiod.checks.peak_jumps import peak_jumps
from photoperiod.checks.port_overloaded import port_overloaded
from photoperiod.checks.ppfd_above_most import ppfd_above_most
from photoperiod.checks.rises_too_fast import rises_too_fast
from photoperiod.checks.rounding_matters import rounding_matters
from photoperiod.checks.safe_state_too_bright import safe_state_too_bright
from photoperiod.checks.season_strays import season_strays
from photoperiod.checks.short_dark_gap import short_dark_gap
from photoperiod.checks.table_changes_dose import table_changes_dose
from photoperiod.checks.table_strays import table_strays
from photoperiod.checks.trimmed_to_limit import trimmed_to_limit
from photoperiod.checks.tube_overdue import tube_overdue
from photoperiod.checks.undefined_band import undefined_band
from photoperiod.checks.volts_out_of_reach import volts_out_of_reach
from photoperiod.checks.welded_relay import welded_relay
from photoperiod.diagnostics.codes import CODES
from photoperiod.diagnostics.model import Diagnostic
from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule

#: A need that every schedule meets.
MET = ""


def _needs_nothing(_: Schedule) -> str:
    return MET


def _needs_sink_current(schedule: Schedule) -> str:
    is_stated = schedule.controller.sink_milliamps is not None
    return MET if is_stated else "needs controller.port.sink_milliamps"


@dataclass(frozen=True, slots=True)
class Check:
    """One check on a compiled program.

    Parameters
    ----------
    code : str
        The code of its findings; `photoperiod.diagnostics.codes` has their name and severity.
    run : callable
        Yields the findings on a program, in the order of the schedule.
    needs_dates : bool
        True if it says nothing about a day without a date.
    all_tables_at_once : bool
        True if it compares tables with each other, or reads what belongs to no single table. Any
        other check is run once for each table, on a program that holds only this table.
    needs : callable
        Says what the schedule must state before the check can run; ``MET`` if nothing is missing.
    advice : callable or None
        Says what helps against its findings, asked once for all of them; it may try that on the others.
    """

    code: str
    run: Callable[[Program], Iterable[Diagnostic]]
    needs_dates: bool = False
    all_tables_at_once: bool = False
    needs: Callable[[Schedule], str] = _needs_nothing
    advice: Callable[[Program, Others], str] | None = None

    @property
    def name(self) -> str:
        """Readable name of the code."""
        return CODES[self.code].name


#: Every check, in the order of their codes.
CHECKS: tuple[Check, ...] = (
    Check("PHO401", volts_out_of_reach),
    Check("PHO402", ppfd_above_most, all_tables_at_once=True),
    Check("PHO403", night_not_dark),
    Check("PHO404", more_than_controller_holds),
    Check("PHO405", dose_outside_band, all_tables_at_once=True, advice=dose_advice),
    Check("PHO406", dimmed_during_burn_in, needs_dates=True, all_tables_at_once=True),
    Check("PHO407", rises_too_fast),
    Check("PHO408", night_too_short),
    Check("PHO409", floor_costs_dose),
    Check("PHO410", table_strays),
    Check("PHO411", many_starts),
    Check("PHO412", port_overloaded, needs=_needs_sink_current),
    Check("PHO413", undefined_band),
    Check("PHO414", tube_overdue, needs_dates=True, all_tables_at_once=True),
    Check("PHO416", rounding_matters),
    Check("PHO417", short_dark_gap),
    Check("PHO418", table_changes_dose),
    Check("PHO419", burn_in_waits, needs_dates=True, all_tables_at_once=True),
    Check("PHO420", peak_jumps, needs_dates=True, all_tables_at_once=True),
    Check("PHO421", burn_in_from_dark, needs_dates=True, all_tables_at_once=True),
    Check("PHO422", lit_at_change, needs_dates=True, all_tables_at_once=True),
    Check("PHO423", bright_moonlight, all_tables_at_once=True),
    Check("PHO424", moon_seldom_shown, needs_dates=True, all_tables_at_once=True),
    Check("PHO425", clock_set_back_lit, needs_dates=True, all_tables_at_once=True),
    Check("PHO426", season_strays, needs_dates=True, all_tables_at_once=True),
    Check("PHO427", safe_state_too_bright),
    Check("PHO428", trimmed_to_limit),
    Check("PHO429", welded_relay),
    Check("PHO430", limit_not_shown, all_tables_at_once=True),
    Check("PHO431", measured_tubes_not_told, all_tables_at_once=True),
    Check("PHO432", many_loads, needs_dates=True, all_tables_at_once=True),
    Check("PHO440", dose_jumps, needs_dates=True, all_tables_at_once=True),
    Check("PHO441", day_moves_too_far, needs_dates=True, all_tables_at_once=True),
    Check("PHO442", change_beyond_dates, needs_dates=True, all_tables_at_once=True),
    Check("PHO443", part_is_out, needs_dates=True, all_tables_at_once=True),
    Check("PHO450", light_not_held, needs_dates=True, all_tables_at_once=True),
    Check("PHO451", older_tubes_assumed, needs_dates=True, all_tables_at_once=True),
)
