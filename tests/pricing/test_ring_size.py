from decimal import Context, Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.ring_size import (
    LARGEST_US,
    PI,
    SMALLEST_US,
    SYSTEMS,
    RingSize,
    inside_diameter_mm,
    ring_size,
    us_number,
    us_size,
)

numbers = st.decimals(SMALLEST_US, LARGEST_US, places=3)
quarters = st.integers(0, 96).map(lambda n: Decimal(n) / 4)
marked = st.sampled_from(["us", "uk", "iso", "jp", "ch"])
NEAR = Decimal("1e-25")


def machin_pi():
    """π from 16 arctan(1/5) − 4 arctan(1/239), independent of the constant."""
    with localcontext(Context(prec=60)):

        def arctan_of_one_over(x):
            terms = (
                (-1) ** k / (Decimal(2 * k + 1) * Decimal(x) ** (2 * k + 1))
                for k in range(45)
            )
            return sum(terms)

        return 16 * arctan_of_one_over(5) - 4 * arctan_of_one_over(239)


def test_pi_is_right_to_every_digit_it_has():
    with localcontext(Context(prec=60)):
        assert abs(PI - machin_pi()) < Decimal("1e-50")


class TestReading:
    @pytest.mark.parametrize(
        "text",
        ["9.5", "9.50", "9 1/2", "9½", "9 ½", " 9.5 ", "9-1/2", "9 1⁄2", "9 4/8"],
    )
    def test_a_us_half_size_may_be_written_in_many_ways(self, text):
        assert ring_size("us", text).us == Decimal("9.5")

    @pytest.mark.parametrize(
        ("text", "number"),
        [("0", "0"), ("½", "0.5"), ("3/4", "0.75"), ("8 3/8", "8.375"), ("24", "24")],
    )
    def test_us_sizes_have_quarters_and_eighths(self, text, number):
        assert ring_size("us", text).us == Decimal(number)

    @pytest.mark.parametrize(
        ("text", "around_mm", "label"),
        [
            ("A", "37.5", "UK A"),
            ("a½", "38.125", "UK A 1/2"),
            ("T", "61.25", "UK T"),
            ("T 1/2", "61.875", "UK T 1/2"),
            ("t½", "61.875", "UK T 1/2"),
            ("Z", "68.75", "UK Z"),
            ("Z 1/2", "69.375", "UK Z 1/2"),
            ("Z+1", "70", "UK Z+1"),
            ("Z 1", "70", "UK Z+1"),  # how a plus arrives from a bare query string
            ("z+1½", "70.625", "UK Z+1 1/2"),
            ("Z + 10 1/2", "81.875", "UK Z+10 1/2"),
        ],
    )
    def test_uk_letters_go_by_circumference(self, text, around_mm, label):
        size = ring_size("uk", text)
        assert size.inside_circumference_mm == Decimal(around_mm)
        assert size.label == label

    @pytest.mark.parametrize(
        ("system", "text", "around_mm"),
        [
            ("iso", "41", "41"),
            ("iso", "76", "76"),
            ("ch", "0.5", "40.5"),
            ("ch", "20", "60"),
            ("circumference_mm", "62.5", "62.5"),
        ],
    )
    def test_the_other_circumferences_are_kept_exactly(self, system, text, around_mm):
        size = ring_size(system, text)
        assert size.inside_circumference_mm == Decimal(around_mm)

    def test_japanese_sizes_are_thirds_of_a_millimetre(self):
        diameters = [ring_size("jp", n).inside_diameter_mm for n in ("1", "4", "55")]
        assert diameters == [13, 14, 31]

    def test_a_diameter_is_taken_as_it_is(self):
        assert ring_size("diameter_mm", "19.76").inside_diameter_mm == Decimal("19.76")

    def test_what_was_given_is_kept_to_show_back(self):
        size = ring_size("uk", " t½ ")
        assert (size.system, size.given) == ("uk", "t½")

    @pytest.mark.parametrize(
        ("system", "text", "label"),
        [
            ("us", "10", "US 10"),
            ("us", "9½", "US 9.5"),
            ("iso", "60", "ISO 60"),
            ("jp", "20", "JP 20"),
            ("ch", "6.75", "CH 6.75"),
            ("diameter_mm", "20", "20.00 mm inside"),
            ("circumference_mm", "62.5", "62.50 mm around inside"),
        ],
    )
    def test_a_size_is_called_by_its_own_system(self, system, text, label):
        assert ring_size(system, text).label == label


