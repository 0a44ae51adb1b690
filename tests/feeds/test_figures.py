"""Figures are exact or refused; nothing is guessed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.feeds.figures import figure, is_missing, kind
from api.ports import FeedFailed

NBSP, NARROW = "\u00a0", "\u202f"


def why(raw, mark=""):
    with pytest.raises(FeedFailed) as refused:
        figure(raw, mark=mark)
    return refused.value.reason


@pytest.mark.parametrize(
    ("text", "mark", "number"),
    [
        ("27.50", "", "27.50"),
        ("27,50", "", "27.50"),
        ("27.5", "", "27.5"),
        ("1,234.56", "", "1234.56"),
        ("1.234,56", "", "1234.56"),
        ("1,234,567", "", "1234567"),
        ("1.234.567", "", "1234567"),
        ("1.234.567,891", "", "1234567.891"),
        ("1234.567", "", "1234.567"),
        ("0.123", "", "0.123"),
        ("1 234.567", "", "1234.567"),
        ("1'234.56", "", "1234.56"),
        ("1\u2019234.56", ".", "1234.56"),
        (f"1{NBSP}234,56", ",", "1234.56"),
        (f"1{NARROW}234,56", ",", "1234.56"),
        ("1.234", ".", "1.234"),
        ("1.234", ",", "1234"),
        ("1,234", ".", "1234"),
        ("1,234", ",", "1.234"),
        ("+27.50", "", "27.50"),
        (" 27.50\n", "", "27.50"),
        ("27", "", "27"),
        (27, "", "27"),
        (Decimal("27.50"), ",", "27.50"),
        (Decimal("2.75E+1"), "", "27.5"),
    ],
)
def test_a_figure_is_read_exactly(text, mark, number):
    assert figure(text, mark=mark) == Decimal(number)


@pytest.mark.parametrize("text", ["1.234", "27,385", "999.999", "-1.234", "+1,234"])
def test_a_text_with_two_readings_is_refused_until_the_mark_is_known(text):
    assert why(text) == "ambiguous_number"


@pytest.mark.parametrize(
    ("raw", "mark"),
    [
        ("1,23.4", ""),
        ("1,2345.6", ""),
        ("12,34,567", "."),
        ("1.5", ","),
        ("1,5", "."),
        ("1,234'567.8", "."),
        ("1.234,567.8", ""),
        ("1e3", "."),
        ("0x10", "."),
        ("1_000", "."),
        ("\uff11\uff12", "."),
        ("\u0663", "."),
        ("$5", "."),
        ("5 USD", "."),
        ("5.", "."),
        (".5", "."),
        ("--5", "."),
        ("", "."),
        ("nan", "."),
        ("inf", "."),
        ("9" * 41, "."),
        (None, "."),
        (True, "."),
        ([1], "."),
        ({}, "."),
    ],
)
def test_what_is_no_number_is_no_price(raw, mark):
    assert why(raw, mark) == "not_a_price"


@pytest.mark.parametrize("raw", [0, Decimal("0.00"), "0", "0,00", "-1", -1, "-0"])
def test_a_price_is_above_zero(raw):
    assert why(raw) == "not_positive"


@pytest.mark.parametrize(
    "raw",
    [
        10**13,
        "10000000000000",
        Decimal("1E+999"),
        Decimal("1E-999"),
        "0.0000000000001",
        Decimal("1." + "1" * 40),
    ],
)
def test_a_figure_beyond_any_price_is_refused(raw):
    assert why(raw, ".") == "number_out_of_range"


def test_only_a_short_number_is_ever_quoted():
    for text, quoted in [("1.5", True), ("<1.5>", False), ("1" * 25 + ".5.", False)]:
        with pytest.raises(FeedFailed) as refused:
            figure(text, mark=",")
        assert (text in refused.value.message) is quoted


@pytest.mark.parametrize(
    "raw", [None, 0, Decimal("0.0"), "", " ", "-", "N/A", "null", "0", "0.00", "00,0"]
)
def test_a_row_without_a_price_is_known_by_it(raw):
    assert is_missing(raw)


@pytest.mark.parametrize("raw", [1, "1", "0.01", "abc", False, [], "-1"])
def test_other_values_are_not_missing(raw):
    assert not is_missing(raw)


def test_every_kind_of_value_has_a_word():
    kinds = [kind(raw) for raw in (None, True, {}, [], "x")]
    assert kinds == [
        "nothing (null)", "true or false", "a table", "a list", "a text",
    ]  # fmt: skip


GROUPS = {".": [",", " ", "'", NBSP], ",": [".", " ", "'", NARROW]}


@given(
    number=st.decimals("0.01", 10**9, places=2),
    mark=st.sampled_from(".,"),
    style=st.integers(0, 3),
    told=st.booleans(),
)
def test_a_number_written_in_any_way_is_read_back(number, mark, style, told):
    group = GROUPS[mark][style]
    text = f"{number:,.2f}".replace(",", "G").replace(".", mark).replace("G", group)
    assert figure(text, mark=mark if told else "") == number


@given(
    st.text(alphabet="0123456789.,' +-e", max_size=14), st.sampled_from(["", ",", "."])
)
def test_a_text_is_a_figure_of_its_own_digits_or_a_reason(text, mark):
    try:
        number = figure(text, mark=mark)
    except FeedFailed:
        return
    digits = "".join(sign for sign in text if sign.isdigit())
    assert "".join(map(str, number.as_tuple().digits)) == digits.lstrip("0")
