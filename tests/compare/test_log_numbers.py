"""Numbers and relay states in the cells of a log."""

from __future__ import annotations

import pytest

from photoperiod.compare.log_model import DecimalMark, LogRefused, Quantity
from photoperiod.compare.log_numbers import Beyond, Numbers


def numbers(decimal: DecimalMark | None = None, **words: bool) -> Numbers:
    return Numbers("day.csv", decimal, words)


@pytest.mark.parametrize(
    ("cell", "value"),
    [("8.93", 8.93), ("8,93", 8.93), ("0,125", 0.125), ("8", 8.0), ("-0,2", -0.2)],
)
def test_a_decimal_point_or_comma(cell: str, value: float) -> None:
    reader = numbers()
    assert reader.value(Quantity.VOLTS, cell) == value
    reader.refuse_doubt()


@pytest.mark.parametrize(
    ("cells", "shown"),
    [
        (["1,234"], "'1,234' may have"),  # 1.234 V, or 1234 of something
        (["8,93", "8.93"], "'8,93' beside '8.93' may have"),
        (["5,120", "4.5"], "'5,120' beside '4.5' may have"),
    ],
)
def test_what_a_file_does_not_settle_is_asked(cells: list[str], shown: str) -> None:
    reader = numbers()
    for cell in cells:
        reader.value(Quantity.VOLTS, cell)
    with pytest.raises(LogRefused) as refusal:
        reader.refuse_doubt()
    assert (
        shown in str(refusal.value) and "--decimal comma or --decimal point" in refusal.value.help
    )


def test_a_comma_is_settled_by_others_of_the_file_or_by_the_caller() -> None:
    reader = numbers()
    assert [reader.value(Quantity.VOLTS, cell) for cell in ("1,234", "8,9")] == [1.234, 8.9]
    reader.refuse_doubt()
    told = numbers(DecimalMark.COMMA)
    assert told.value(Quantity.VOLTS, "1,234") == 1.234
    told.refuse_doubt()
    with pytest.raises(ValueError):
        told.value(Quantity.MILLIVOLTS, "1.234")  # a point between thousands
    with pytest.raises(ValueError):
        numbers(DecimalMark.POINT).value(Quantity.MILLIVOLTS, "1,234")


@pytest.mark.parametrize("cell", ["", "x", "8,9,3", "1.234,5", "nan", "inf", "8 V", "1,234.5"])
def test_what_is_no_number(cell: str) -> None:
    with pytest.raises(ValueError):
        numbers().value(Quantity.VOLTS, cell)


@pytest.mark.parametrize(
    ("quantity", "most"),
    [(Quantity.VOLTS, 12.0), (Quantity.MILLIVOLTS, 12_000.0), (Quantity.PPFD, 5000.0)],
)
def test_the_most_and_the_least_that_a_quantity_can_be(quantity: Quantity, most: float) -> None:
    reader = numbers()
    assert reader.value(quantity, f"{most}") == most
    assert reader.value(quantity, f"{-0.05 * most}") == -0.05 * most
    for value in (most * 1.001, -0.051 * most):
        with pytest.raises(Beyond) as fault:
            reader.value(quantity, f"{value}")
        assert fault.value.value == pytest.approx(value)


@pytest.mark.parametrize(
    ("cell", "value"), [("on", 1), ("CLOSED", 1), ("True", 1), ("off", 0), ("open", 0), ("0.0", 0)]
)
def test_words_for_a_relay(cell: str, value: float) -> None:
    assert numbers().value(Quantity.RELAY, cell) == value


@pytest.mark.parametrize("cell", ["HIGH", "low", "H"])
def test_the_level_of_a_pin_is_asked_for(cell: str) -> None:
    """Many relay boards close at the low level of their pin."""
    with pytest.raises(LogRefused) as refusal:
        numbers().value(Quantity.RELAY, cell)
    assert f"a relay is '{cell}'" in str(refusal.value)
    assert f"--relay-word {cell.upper()}=closed" in refusal.value.help


def test_one_word_of_a_pair_settles_the_other() -> None:
    low_closes = numbers(low=True)
    assert [low_closes.value(Quantity.RELAY, cell) for cell in ("LOW", "High")] == [1, 0]
    high_closes = numbers(high=True)
    assert [high_closes.value(Quantity.RELAY, cell) for cell in ("LOW", "High")] == [0, 1]
    inverted = numbers(**{"0": True})
    assert [inverted.value(Quantity.RELAY, cell) for cell in ("0", "1", "on")] == [1, 0, 1]
    own = numbers(ligado=True)
    assert own.value(Quantity.RELAY, "Ligado") == 1
    with pytest.raises(ValueError):
        own.value(Quantity.RELAY, "desligado")  # not told: no guess
