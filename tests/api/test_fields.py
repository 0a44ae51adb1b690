from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from marshmallow import ValidationError, missing

from api.schemas.fields import (
    ANY,
    NOT_NEGATIVE,
    POSITIVE,
    SHARE,
    SHARE_BELOW_ONE,
    Bounds,
    Choice,
    CurrencyText,
    DecimalText,
    Document,
    KeyText,
    ListOf,
    MoneyText,
    Part,
    RateText,
    StrictBoolean,
    StrictInteger,
    Text,
    UtcTime,
    plain_text,
)

WRITTEN = st.decimals(
    allow_nan=False, allow_infinity=False, min_value=-(10**11), max_value=10**11
)

BETWEEN = Bounds(above=0, below=1)


def fault(field, value) -> str:
    """What a field says of a value it refuses."""
    with pytest.raises(ValidationError) as refused:
        field.deserialize(value)
    return refused.value.messages[0]


@given(st.decimals(-(10**11), 10**11, places=4))
def test_an_amount_comes_back_as_it_was_written(number):
    field = MoneyText()
    read = field.deserialize(plain_text(number))
    assert read == number
    assert plain_text(read) == plain_text(number)


@given(WRITTEN)
def test_an_answer_never_holds_an_exponent_and_is_exact(number):
    text = plain_text(number)
    assert re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", text)
    assert Decimal(text) == number
    assert not re.fullmatch(r"-[0.]+", text)


@given(st.text("0123456789.-+eE_ ,", max_size=16))
def test_a_number_is_taken_exactly_when_the_documented_pattern_and_range_say_so(text):
    for bounds in (ANY, NOT_NEGATIVE, POSITIVE, SHARE, SHARE_BELOW_ONE, BETWEEN):
        field = MoneyText(bounds=bounds)
        fits = re.fullmatch(field.keywords()["pattern"], text, re.ASCII)
        wanted = bool(fits) and bounds.hold(Decimal(text))
        try:
            field.deserialize(text)
        except ValidationError:
            assert not wanted
        else:
            assert wanted


@pytest.mark.parametrize(
    ("bounds", "inside", "outside"),
    [
        (ANY, ["-1", "0", "999999999999"], []),
        (NOT_NEGATIVE, ["0", "0.0001"], ["-0.0001"]),
        (POSITIVE, ["0.0001"], ["0", "0.0000", "-1"]),
        (SHARE, ["0", "1", "1.0000"], ["1.0001"]),
        (SHARE_BELOW_ONE, ["0.9999"], ["1", "1.0"]),
        (Bounds(least=-5, most=5), ["-5", "5"], ["-5.1", "5.1"]),
        (Bounds(above=3), ["3.0001"], ["3"]),
    ],
)
def test_ranges_are_exact_at_their_ends(bounds, inside, outside):
    field = MoneyText(bounds=bounds)
    for text in inside:
        assert field.deserialize(text) == Decimal(text)
    for text in outside:
        assert "out of range" in fault(field, text)


def test_what_is_wrong_with_a_number_is_said_plainly():
    money = MoneyText(bounds=POSITIVE)
    for number in (12.5, 12, True, ["12.5"], {}):
        assert "written as text" in fault(money, number)
    assert "at most 4 decimals" in fault(money, "1.00001")
    assert "more than 0" in fault(money, "-1.00")
    assert "out of range" in fault(money, "-0")
    assert "at most 12 before it" in fault(money, "1e3")
    assert "at most 12 before it" in fault(money, "1" * 13)
    assert (
        fault(money, None)
        == "null is not a value here; give one or leave the member out"
    )


def test_minus_zero_is_zero_and_null_stays_null():
    assert str(MoneyText().deserialize("-0.00")) == "0.00"
    assert MoneyText(allow_none=True).deserialize(None) is None
    assert MoneyText().serialize("a", {"a": None}) is None
    assert MoneyText().serialize("a", {"a": Decimal("-0.00")}) == "0.00"
    assert MoneyText().serialize("a", {"a": Decimal("1E+2")}) == "100"