class TestRefusals:
    @pytest.mark.parametrize(
        ("system", "texts", "example"),
        [
            (
                "us",
                ["", "x", "1e1", "NaN", "\uff11\uff10", "9 6/4", "9.5 1/2"],
                "9 1/2",
            ),
            ("us", ["1_0", "+9", "10,5"], "9 1/2"),
            ("uk", ["", "AA", "A+1", "Z+0", "T 1/4", "1/2", "7"], "T 1/2"),
            ("uk", ["\u212a", "\u017f", "ß"], "T 1/2"),  # fold to K, S and SS
            ("iso", ["40", "77", "61.5", "sixty"], "62"),
            ("jp", ["0", "2.5", "-3", "x"], "21"),
            ("ch", ["-1", "x"], "22"),
            ("diameter_mm", ["x", ""], "19.76"),
            ("circumference_mm", ["x", ""], "62.1"),
        ],
    )
    def test_what_is_no_size_is_told_what_would_be(self, system, texts, example):
        for text in texts:
            with pytest.raises(InvalidInput) as got:
                ring_size(system, text)
            assert got.value.path == ("size", "size")
            assert f"'{text}'" in got.value.message
            assert example in got.value.message

    @pytest.mark.parametrize(
        ("system", "text"),
        [
            ("us", "24.001"),
            ("us", "-0.001"),
            ("uk", "Z+40"),
            ("jp", "56"),
            ("ch", "60"),
            ("diameter_mm", "11.63"),
            ("diameter_mm", "31.15"),
            ("circumference_mm", "0"),
        ],
    )
    def test_no_finger_is_beyond_us_0_to_24(self, system, text):
        with pytest.raises(InvalidInput, match="US 0 to US 24 inclusive") as got:
            ring_size(system, text)
        assert got.value.path == ("size", "size")
        assert text in got.value.message

    @pytest.mark.parametrize("number", ["-0.5", "24.5"])
    def test_the_same_bounds_hold_for_numbers(self, number):
        with pytest.raises(InvalidInput, match="US 0 to US 24 inclusive"):
            us_size(Decimal(number))

    def test_an_unknown_system_lists_the_known_ones(self):
        with pytest.raises(InvalidInput, match="'fr' is not known") as got:
            ring_size("fr", "60")
        assert got.value.path == ("size", "system")
        assert all(system in got.value.message for system in SYSTEMS)

    def test_a_long_text_is_not_repeated_whole(self):
        with pytest.raises(InvalidInput) as got:
            ring_size("us", "9" * 9000)
        assert len(got.value.message) < 200


