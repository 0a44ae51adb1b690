"""What is asked of a quote: its lines, and on which terms it is given."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from api.services.plain_text import plain_lines
from pricing import money
from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.money import ONE, ZERO, Currency
from pricing.price_book import Policy
from pricing.wish import Wish

MOST_NOTE = 2000
"""Longest note to the customer [characters]."""
LONGEST_HOURS = 8760
"""Longest time a quote may hold: a year [h]."""
LARGEST_TOTAL = Decimal(10**12)
"""What the total has to stay under, to be written and kept exactly [currency]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineAsk:
    """One line of a quote: a kind of ring.

    Attributes:
        coin: the key of a coin, or a coin that is not stored.
        wish: the ring, how many, and how it is sold.
        spot_price: of a troy ounce [the book's currency/ozt]; None takes the one
            of the other lines, or the one in force.
        unit_price: of one piece where it stands already [currency]; None has the
            policy decide.
    """

    coin: str | Coin
    wish: Wish
    spot_price: Decimal | None = None
    unit_price: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteTerms:
    """On which terms a quote is given.

    Attributes:
        customer_note: plain text on the customer's sheet.
        deposit_share: of the total, due when it is accepted; None for nothing.
        valid_hours: how long it holds [h], 1 to 8760; None takes the least of what
            the lines' policies allow.
        show_spot: whether the customer's sheet shows the spot price.
    """

    customer_note: str = ""
    deposit_share: Decimal | None = None
    valid_hours: int | None = None
    show_spot: bool = False


def checked(terms: QuoteTerms) -> QuoteTerms:
    """The terms with their note as it is kept. Raises InvalidInput."""
    check_hours(terms.valid_hours)
    share = terms.deposit_share
    if share is not None and not ZERO < share <= ONE:
        raise InvalidInput(
            f"deposit_share {share} is out of range; give more than 0 and at most 1: "
            "0.5 is half of the total",
            path=("deposit_share",),
        )
    note = plain_lines(terms.customer_note, "customer_note", most=MOST_NOTE)
    return replace(terms, customer_note=note)


def check_hours(hours: int | None) -> None:
    """Raise InvalidInput where a quote cannot hold so long [h]."""
    if hours is not None and not 1 <= hours <= LONGEST_HOURS:
        raise InvalidInput(
            f"valid_hours {hours} is out of range; give 1 to {LONGEST_HOURS}",
            path=("valid_hours",),
        )


def one_spot(asks: Sequence[LineAsk]) -> Decimal | None:
    """The spot price that lines bring along, for all of them; None if none does.

    Raises:
        InvalidInput: two of them are not the same.
    """
    found = None
    for place, ask in enumerate(asks):
        given = ask.spot_price
        if None not in {found, given} and found != given:
            raise InvalidInput(
                f"a spot price of {given} beside one of {found}: a quote stands on "
                "one; give the same in every line, or in one line only",
                path=("lines", place, "spot", "price"),
            )
        found = given if found is None else found
    return found


def hours_valid(terms: QuoteTerms, policies: Iterable[Policy]) -> int:
    """How long the quote holds [h]."""
    if terms.valid_hours is not None:
        return terms.valid_hours
    return min(policy.validity_hours for policy in policies)


def deposit(total: Decimal, share: Decimal | None, unit: Currency) -> Decimal | None:
    """What is due when the quote is accepted [currency]; None for nothing.

    total × share, half-up to the minor unit.
    """
    if share is None:
        return None
    with money.arithmetic():
        return money.amount(total * share, unit)
