from dataclasses import dataclass
from typing import Any

import pytest

from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.spot_needed import check_spot
from tests.oracles.workshops import DOLLAR, book, spot


@dataclass
class Thing:
    needs_spot: bool
    book: Any = None
    coin: Coin = DOLLAR

    def __post_init__(self):
        self.book = book()


def test_no_spot_is_needed_where_nothing_moves_with_it():
    check_spot(None, Thing(needs_spot=False))
    check_spot(spot(), Thing(needs_spot=False))
    check_spot(spot(), Thing(needs_spot=True))


@pytest.mark.parametrize(
    ("given", "words"),
    [(None, "no spot price is known"), (spot(code="USD"), "in USD and the price book")],
)
def test_a_spot_it_cannot_be_priced_at_is_refused(given, words):
    with pytest.raises(InvalidInput, match=words) as refused:
        check_spot(given, Thing(needs_spot=True))
    assert refused.value.path == ("spot",)
