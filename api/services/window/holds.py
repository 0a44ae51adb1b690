"""Holding a price for a buyer: a stored quote at the listing's price, and its token.

The bench sees the quote with its whole estimate. A storefront sees the few members of
``WindowHold`` alone, as they were written down when it was made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from api.ports import (
    CannotHold,
    Clock,
    KeyRecord,
    QuoteStatus,
    SpotUnavailable,
    StoredQuote,
    UnitOfWork,
)
from api.services.quotes.decisions import found
from api.services.quotes.document import exact
from api.services.quotes.formats import kept
from api.services.quotes.making import Issue, QuoteMaking, new_id
from api.services.quotes.members import Offer
from api.services.quotes.terms import LineAsk, QuoteTerms
from api.services.snapshots import Snapshots
from api.services.window.listings import Offered, WindowListings
from api.services.window.prices import Charge, WindowSize, charged
from api.services.window.signing import Signing, expiry
from pricing.errors import InvalidInput, PricingError
from pricing.ring_size import RingSize
from pricing.wish import Wish

LONGEST_HOURS = 24
"""How long a price is held at most [h]; the policy's time counts where it is less."""
_REFUSED = (
    "this price cannot be held at the moment; try again later, or ask the workshop for "
    "a quote"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowHold:
    """A held price as the storefront that asked for it sees it; in ``currency``.

    Attributes:
        id, number: of the quote that it is.
        status: by the clock.
        total, tax: without shipping, which the shop adds.
        tax_included: whether ``tax`` is in ``total``, or comes on top.
        token: signed, for the shop's server to check without asking.
    """

    id: str
    number: str
    status: QuoteStatus
    sku: str
    size: WindowSize
    quantity: int
    unit_price: Decimal
    total: Decimal
    tax: Decimal
    tax_included: bool
    currency: str
    valid_until: datetime
    token: str


class WindowHolds:
    """Prices held for buyers."""

    def __init__(
        self,
        snapshots: Snapshots,
        clock: Clock,
        *,
        listings: WindowListings,
        making: QuoteMaking,
        signing: Signing,
    ) -> None:
        self._snapshots = snapshots
        self._clock = clock
        self._listings = listings
        self._making = making
        self._signing = signing

    def work_out(self, sku: str, size: RingSize, quantity: int) -> None:
        """Work out what a hold stands on; `hold` is quick then. Raises as it does."""
        with self._snapshots.held():
            self._offer(sku, size, quantity)

    def hold(self, sku: str, size: RingSize, quantity: int) -> StoredQuote:
        """Promise the price of some pieces in a size, as it is at this moment.

        Args:
            sku: a published listing.
            size: finger size, in whatever system.
            quantity: pieces [count].

        Raises:
            NotFound: there is no such listing, or it is not published.
            SizeNotOffered: no band holds the size.
            CannotHold: the workshop cannot promise it now, for whatever reason.
        """

        def add(unit: UnitOfWork) -> StoredQuote:
            offered, charge, offer = self._offer(sku, size, quantity)
            line = offer.order.lines[0]
            hours = min(line.policy.validity_hours, LONGEST_HOURS)
            quote_id, at = new_id(), self._clock.now()
            told = _told(offered, charge, size, quantity)
            token = self._signing.sign(
                unit,
                {
                    "jti": quote_id,
                    "iat": expiry(at),
                    "exp": expiry(at + timedelta(hours=hours)),
                    **told,
                },
            )
            issue = Issue(id=quote_id, at=at, held={**told, "token": token})
            terms = QuoteTerms(valid_hours=hours)
            return self._making.add(unit, offer, terms, issue=issue)

        with self._snapshots.held():
            return self._snapshots.transaction(add)

    def get(self, quote_id: str, key: KeyRecord | None) -> StoredQuote:
        """The held price of an id, for the key that asked for it, or one of the shop.

        Raises:
            NotFound: there is none, or it is another key's.
        """
        read = self._snapshots.read
        quote = found(read(lambda unit: unit.quotes.get(quote_id)), quote_id)
        theirs = key is not None and (
            key.scope != "window" or quote.created_by == key.id
        )
        mine = theirs and kept(quote)["held"] is not None
        return found(quote if mine else None, quote_id)

    def shown(self, quote: StoredQuote) -> WindowHold:
        """What a storefront sees of a held price."""
        held: Mapping[str, Any] = kept(quote)["held"]
        return WindowHold(
            id=quote.id,
            number=quote.number,
            status=quote.status_at(self._clock.now()),
            sku=held["sku"],
            size=WindowSize(**held["size"]),
            quantity=held["quantity"],
            unit_price=Decimal(held["unit_price"]),
            total=Decimal(held["total"]),
            tax=Decimal(held["tax"]),
            tax_included=held["tax_included"],
            currency=held["currency"],
            valid_until=quote.valid_until,
            token=held["token"],
        )

    def check(self, token: str, quote: StoredQuote) -> None:
        """Pass only for the token of this very quote, whether it is still valid or not.

        Raises:
            InvalidInput: it is none of ours, was changed, or belongs to another.
        """
        claims = self._signing.claims(token, expired=True)
        if claims["jti"] != quote.id:
            raise InvalidInput("this price token is of another quote", path=("token",))

    def _offer(
        self, sku: str, size: RingSize, quantity: int
    ) -> tuple[Offered, Charge, Offer]:
        offered = self._listings.read(sku)
        charge = charged(offered, size, quantity)
        listing = offered.listing
        wish = Wish(
            size=size,
            quantity=quantity,
            channel=listing.channel,
            policy=listing.policy,
            extras=listing.extras,
        )
        ask = LineAsk(coin=listing.coin, wish=wish, unit_price=charge.unit_price)
        try:
            offer = self._making.offer([ask], None)
        except (PricingError, SpotUnavailable) as error:
            # Why is nothing that a buyer may know.
            raise CannotHold(_REFUSED) from error
        return offered, charge, offer


def _told(
    offered: Offered, charge: Charge, size: RingSize, quantity: int
) -> dict[str, object]:
    return {
        "sku": offered.shown.sku,
        "size": {"system": size.system, "size": size.given},
        "quantity": quantity,
        "unit_price": exact(charge.unit_price),
        "total": exact(charge.total),
        "tax": exact(charge.tax),
        "tax_included": offered.shown.tax_included,
        "currency": offered.shown.currency,
    }
