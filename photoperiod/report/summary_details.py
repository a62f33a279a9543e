"""The details of the summary: how close each table is to its plan, what is proven, and who gives what."""

from __future__ import annotations

from photoperiod.program.channel_day import ChannelDay
from photoperiod.program.model import Program, Table
from photoperiod.schedule.guards import unknown_in
from photoperiod.setpoints.fit import Certificate, Method
from photoperiod.text import clock_text, columns, hours_text, number_text
from photoperiod.units import NIGHT_PPFD_UMOL_M2_S


def table_details(program: Program, table: Table, room: int | None = None) -> list[str]:
    """Return what a table is worth, as lines: errors, proofs, roundings, and the doses by channel.

    ``room`` is how many columns a line may take; None if that is not known.
    """
    lines = _channels(program, table, room)
    lines += ["", *proofs(program, table), *_guards(table), *_roundings(program, table)]
    if table.zones:
        lines += ["", *_zones(table, room)]
    return lines


def _channels(program: Program, table: Table, room: int | None) -> list[str]:
    held = program.schedule.controller.setpoints_per_channel
    rows = [
        (
            id,
            f"{len(c.fit.rows)} of {held}",
            f"{number_text(c.fit.worst_light_error * 100, 1)} % at {clock_text(c.fit.worst_second)}",
            f"{c.full_light_hours.replay:.2f} ({c.full_light_hours.plan:.2f})",
            f"{hours_text(c.lit_seconds)} ({hours_text(c.reachable_lit_seconds)})",
            hours_text(c.longest_dark_s),
            str(c.starts),
        )
        for id, c in table.channels.items()
    ]
    head = (
        "channel",
        "rows",
        "worst light error",
        "full-light h (plan)",
        "photoperiod (plan)",
        "longest dark",
        "starts",
    )
    return columns(head, rows, room)


def proofs(program: Program, table: Table) -> list[str]:
    """Return what is proven of the rows, a sentence for each channel, or one for all that share times."""
    held = program.schedule.controller.setpoints_per_channel
    fits = [c.fit for c in table.channels.values()]
    first = fits[0].certificate
    if first.joint_error is not None:
        rows = max(len(fit.rows) for fit in fits)
        return [_joint_proof(first, held, rows) + _not_closest(first)]
    return [_proof(id, c, held) for id, c in table.channels.items()]


def _proof(id: str, c: ChannelDay, held: int) -> str:
    """Return what is proven of a channel's table, in a sentence."""
    proof = c.fit.certificate
    if c.fit.method != "exact":
        how = {
            Method.COARSER_TIMES: "rows on a coarser grid of times",
            Method.BEST_FOUND: "rows of a search that ran out of work",
        }
        return (
            f"{id}: {how.get(c.fit.method, 'rows by line simplification')}; worst error"
            f" {number_text(proof.error * 100)} %, not proven to be the best; no table of {held} rows"
            f" has less than {number_text(proof.bound * 100)} %"
        )
    worst = number_text(proof.error * 100)
    bound = number_text(proof.bound * 100)
    text = (
        f"{id}: worst error {worst} % at samples {proof.sample_s} s apart; no table of {held} rows"
    )
    text += f" has less than {bound} %"
    text += _not_closest(proof)
    reaches_floor = proof.floor_rows is not None and len(c.fit.rows) >= proof.floor_rows
    if proof.half_rows is not None and not reaches_floor:
        text += f"; {proof.half_rows} rows would halve it"
    return text + _floor_words(proof, len(c.fit.rows))


def _floor_words(proof: Certificate, rows: int) -> str:
    """Return how many rows lower the worst error, and what any rows beyond them are for."""
    if proof.floor_rows is None:
        return ""
    text = f"; more than {proof.floor_rows} rows lower it no further"
    if rows <= proof.floor_rows:
        return text
    return text + " (the others bring the day closer in the mean, or guard against a welded relay)"


def _not_closest(proof: Certificate) -> str:
    """Return that the second objective was not searched to its end, nothing if it was."""
    if proof.is_closest:
        return ""
    return (
        "; which of the tables within 5 % of it is closest in the mean took too much work to find"
    )


def _guards(table: Table) -> list[str]:
    """Return what guard rows cost, a sentence for each channel that they cost a row."""
    lines = []
    for id, c in table.channels.items():
        without = c.fit.error_without_guard
        if without is None:
            continue
        what, it = (
            (
                "a row of level 0 before the lamp lights keeps it at its floor if its relay is welded",
                "it",
            )
            if c.fit.has_guard_rows
            else ("its times have such a row for another channel", "that one")
        )
        lines.append(
            f"{id}: {what}; without {it} the worst error were {number_text(without * 100)} % at samples"
        )
    return lines


def _joint_proof(proof: Certificate, held: int, rows: int) -> str:
    """Return what is proven of all channels that share their times, in a sentence."""
    joint, bound = proof.joint_error or 0.0, proof.joint_bound or 0.0
    if joint == 0.0:
        text = (
            "all channels together: the worst error is the least of any number of rows, at samples"
            f" {proof.sample_s} s apart"
        )
    else:
        text = (
            f"all channels together: worst error {number_text(joint * 100)} % of a channel's peak at"
            f" samples {proof.sample_s} s apart; no column of {held} times has less than"
            f" {number_text(bound * 100)} %"
        )
    if joint and proof.half_rows is not None:
        text += f"; {proof.half_rows} rows would halve it"
    return text + _floor_words(proof, rows)


def _roundings(program: Program, table: Table) -> list[str]:
    """Return how much light changes if the controller rounds in another usual way."""
    worst = {id: max(c.rounding_errors.values(), default=0.0) for id, c in table.channels.items()}
    listed = ", ".join(f"{id} {number_text(error * 100)} %" for id, error in worst.items())
    rounding = program.schedule.controller.levels.rounding
    return [
        f"if the controller does not round {rounding}, light changes by at most: {listed} of full"
    ]


def _zones(table: Table, room: int | None) -> list[str]:
    rows = []
    for id, z in table.zones.items():
        band = z.zone.dli_band
        unknown = unknown_in(z.zone, (c.channel for c in table.channels.values()))
        limit = "-" if z.zone.ppfd_max is None else number_text(z.zone.ppfd_max)
        if unknown and z.zone.ppfd_max is not None:
            limit += " (not shown to be kept)"
        shares = ", ".join(
            f"{name} unknown" if name in unknown else f"{name} {c.dli[id].replay:.2f}"
            for name, c in table.channels.items()
        )
        rows.append(
            (
                id,
                f"{z.dli.replay:.2f} ({z.dli.plan:.2f})",
                "-" if band is None else f"{number_text(band[0])} to {number_text(band[1])}",
                f"{number_text(z.peak_ppfd, 1)} at {clock_text(z.peak_second)}",
                limit,
                hours_text(z.night_s),
                shares,
            )
        )
    head = (
        "zone",
        "DLI (plan) mol/m²",
        "band",
        "peak PPFD µmol/m²s",
        "limit",
        f"night below {NIGHT_PPFD_UMOL_M2_S}",
        "DLI by channel",
    )
    return columns(head, rows, room)
