"""Values of a log."""

from __future__ import annotations

import numpy as np

from photoperiod.compare.log_model import Log, LogRefused, Quantity, Series


def test_the_span_of_a_log_is_that_of_all_its_series() -> None:
    def series(subject: str, *unix_s: float) -> Series:
        return Series(subject, Quantity.VOLTS, np.array(unix_s), np.zeros(len(unix_s)))

    log = Log(
        series={
            ("blue", Quantity.VOLTS): series("blue", 20.0, 30.0),
            ("white", Quantity.VOLTS): series("white", 10.0, 25.0),
        }
    )
    assert log.span_unix_s == (10.0, 30.0)


def test_a_refusal_names_the_file_and_the_way_out() -> None:
    told = LogRefused("day.csv", "it is not text", "give a CSV file").told()
    assert told == (
        "error PHO511: can't read 'day.csv' as a log: it is not text\n  try: give a CSV file"
    )
