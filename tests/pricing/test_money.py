from decimal import Context, Decimal, DivisionByZero, localcontext
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.money import (
    ONE,
    ZERO,
    amount,
    arithmetic,
    brief,
    chance,
    converted,
    currency,
    down,
    exact_decimal,
    exchange_rate,
    grid_ceiling,
    half_up,
    hours_at_most,
    length_mm,
    mass_g,
    minutes,
    percent,
    share_out,
    shown,
    sizes,
    trimmed,
)

CENT = Decimal("0.01")
EUR = currency("EUR")
parts = st.lists(st.decimals("-10000", "10000", places=5), max_size=12)


class TestExactDecimal:
    @pytest.mark.parametrize("text", ["0", "27.50", "-3.1", "999999999999.123456789"])
    def test_keeps_a_plain_decimal_as_written(self, text):
        assert str(exact_decimal(text)) == text

    @pytest.mark.parametrize("value", [7, Decimal("1.50"), Decimal("1E+2")])
    def test_takes_whole_numbers_and_decimals(self, value):
        assert exact_decimal(value) == value

    def test_has_no_negative_zero(self):
        assert str(exact_decimal("-0.00")) == "0"

    @pytest.mark.parametrize(
        "text",
        [
            "1e3",
            "1E3",
            "1_000",
            "\uff11\uff12",  # full-width digits
            "\u0661\u0662",  # Arabic-Indic digits
            " 1",
            "1 ",
            "1\n",
            "",
            "+1",
            ".5",
            "5.",
            "007",
            "1,5",
            "NaN",
            "Infinity",
            "--1",
            "1234567890123",
            "0.1234567890",
        ],
    )
    def test_refuses_any_other_spelling(self, text):
        with pytest.raises(InvalidInput, match="plain decimal number"):
            exact_decimal(text, path=("price",))

    @pytest.mark.parametrize("value", [1.5, True, None, [], b"1", 1j])
    def test_refuses_what_is_not_exact(self, value):
        with pytest.raises(InvalidInput, match="not an exact number") as got:
            exact_decimal(value, path=("price",))
        assert got.value.path == ("price",)

    @pytest.mark.parametrize("value", [10**13, Decimal("NaN"), Decimal("1E-10")])
    def test_refuses_numbers_out_of_its_range(self, value):
        with pytest.raises(InvalidInput):
            exact_decimal(value)

    def test_shows_only_the_start_of_a_long_text(self):
        with pytest.raises(InvalidInput) as got:
            exact_decimal("x" * 5000)
        assert len(got.value.message) < 250

    @given(st.decimals("-999999999999", "999999999999", places=9))
    def test_reads_back_whatever_it_would_write(self, value):
        assert exact_decimal(format(value, "f")) == value


class TestRounding:
    def test_halves_go_away_from_zero(self):
        halves = [Decimal(text) for text in ("0.5", "1.5", "2.5", "-0.5", "-2.5")]
        assert [half_up(half, ONE) for half in halves] == [1, 2, 3, -1, -3]

    def test_no_rounding_leaves_a_negative_zero(self):
        assert str(half_up(Decimal("-0.001"), CENT)) == "0.00"

    @given(st.decimals("-1000000", "1000000", places=6))
    def test_half_up_is_never_more_than_half_a_step_away(self, value):
        assert abs(half_up(value, CENT) - value) <= CENT / 2

    @given(st.decimals("-1000000", "1000000", places=6))
    def test_down_is_the_last_step_not_above(self, value):
        assert ZERO <= value - down(value, CENT) < CENT

    def test_an_amount_goes_by_its_currency(self):
        value = Decimal("1234.5675")
        assert str(amount(value, currency("JPY"))) == "1235"
        assert str(amount(value, EUR)) == "1234.57"
        assert str(amount(value, currency("BHD"))) == "1234.568"

    def test_floats_are_quantised_where_they_enter(self):
        assert str(chance(1 / 3)) == "0.333333333"
        assert str(mass_g(26.729549999)) == "26.7295"
        assert str(length_mm(19.35485)) == "19.355"
        assert str(sizes(9.4996)) == "9.50"
        assert str(minutes(Decimal("8.125"))) == "8.13"

    def test_figures_are_written_without_exponents_or_loose_zeros(self):
        assert shown(Decimal("1E+3"), CENT) == "1000.00"
        assert trimmed(Decimal("100.00")) == "100"
        assert trimmed(Decimal("0.00004")) == "0"
        assert percent(Decimal("0.125")) == "12.5 %"