class TestBothWays:
    @given(numbers)
    def test_us_numbers_come_back_exactly(self, number):
        assert us_number(inside_diameter_mm(number)) == number
        assert us_size(number).us == number

    @given(numbers)
    def test_text_and_number_are_the_same_size(self, number):
        text, same = ring_size("us", format(number, "f")), us_size(number)
        assert text.inside_diameter_mm == same.inside_diameter_mm

    @given(numbers, st.sampled_from(["diameter_mm", "circumference_mm", "ch"]))
    def test_measured_lengths_come_back_within_their_last_digit(self, number, system):
        size = us_size(number)
        length = {
            "diameter_mm": size.inside_diameter_mm,
            "circumference_mm": size.inside_circumference_mm,
            "ch": max(size.inside_circumference_mm - 40, Decimal(0)),
        }[system]
        try:
            back = ring_size(system, f"{length:.6f}")
        except InvalidInput:  # a rounded bound may lie a hair outside
            assert number in {SMALLEST_US, LARGEST_US}
            return
        assert abs(back.us - number) < Decimal("2e-6") or (
            system == "ch" and length == 0
        )

    @given(numbers, marked)
    def test_every_mark_reads_back_as_itself(self, number, system):
        mark = us_size(number).marks()[system]
        if mark is None:
            return
        try:
            back = ring_size(system, mark)
        except InvalidInput:  # the nearest mark may lie just beyond the bound
            assert number > LARGEST_US - Decimal("0.5")
            return
        assert back.marks()[system] == mark

    @given(numbers)
    def test_no_mark_is_further_than_half_a_step(self, number):
        size = us_size(number)
        marks, around = size.marks(), size.inside_circumference_mm
        assert abs(Decimal(marks["us"]) - number) <= Decimal("0.125")
        if marks["iso"] is not None:
            assert abs(Decimal(marks["iso"]) - around) <= Decimal("0.5")
        if marks["ch"] is not None:
            assert abs(Decimal(marks["ch"]) + 40 - around) <= Decimal("0.5")
        if marks["jp"] is not None:
            diameter = 13 + (Decimal(marks["jp"]) - 1) / 3
            assert abs(diameter - size.inside_diameter_mm) <= Decimal(1) / 6 + NEAR

    @given(numbers, numbers)
    def test_a_larger_number_is_a_larger_ring(self, one, other):
        small, large = us_size(min(one, other)), us_size(max(one, other))
        assert small.inside_diameter_mm <= large.inside_diameter_mm
        assert small.inside_circumference_mm <= large.inside_circumference_mm

    @given(quarters)
    def test_quarter_sizes_are_their_own_mark(self, number):
        assert Decimal(us_size(number).marks()["us"]) == number

    @given(st.integers(0, 98))
    def test_half_letters_come_back(self, halves):
        around = Decimal("37.5") + halves * Decimal("0.625")
        size = RingSize(around / PI, "uk", "")
        if around < Decimal("97.8"):
            assert ring_size("uk", size.marks()["uk"]).us == size.us

    @given(st.integers(41, 76))
    def test_iso_marks_come_back(self, mark):
        assert ring_size("iso", str(mark)).marks()["iso"] == str(mark)

    @given(st.integers(1, 55))
    def test_japanese_marks_come_back(self, mark):
        assert ring_size("jp", str(mark)).marks()["jp"] == str(mark)

    @given(st.integers(1, 57))
    def test_swiss_marks_come_back(self, mark):
        assert ring_size("ch", str(mark)).marks()["ch"] == str(mark)


class TestMarks:
    def test_a_size_below_a_scale_has_no_mark_on_it(self):
        assert dict(ring_size("us", "0").marks()) == {
            "us": "0",
            "uk": None,
            "iso": None,
            "jp": None,
            "ch": None,
        }

    def test_a_size_above_the_iso_stick_has_no_iso_mark(self):
        assert ring_size("circumference_mm", "76.49").marks()["iso"] == "76"
        assert ring_size("circumference_mm", "76.5").marks()["iso"] is None

    def test_midway_between_two_marks_is_the_larger(self):
        assert ring_size("circumference_mm", "62.5").marks()["iso"] == "63"
        assert ring_size("circumference_mm", "62.5").marks()["ch"] == "23"
        assert ring_size("circumference_mm", "37.8125").marks()["uk"] == "A 1/2"
        assert ring_size("us", "9.375").marks()["us"] == "9.5"

    def test_numbers_are_plain_text_without_exponents(self):
        size = us_size(Decimal("10.00"))
        assert (str(size.us), size.label, size.marks()["us"]) == ("10", "US 10", "10")

    def test_marks_cannot_be_changed(self):
        with pytest.raises(TypeError):
            ring_size("us", "9").marks()["us"] = "10"

    def test_no_caller_context_moves_a_size(self):
        with localcontext(Context(prec=5)):
            narrow = ring_size("iso", "60")
            figures = (narrow.us, narrow.inside_circumference_mm, dict(narrow.marks()))
        wide = ring_size("iso", "60")
        assert figures == (wide.us, wide.inside_circumference_mm, dict(wide.marks()))
