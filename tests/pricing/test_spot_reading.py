from datetime import UTC, datetime
from decimal import Decimal

import pytest

from pricing.errors import InvalidInput
from pricing.spot_reading import History, Limits, Reading, is_price


def test_a_reading_without_its_offset_is_refused():
    moment = datetime(2026, 11, 25, 12, tzinfo=UTC)
    Reading(price=Decimal("27.50"), currency="EUR", as_of=moment)
    with pytest.raises(InvalidInput, match="offset from UTC"):
        Reading(
            price=Decimal("27.50"), currency="EUR", as_of=moment.replace(tzinfo=None)
        )


@pytest.mark.parametrize("price", ["NaN", "-1", "0", "1E+5000"])
def test_a_reading_may_hold_any_figure(price):
    moment = datetime(2026, 11, 25, 12, tzinfo=UTC)
    reading = Reading(price=Decimal(price), currency="EUR", as_of=moment)
    assert not is_price(reading.price)


@pytest.mark.parametrize(
    ("members", "at", "said"),
    [
        ({"lowest": Decimal(0)}, "lowest", "0 to 1000 .* prices above 0"),
        ({"highest": Decimal("NaN")}, "lowest", "prices above 0"),
        ({"lowest": Decimal(1000)}, "highest", "more than lowest, 1000"),
        ({"jump": Decimal(0)}, "jump", "above 0"),
        ({"jump": Decimal("Infinity")}, "jump", "above 0"),
        ({"spread": Decimal("-0.05")}, "spread", "above 0"),
        ({"second_source": Decimal("NaN")}, "second_source", "above 0"),
        ({"max_age_hours": Decimal(0)}, "max_age_hours", "above 0"),
        ({"future_minutes": -1}, "future_minutes", "0 or more"),
        ({"frozen_days": -1}, "frozen_days", "0 or more"),
    ],
)
def test_limits_that_limit_nothing_are_refused(members, at, said):
    with pytest.raises(InvalidInput, match=said) as told:
        Limits(**members)
    assert told.value.path == ("limits", at)


def test_limits_begin_at_the_choices_of_the_project():
    limits = Limits()
    assert (limits.lowest, limits.highest) == (1, 1000)
    assert (limits.jump, limits.spread, limits.second_source) == (
        Decimal("0.08"),
        Decimal("0.05"),
        Decimal("0.03"),
    )
    assert (limits.max_age_hours, limits.future_minutes, limits.frozen_days) == (
        26,
        5,
        3,
    )
    Limits(future_minutes=0, frozen_days=0)
    assert History() == History(last=None, same_price_since=None)


@pytest.mark.parametrize(
    ("figure", "sound"),
    [
        ("27.50", True),
        ("1E-29", True),
        ("1E+29", True),
        ("1E-30", False),
        ("1E+30", False),
        ("0", False),
        ("-27.50", False),
        ("NaN", False),
        ("sNaN", False),
        ("Infinity", False),
    ],
)
def test_a_price_is_a_number_above_zero_of_ordinary_size(figure, sound):
    assert is_price(Decimal(figure)) is sound
