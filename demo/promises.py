"""What the demo promises: a pair for a wedding, and one ring that waited too long.

Whom it is promised to is invented, as the workshop is; nobody is named.
"""

from __future__ import annotations

from decimal import Decimal

from api.app import Services
from api.cli.quote_changes import accepted, renewed
from api.cli.quote_words import Quote, whole
from api.ports import StoredQuote
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.ring_size import ring_size
from pricing.wish import Wish

COIN = "at_50s_1959_1973"
LATER = Decimal("36.40")
"""Silver after it has moved, invented [EUR/ozt]."""
NOTE = "As we wrote to each other: two rings of one kind of coin, for a wedding."


def pair(services: Services) -> StoredQuote:
    """Two rings for a customer who asked by mail; half of the price in advance."""
    asks = [_ring("10"), _ring("6.5")]
    terms = QuoteTerms(customer_note=NOTE, deposit_share=Decimal("0.50"))
    return services.quotes.create(asks, terms)


def single(services: Services) -> StoredQuote:
    """One ring, whose customer may see what silver it was reckoned with."""
    return services.quotes.create([_ring("8.5")], QuoteTerms(show_spot=True))


def _ring(size: str) -> LineAsk:
    return LineAsk(coin=COIN, wish=Wish(size=ring_size("us", size)))


def told(services: Services, quote: StoredQuote) -> str:
    """The whole quote, as `fineweight quote show` tells it."""
    return whole(*_both(services, quote))


def accept(services: Services, quote: StoredQuote) -> str:
    """The customer says yes; what the bench has to do now."""
    decided = services.quotes.accept(quote.id, expected=quote.version)
    return accepted(services.quotes.document(decided))


def renew(services: Services, quote: StoredQuote) -> str:
    """The same ring by silver of a later day; both prices."""
    before = _both(services, quote)
    new = services.quotes.renew(quote.id, expected=quote.version, spot_price=LATER)
    return renewed(before, _both(services, new))


def _both(services: Services, quote: StoredQuote) -> Quote:
    return services.quotes.document(quote), services.quotes.sheet(quote)
