"""What the table files of a program hold, as values."""

from __future__ import annotations

from photoperiod.formats.contents import contents_of
from photoperiod.program.model import Program
from tests.conftest import SCHEDULE, compiled


def test_contents_hold_the_rows_of_every_table_and_channel(
    march: tuple[Program, dict[str, bytes]],
) -> None:
    program, _ = march
    value = contents_of(program, [])
    # the example burns tubes in on 2 and 3, 9 and 10 March: five tables in all
    assert [(t.from_date.day, t.to_date.day) for t in value.tables if t.from_date and t.to_date] == [
        (1, 1), (2, 3), (4, 8), (9, 10), (11, 31),
    ]  # fmt: skip
    for table, made in zip(value.tables, program.tables, strict=True):
        assert list(table.channels) == list(value.about.channels)
        for id, channel in table.channels.items():
            assert channel.rows == tuple(made.channels[id].fit.rows)
    assert value.tables[1].channels["blue"].role == "full"


def test_a_program_of_no_date_has_one_table_of_no_date() -> None:
    (table,) = contents_of(compiled(SCHEDULE).program, []).tables
    assert (table.from_date, table.to_date) == (None, None)
    certificate = table.channels["blue"].certificate
    assert certificate is not None and certificate["error_percent"] >= certificate["bound_percent"]
