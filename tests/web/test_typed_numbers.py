from __future__ import annotations

from decimal import Decimal

import pytest
from babel import Locale
from hypothesis import given
from hypothesis import strategies as st

from api.web.locales import money, number
from api.web.typed_numbers import UnreadableNumber, typed_number, wire_number

LOCALES = ["en", "de", "fr", "de_CH", "sv", "pt_BR", "hi", "ar"]
NUMBERS = st.decimals(min_value=-(10**11), max_value=10**11, places=4, allow_nan=False)


@pytest.mark.parametrize(
    ("typed", "locale", "wire"),
    [
        ("27.50", "en", "27.50"),
        ("27,50", "en", "27.50"),
        ("27.50", "de", "27.50"),
        ("27,50", "de", "27.50"),
        ("26.728", "en", "26.728"),
        ("26,728", "de", "26.728"),
        ("0.125", "de", "0.125"),
        ("1,234.50", "de", "1234.50"),
        ("1.234,50", "en", "1234.50"),
        ("1,234,567", "en", "1234567"),
        ("1 234,5", "fr", "1234.5"),
        ("1\u202f234,5", "fr", "1234.5"),
        ("1’234.50", "de_CH", "1234.50"),
        ("\u221212,4", "de", "-12.4"),
        ("+3", "en", "3"),
        (".5", "en", "0.5"),
        ("007", "en", "7"),
    ],
)
def test_a_number_is_read_as_it_was_meant(typed, locale, wire):
    assert wire_number(typed, Locale.parse(locale)) == wire


@pytest.mark.parametrize(
    ("typed", "locale", "ways"),
    [
        ("1.234", "de", ("write 1234 ", "or 1,2340 ")),
        ("1,234", "en", ("write 1234 ", "or 1.2340 ")),
        ("26.728", "pt_BR", ("write 26728 ", "or 26,7280 ")),
    ],
)
def test_what_could_be_two_numbers_is_refused_with_both(typed, locale, ways):
    with pytest.raises(UnreadableNumber) as raised:
        wire_number(typed, Locale.parse(locale))
    for way in ways:
        assert way in str(raised.value)


@pytest.mark.parametrize(
    "typed",
    ["", " ", "-", ".", "1e5", "NaN", "1,2,3", "12,34,567", "1.2.3,4", "１２", "٣",
     "1_000", "0x1", "1" * 41, "--1", "1 2", "12 34", "1.234.56", "5 €"],
)  # fmt: skip
@pytest.mark.parametrize("locale", ["en", "de"])
def test_what_is_no_number_is_refused_with_an_example(typed, locale):
    with pytest.raises(UnreadableNumber, match="is not a number; write it like 27"):
        wire_number(typed, Locale(locale))


@given(NUMBERS, st.sampled_from(LOCALES))
def test_what_stands_in_a_field_reads_back(value, locale):
    locale = Locale.parse(locale)
    assert Decimal(wire_number(typed_number(value, locale), locale)) == value


@given(NUMBERS, st.sampled_from(LOCALES))
def test_what_is_shown_is_never_read_as_another_number(value, locale):
    locale = Locale.parse(locale)
    try:
        read = wire_number(number(value, locale).strip("\u200e\u200f\u061c"), locale)
    except UnreadableNumber:
        return
    assert Decimal(read) == value


def test_amounts_are_those_of_the_minor_unit():
    assert money(Decimal("1189.905"), "EUR", Locale("en")) == "€1,189.91"
    assert money(Decimal("1189.9"), "JPY", Locale("en")) == "¥1,190"
    assert money(Decimal("12345678901234.5"), "KWD", Locale("de")).startswith(
        "12.345.678.901.234,500"
    )