class TestWhatIsShownOfASpot:
    @pytest.mark.parametrize(
        ("value", "said"),
        [
            ("27.3710595840", "27.37106"),
            ("-27.5", "-27.50"),
            ("0", "0.00"),
            ("450000", "450000.00"),
            ("0.00625", "0.00625"),
            ("1E+5000", "1e+5000"),
            ("1E-40", "1e-40"),
            ("sNaN", "sNaN"),
            ("-Infinity", "-Infinity"),
        ],
    )
    def test_a_figure_in_a_sentence_is_short_and_plain(self, value, said):
        assert brief(Decimal(value)) == said

    def test_a_converted_price_is_kept_to_a_millionth(self):
        assert str(converted(Decimal("25.3386197365"))) == "25.33862"
        assert str(converted(Decimal("25.33861950"))) == "25.33862"

    def test_an_exchange_rate_is_kept_to_nine_decimals(self):
        assert str(exchange_rate(ONE / 3)) == "0.333333333"
        assert str(exchange_rate(Decimal(2) / 3)) == "0.666666667"
        assert str(exchange_rate(Decimal("1.25"))) == "1.25"

    def test_a_promised_time_is_never_rounded_up(self):
        assert str(hours_at_most(71.9999)) == "71.99"


class TestGridCeiling:
    @given(
        st.decimals("0", "10000", places=2),
        st.sampled_from(["0.05", "1.00", "5.00", "2.50"]),
        st.sampled_from(["0", "-0.05", "-0.01", "0.99"]),
    )
    def test_is_the_smallest_grid_value_not_below(self, value, step, offset):
        step, offset = Decimal(step), Decimal(offset)
        found = grid_ceiling(value, step, offset)
        assert (found - offset) % step == 0
        assert found - step < value <= found

    def test_a_value_on_the_grid_stays(self):
        on_grid = Decimal("89.95")
        assert grid_ceiling(on_grid, Decimal(5), Decimal("-0.05")) == on_grid


class TestShareOut:
    @given(parts)
    def test_parts_add_up_to_the_rounded_sum(self, values):
        assert sum(share_out(values, EUR), ZERO) == amount(sum(values, ZERO), EUR)

    @given(parts)
    def test_no_part_moves_by_a_whole_step(self, values):
        shared = share_out(values, EUR)
        assert all(
            abs(new - old) < CENT for new, old in zip(shared, values, strict=True)
        )

    @given(parts)
    def test_a_larger_part_never_gets_less(self, values):
        shared = sorted(zip(values, share_out(values, EUR), strict=True))
        given_out = [new for _, new in shared]
        assert all(a <= b for a, b in pairwise(given_out))

    def test_the_earlier_of_equals_is_served_first(self):
        assert share_out([Decimal("0.005")] * 2, EUR) == (CENT, ZERO)

    def test_nothing_is_shared_among_none(self):
        assert share_out([], EUR) == ()

    def test_yen_have_no_decimals(self):
        shared = share_out([Decimal("33.4")] * 3, currency("JPY"))
        assert [str(part) for part in shared] == ["34", "33", "33"]


class TestCurrency:
    def test_the_step_is_the_minor_unit(self):
        steps = {code: str(currency(code).step) for code in ("EUR", "JPY", "KWD")}
        assert steps == {"EUR": "0.01", "JPY": "1", "KWD": "0.001"}

    @pytest.mark.parametrize("code", ["XAG", "XXX", "eur", "", "EURO"])
    def test_nothing_is_sold_in_any_other_code(self, code):
        with pytest.raises(InvalidInput, match="ISO 4217") as got:
            currency(code, path=("currency",))
        assert got.value.path == ("currency",)


class TestArithmetic:
    def test_no_caller_context_reaches_inside(self):
        with localcontext(Context(prec=3)), arithmetic():
            assert Decimal(1) / 3 == Decimal("0." + "3" * 34)

    def test_dividing_by_nothing_is_an_error(self):
        with arithmetic(), pytest.raises(DivisionByZero):
            Decimal(1) / 0

    def test_the_caller_gets_its_context_back(self):
        with localcontext(Context(prec=3)):
            with arithmetic():
                pass
            assert Decimal(1) / 3 == Decimal("0.333")
