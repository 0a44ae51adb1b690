"""What a quote would be, before it is one."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import QuoteFilter
from api.services.quotes.formats import kept
from api.services.quotes.terms import QuoteTerms
from pricing.errors import InvalidInput
from tests.services.promising import DOLLAR, ask

PAIR = (ask(), ask(DOLLAR, size="6.5", quantity=2))
HALF = QuoteTerms(deposit_share=Decimal("0.5"))


def stored(promises):
    wanted = QuoteFilter(now=promises.clock.now())
    return promises.quotes.page(wanted, limit=10).quotes


def test_it_says_what_the_quote_then_says(promises):
    seen = promises.quotes.previews.of(PAIR, HALF)
    made = promises.quotes.create(PAIR, HALF)
    document = kept(made)
    assert seen.members["lines"] == document["lines"]
    assert seen.members["order"] | {"deposit": f"{seen.deposit}"} == document["order"]
    assert (seen.valid_until, seen.make_by) == (made.valid_until, made.make_by)
    assert seen.deposit == made.deposit


def test_it_stores_nothing(promises):
    promises.quotes.previews.of(PAIR, HALF)
    assert not stored(promises)
    assert not promises.entries()


def test_it_is_ready_after_what_was_promised_before(promises):
    alone = promises.quotes.previews.of(PAIR, HALF)
    for _ in range(5):
        quote = promises.create(ask(quantity=20))
        promises.quotes.accept(quote.id, expected=None)
    assert promises.quotes.previews.of(PAIR, HALF).make_by > alone.make_by


def test_it_holds_as_long_as_is_asked(promises):
    seen = promises.quotes.previews.of(PAIR, QuoteTerms(valid_hours=5))
    assert seen.valid_until == promises.clock.now() + timedelta(hours=5)


def test_terms_that_no_quote_takes_are_refused(promises):
    with pytest.raises(InvalidInput, match="deposit_share"):
        promises.quotes.previews.of(PAIR, QuoteTerms(deposit_share=Decimal(2)))


def test_a_renewal_is_shown_as_it_would_be(promises):
    old = promises.create(ask(spot="20.00"))
    seen = promises.quotes.previews.renewal(old, spot_price=Decimal(60), valid_hours=9)
    assert [each.id for each in stored(promises)] == [old.id]
    new = promises.quotes.renew(
        old.id, expected=old.version, spot_price=Decimal(60), valid_hours=9
    )
    assert seen.members["order"] == kept(new)["order"]
    assert seen.valid_until == new.valid_until
    assert seen.offer.order.total > old.total


def test_a_renewal_for_no_time_at_all_is_refused(promises):
    with pytest.raises(InvalidInput, match="valid_hours"):
        promises.quotes.previews.renewal(promises.create(), valid_hours=0)
