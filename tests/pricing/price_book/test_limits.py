from decimal import Decimal

import pytest

from pricing.price_book import limits
from pricing.price_book.limits import Limits


@pytest.mark.parametrize(
    ("allowed", "inside", "outside"),
    [
        (limits.AMOUNT, ["0", "999999999999"], ["-0.01"]),
        (limits.POSITIVE, ["0.01"], ["0", "-1"]),
        (limits.SIGNED, ["-5", "5"], []),
        (limits.SHARE, ["0", "1"], ["-0.01", "1.01"]),
        (limits.PART, ["0", "0.999"], ["1", "-0.01"]),
        (limits.PREMIUM, ["-0.99", "1"], ["-1", "1.01"]),
        (limits.QUANTILE, ["0.501", "0.999"], ["0.5", "1"]),
        (limits.AGE_HOURS, ["0.01", "8760"], ["0", "8760.01"]),
        (limits.HOURS, ["1", "8760"], ["0", "8761"]),
    ],
)
def test_limits_hold_at_their_bounds(allowed, inside, outside):
    assert all(allowed.hold(Decimal(text)) for text in inside)
    assert not any(allowed.hold(Decimal(text)) for text in outside)


def test_limits_say_themselves_in_words():
    both = Limits(least=Decimal(1), most=Decimal(8760))
    assert str(both) == "at least 1 and at most 8760"
    assert str(Limits(over=Decimal(0), under=Decimal(1))) == "over 0 and under 1"
    assert str(limits.SIGNED) == "any amount"
