"""Reading and printing of lengths, money and areas, held against the standard library's `decimal`."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockplan.domain.units import metres, money, parse_length, parse_money, size, square_metres
from stockplan.errors import StockplanError, UnitError

lengths = st.integers(0, 10_000_000)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("3.6", 3600),
        ("3.625", 3625),
        (" 3.625 m ", 3625),
        ("3.6M", 3600),
        (".5", 500),
        ("4", 4000),
        ("4.0000", 4000),
        ("0", 0),
        ("3600mm", 3600),
        ("3600 mm", 3600),
        ("360cm", 3600),
        ("362.5 cm", 3625),
        ("3m60", 3600),
        ("3m05", 3050),
    ],
)
def test_lengths_as_people_write_them(text: str, millimetres: int) -> None:
    assert parse_length(text) == millimetres


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("3,6", "write 3.6"),
        ("3,625 m", "write 3.625"),
        ("3.6255", "at most three decimals"),
        ("-3.6", "write metres"),
        ("+3.6", "write metres"),
        ("1e3", "write metres"),
        ("nan", "write metres"),
        ("inf", "write metres"),
        ("", "write metres"),
        ("3m6", "write metres"),
        ("3m605", "write metres"),
        ("3.6.1", "write metres"),
        ("12ft", "write metres"),
        ("٣.٦", "write metres"),  # digits of another script
        ("362.55cm", "write metres"),
        ("3.5mm", "write metres"),
    ],
)
def test_lengths_that_cannot_be_read_are_shown_with_a_remedy(text: str, remedy: str) -> None:
    with pytest.raises(UnitError, match=remedy) as raised:
        parse_length(text)
    assert repr(text) in str(raised.value)
    assert isinstance(raised.value, StockplanError)


@given(lengths)
def test_a_length_reads_the_same_in_every_notation(millimetres: int) -> None:
    exact = Decimal(millimetres) / 1000
    for text in (
        str(exact),
        f"{exact:.3f}",
        f"{exact:.3f} m",
        f"{millimetres}mm",
        f"{Decimal(millimetres) / 10:.1f}cm",
    ):
        assert parse_length(text) == millimetres


@given(st.decimals(0, 100_000, places=4, allow_nan=False))
def test_reading_a_length_never_rounds(number: Decimal) -> None:
    text = f"{number:f}"
    if number * 1000 == (number * 1000).to_integral_value():
        assert Decimal(parse_length(text)) == number * 1000
    else:
        with pytest.raises(UnitError, match="finer than a millimetre"):
            parse_length(text)


@pytest.mark.parametrize(
    ("text", "pence"), [("1100", 110_000), ("1100.5", 110_050), ("0.07", 7), (".07", 7), (" 1 ", 100)]
)
def test_amounts(text: str, pence: int) -> None:
    assert parse_money(text) == pence


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("11,50", "write 11.50"),
        ("1,100", "plain number"),
        ("1.005", "at most two decimals"),
        ("-5", "plain number"),
        ("£5", "plain number"),
        ("1e3", "plain number"),
        ("nan", "plain number"),
        ("", "plain number"),
    ],
)
def test_amounts_that_cannot_be_read_are_shown_with_a_remedy(text: str, remedy: str) -> None:
    with pytest.raises(UnitError, match=remedy):
        parse_money(text)


@given(st.decimals(0, 10_000_000, places=3, allow_nan=False))
def test_reading_an_amount_never_rounds(number: Decimal) -> None:
    text = f"{number:f}"
    if number * 100 == (number * 100).to_integral_value():
        assert Decimal(parse_money(text)) == number * 100
    else:
        with pytest.raises(UnitError, match="finer than a penny"):
            parse_money(text)


@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    for parse in (parse_length, parse_money):
        try:
            value = parse(text)
        except UnitError:
            value = 0  # refused; anything but this error would fail the test
        assert value >= 0


@pytest.mark.parametrize(
    ("millimetres", "decimals", "text"),
    [
        (3600, 2, "3.60"),
        (3625, 2, "3.625"),
        (4000, 0, "4"),
        (3600, 0, "3.600"),
        (3600, 1, "3.6"),
        (0, 2, "0.00"),
        (-50, 2, "-0.05"),
    ],
)
def test_metres(millimetres: int, decimals: int, text: str) -> None:
    assert metres(millimetres, decimals) == text


@given(st.integers(-10_000_000, 10_000_000), st.integers(0, 3))
def test_printing_a_length_hides_nothing(millimetres: int, decimals: int) -> None:
    assert Decimal(metres(millimetres, decimals)) * 1000 == millimetres


@given(st.integers(-(10**12), 10**12))
def test_money_prints_as_the_standard_library_does(pence: int) -> None:
    assert money(pence) == f"{Decimal(pence) / 100:,.2f}"


@given(st.integers(0, 10**13))
def test_an_area_is_rounded_half_up_to_a_tenth(square_millimetres: int) -> None:
    exact = Decimal(square_millimetres) / 1_000_000
    assert square_metres(square_millimetres) == str(exact.quantize(Decimal("0.1"), ROUND_HALF_UP))


def test_sizes_are_across_then_along() -> None:
    assert size(4000, 12_345) == "4.00 × 12.345"
    assert square_metres(50_000) == "0.1"
    assert square_metres(49_999) == "0.0"