def test_a_default_written_as_text_is_a_number_when_it_is_taken():
    assert MoneyText(load_default="0.50").deserialize(missing) == Decimal("0.50")


@pytest.mark.parametrize("number", [1.5, True, "1.5"])
def test_only_exact_numbers_are_written(number):
    with pytest.raises(TypeError):
        plain_text(number)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "sNaN"])
def test_nothing_infinite_is_written(number):
    with pytest.raises(ValueError, match="no place"):
        plain_text(Decimal(number))


@pytest.mark.parametrize("bounds", [SHARE, SHARE_BELOW_ONE, BETWEEN])
@given(text=st.from_regex(r"\A[01](\.[0-9]{1,4})?\Z"))
def test_the_pattern_of_a_share_says_all_about_its_range(bounds, text):
    field = MoneyText(bounds=bounds)
    fits = re.fullmatch(field.keywords()["pattern"], text, re.ASCII)
    assert bool(fits) == bounds.hold(Decimal(text))


def test_a_number_documents_itself_as_text():
    assert RateText(bounds=SHARE).keywords() == {
        "pattern": r"^(0(\.[0-9]{1,6})?|1(\.0{1,6})?)$",
        "x-range": "at least 0, at most 1",
    }
    assert DecimalText().keywords() == {
        "pattern": r"^-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,9})?$"
    }


@pytest.mark.parametrize("value", [0, 1001, 3.0, True, "3", None, 2**70])
def test_a_whole_number_is_whole_and_in_its_range(value):
    with pytest.raises(ValidationError):
        StrictInteger(least=1, most=1000).deserialize(value)


def test_a_whole_number_at_its_ends():
    field = StrictInteger(least=1, most=1000)
    assert [field.deserialize(1), field.deserialize(1000)] == [1, 1000]
    assert field.keywords() == {"minimum": 1, "maximum": 1000}


@pytest.mark.parametrize("value", [1, 0, "true", "yes", None])
def test_only_true_and_false_are_either(value):
    with pytest.raises(ValidationError):
        StrictBoolean().deserialize(value)
    assert StrictBoolean().deserialize(value=True) is True


def test_text_is_normalised_and_counted_in_characters():
    field = Text(most=2, least=1)
    assert field.deserialize("e\u0301😀") == "é😀"
    assert "1 to 2 characters" in fault(field, "")
    assert "not 3" in fault(field, "abc")
    assert "in quotes" in fault(field, 1)
    assert field.keywords() == {"maxLength": 2, "minLength": 1}


@pytest.mark.parametrize("text", ["a\nb", "a\tb", "a\u2028b", "a\x85b", "a\x7fb"])
def test_a_line_of_text_holds_no_line_end_or_control(text):
    assert "control characters" in fault(Text(most=9), text)


def test_text_of_several_lines_holds_line_ends_but_no_controls():
    field = Text(most=9, lines=True)
    assert field.deserialize("a\n\tb") == "a\n\tb"
    for text in ("a\rb", "a\u2028b", "a\x1bb"):
        assert "control characters" in fault(field, text)


@pytest.mark.parametrize("key", ["", "A", "a-b", "_a", "a" * 65, "ä", "a\n", 1, None])
def test_a_key_has_one_form(key):
    with pytest.raises(ValidationError):
        KeyText().deserialize(key)
    assert KeyText().deserialize("a" * 64) == "a" * 64


def test_a_currency_code_has_three_capital_letters():
    assert CurrencyText().deserialize("EUR") == "EUR"
    assert "such as EUR" in fault(CurrencyText(), "eur")


