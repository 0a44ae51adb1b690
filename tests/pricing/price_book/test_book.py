from decimal import Decimal

import pytest

from pricing.errors import UnknownKey
from pricing.price_book import Calibration, read_price_book
from tests.pricing.price_book.documents import LEFT_OUT, changed, small


@pytest.fixture
def book():
    return read_price_book(small())


@pytest.mark.parametrize(
    ("find", "key"),
    [
        ("consumable", "gas"),
        ("tool", "cone"),
        ("channel", "shop"),
        ("policy", "retail"),
        ("extra", "ring_box"),
    ],
)
def test_parts_are_found_by_key(book, find, key):
    assert getattr(book, find)(key).key == key


@pytest.mark.parametrize("find", ["consumable", "tool", "channel", "policy", "extra"])
def test_an_unknown_key_is_answered_with_the_known_ones(book, find):
    known = {"consumable": "gas", "tool": "cone", "channel": "shop"}
    said = f"no {find} 'moon'; it has: .*{known.get(find, '')}"
    with pytest.raises(UnknownKey, match=said) as error:
        getattr(book, find)("moon")
    assert error.value.path == (find,)


def test_a_book_without_extras_says_so():
    book = read_price_book(changed((("extras",), LEFT_OUT)))
    with pytest.raises(UnknownKey, match="none yet"):
        book.extra("ring_box")


def test_the_first_channel_and_policy_are_the_usual_ones(book):
    assert book.channel() is book.channels[0]
    assert book.policy() is book.policies[0]


def test_a_coin_never_weighed_has_a_calibration_of_one(book):
    assert book.calibration("at_50s_1959_1973").slug == Decimal("0.99")
    assert book.calibration("other") == Calibration(coin="other")
