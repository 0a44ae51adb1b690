"""What a shop does with a client that was generated from the description.

Started as a program of its own, with the address of a server and three keys; its types
are checked against the generated client before.
"""

# ruff: noqa: PLC0415 - the client is there only once it has been generated

from __future__ import annotations

import sys
from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ring_client import AuthenticatedClient
    from ring_client.models import Estimate, EstimateBody, ListingBody, Quote

COIN = "at_50s_1959_1973"
AS_MANY = 2
OTHER_VERSION = 412


def wanted() -> EstimateBody:
    """Two rings."""
    from ring_client.models import EstimateBody, SizeBody, SizeBodySystem

    size = SizeBody(system=SizeBodySystem.US, size="10")
    return EstimateBody(coin=COIN, size=size, quantity=AS_MANY)


def priced(bench: AuthenticatedClient) -> Estimate:
    """What they cost."""
    from ring_client.api.estimates import price_ring
    from ring_client.models import Estimate

    estimate = price_ring.sync(client=bench, body=wanted())
    assert isinstance(estimate, Estimate), estimate
    assert Decimal(estimate.price.total) == AS_MANY * Decimal(estimate.price.unit)
    assert Decimal(estimate.cost.per_piece) < Decimal(estimate.price.unit)
    assert all(line.label and Decimal(line.amount) for line in estimate.cost.lines)
    return estimate


def promised(bench: AuthenticatedClient) -> tuple[Quote, str]:
    """A quote of them, and its entity tag."""
    from ring_client.api.quotes import list_quotes, make_quote
    from ring_client.models import Quote, QuoteBody, QuotePage

    body = QuoteBody(lines=[wanted()], customer_note="For the two of you.")
    name = "generated-client-1"
    made = make_quote.sync_detailed(client=bench, body=body, idempotency_key=name)
    quote = made.parsed
    assert isinstance(quote, Quote), quote
    assert quote.valid_until > quote.created_at
    page = list_quotes.sync(client=bench)
    assert isinstance(page, QuotePage), page
    assert [each.id for each in page.quotes] == [quote.id]
    return quote, made.headers["ETag"]


def taken(shop: AuthenticatedClient, quote: Quote, tag: str) -> None:
    """A shop accepts it, once, and makes none itself."""
    from ring_client.api.decisions_on_quotes import accept_quote
    from ring_client.api.quotes import make_quote
    from ring_client.models import CustomerSheet, Problem, QuoteBody

    sheet = accept_quote.sync(quote.id, client=shop, if_match=tag)
    assert isinstance(sheet, CustomerSheet), sheet
    assert sheet.total == quote.total
    assert sheet.pieces[0].quantity == AS_MANY
    again = accept_quote.sync_detailed(quote.id, client=shop, if_match=tag)
    assert isinstance(again.parsed, Problem), again
    assert again.parsed.status == again.status_code == OTHER_VERSION
    body = QuoteBody(lines=[wanted()])
    name = "generated-client-2"
    refused = make_quote.sync(client=shop, body=body, idempotency_key=name)
    assert isinstance(refused, Problem), refused


def listing() -> ListingBody:
    """A ring for the shelf."""
    from ring_client.models import BandBody, ListingBody, ListingBodyKind

    return ListingBody(
        sku="ring-1",
        title="A band ring",
        kind=ListingBodyKind.MADE_TO_ORDER,
        coin=COIN,
        channel="own_shop",
        policy="retail",
        published=True,
        bands=[BandBody(from_="5", to="9.5", price="189.95")],
    )


def shown(bench: AuthenticatedClient, shop: AuthenticatedClient) -> None:
    """A listing, as the shop sees it."""
    from ring_client.api.listings import add_listing, list_listings
    from ring_client.models import Listing, PublicListingPage

    assert isinstance(add_listing.sync(client=bench, body=listing()), Listing)
    shelf = list_listings.sync(client=shop)
    assert isinstance(shelf, PublicListingPage), shelf
    assert [each.bands[0].price for each in shelf.listings] == ["189.95"]


def asked(window: AuthenticatedClient) -> None:
    """Its price and a size, as a storefront asks for them."""
    from ring_client.api.ring_sizes import convert_ring_size
    from ring_client.api.shop_window import read_window_price
    from ring_client.models import (
        ConvertRingSizeSystem,
        ReadWindowPriceSystem,
        RingSize,
        WindowPrice,
    )

    system = ReadWindowPriceSystem.UK
    price = read_window_price.sync(client=window, sku="ring-1", system=system, size="L")
    assert isinstance(price, WindowPrice), price
    assert price.unit_price == "189.95"
    iso = ConvertRingSizeSystem.ISO
    size = convert_ring_size.sync(client=window, system=iso, size="60")
    assert isinstance(size, RingSize), size
    assert Decimal(size.inside_circumference_mm) == Decimal(60)


def held(window: AuthenticatedClient, shop: AuthenticatedClient) -> None:
    """A price is held by a page, and taken by the shop with its token."""
    from ring_client.api.decisions_on_quotes import accept_quote
    from ring_client.api.held_prices import hold_window_price, list_signing_keys
    from ring_client.models import (
        AcceptBody,
        CustomerSheet,
        SigningKeys,
        WindowHold,
        WindowHoldBody,
        WindowSizeBody,
        WindowSizeBodySystem,
    )

    size = WindowSizeBody(system=WindowSizeBodySystem.US, size="8")
    body = WindowHoldBody(sku="ring-1", size=size)
    name = "generated-client-3"
    made = hold_window_price.sync_detailed(
        client=window, body=body, idempotency_key=name
    )
    hold = made.parsed
    assert isinstance(hold, WindowHold), hold
    assert (hold.unit_price, hold.status.value) == ("189.95", "open")
    keys = list_signing_keys.sync(client=window)
    assert isinstance(keys, SigningKeys), keys
    assert [key.alg.value for key in keys.keys] == ["EdDSA"]
    token = AcceptBody(token=hold.token)
    tag = made.headers["ETag"]
    sheet = accept_quote.sync(hold.id, client=shop, body=token, if_match=tag)
    assert isinstance(sheet, CustomerSheet), sheet
    assert sheet.goods == hold.total


def main(address: str, bench_key: str, shop_key: str, window_key: str) -> None:
    """Price a ring, promise it, take it, and look at what is in the shop."""
    from ring_client import AuthenticatedClient

    bench = AuthenticatedClient(address, bench_key)
    shop = AuthenticatedClient(address, shop_key)
    estimate = priced(bench)
    quote, tag = promised(bench)
    assert quote.lines[0].price.unit == estimate.price.unit
    taken(shop, quote, tag)
    shown(bench, shop)
    window = AuthenticatedClient(address, window_key)
    asked(window)
    held(window, shop)


if __name__ == "__main__":
    main(*sys.argv[1:])
    print("done")  # noqa: T201 - for whoever started it