def test_a_choice_lists_what_there_is_and_guesses():
    field = Choice(["matt", "bright"])
    assert field.deserialize("matt") == "matt"
    assert fault(field, "brigth").endswith("matt, bright; did you mean bright?")
    assert fault(field, 7).endswith("one of matt, bright")


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-11-25T09:30:00Z", datetime(2026, 11, 25, 9, 30, tzinfo=UTC)),
        ("2026-11-25t09:30:00z", datetime(2026, 11, 25, 9, 30, tzinfo=UTC)),
        ("2026-11-25T23:30:00+14:00", datetime(2026, 11, 25, 9, 30, tzinfo=UTC)),
        ("2026-11-25T09:30:00-00:00", datetime(2026, 11, 25, 9, 30, tzinfo=UTC)),
        ("2026-11-25T09:30:00-01:30", datetime(2026, 11, 25, 11, 0, tzinfo=UTC)),
        ("2016-12-31T23:59:60Z", datetime(2017, 1, 1, tzinfo=UTC)),
        ("0001-01-01T00:00:00Z", datetime(1, 1, 1, tzinfo=UTC)),
        ("9999-12-31T23:59:59Z", datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC)),
        (
            "2026-11-25T09:30:00.25Z",
            datetime(2026, 11, 25, 9, 30, 0, 250_000, tzinfo=UTC),
        ),
        (
            "2026-11-25T09:30:00.123456789Z",
            datetime(2026, 11, 25, 9, 30, 0, 123_456, tzinfo=UTC),
        ),
    ],
)
def test_times_of_rfc_3339_are_read(text, moment):
    assert UtcTime().deserialize(text) == moment


@pytest.mark.parametrize(
    "text",
    [
        "2026-11-25",
        "2026-11-25T09:30:00",
        "20261125T093000Z",
        "2026-11-25 09:30:00Z",
        "2026-11-25T09:30Z",
        "2026-02-30T09:30:00Z",
        "2026-11-25T24:00:00Z",
        "2026-11-25T09:30:61Z",
        "2026-11-25T09:30:00+24:00",
        "2026-11-25T09:30:00+09:60",
        "2026-11-25T09:30:00.0000000001Z",
        "0001-01-01T00:00:00+01:00",
        "9999-12-31T23:59:60Z",
        "２026-11-25T09:30:00Z",
        1_800_000_000,
    ],
)
def test_other_times_are_refused(text):
    assert "with its offset" in fault(UtcTime(), text)


def test_times_are_written_in_utc_to_the_millisecond():
    vienna = timezone(timedelta(hours=1))
    moment = datetime(2026, 11, 25, 10, 30, 0, 250_000, tzinfo=vienna)
    assert UtcTime().serialize("a", {"a": moment}) == "2026-11-25T09:30:00.250Z"
    assert UtcTime().serialize("a", {"a": None}) is None


@given(st.datetimes(timezones=st.just(UTC)))
def test_a_time_comes_back_to_the_millisecond(moment):
    moment = moment.replace(microsecond=moment.microsecond // 1000 * 1000)
    written = UtcTime().serialize("a", {"a": moment})
    assert UtcTime().deserialize(written) == moment


class Inner(Document):
    label = Text(most=9, required=True)


class Outer(Document):
    inner = Part(Inner, required=True)
    several = ListOf(Part(Inner), most=2, least=1)


def test_faults_inside_are_found_where_they_are():
    document = {"inner": {"label": "a", "x": 1}, "several": [{"label": 1}], "y": 1}
    with pytest.raises(ValidationError) as refused:
        Outer().load(document)
    messages = refused.value.messages
    assert set(messages) == {"inner", "several", "y"}
    assert "no such member" in messages["inner"]["x"][0]
    assert "in quotes" in messages["several"][0]["label"][0]


@pytest.mark.parametrize("several", [[], [{"label": "a"}] * 3, None, {}])
def test_a_list_keeps_to_its_lengths(several):
    with pytest.raises(ValidationError):
        Outer().load({"inner": {"label": "a"}, "several": several})


def test_what_is_needed_is_asked_for_in_plain_words():
    with pytest.raises(ValidationError) as refused:
        Outer().load({"several": 1})
    assert refused.value.messages["inner"] == ["this member is needed"]
    assert "square brackets" in refused.value.messages["several"][0]
    with pytest.raises(ValidationError, match="in braces"):
        Outer().load({"inner": []})


def test_an_answer_is_whole_or_a_fault():
    with pytest.raises(AttributeError, match="Outer was given nothing for 'several'"):
        Outer().dump({"inner": {"label": "a"}})
    whole = {"inner": {"label": "a"}, "several": [{"label": "b"}]}
    assert Outer().dump(whole) == whole
