"""What a shop does with a client that was generated from the description.

Started as a program of its own, with the address of a server and three keys; its types
are checked against the generated client before.
"""

from __future__ import annotations

import sys
from decimal import Decimal

AS_MANY = 2
OTHER_VERSION = 412


def main(address: str, bench_key: str, shop_key: str, window_key: str) -> None:
    """Price a ring, promise it, take it, and look at what is in the shop."""
    # The client is there only once it has been generated.
    from ring_client import AuthenticatedClient  # noqa: PLC0415
    from ring_client.api.decisions_on_quotes import accept_quote  # noqa: PLC0415
    from ring_client.api.estimates import price_ring  # noqa: PLC0415
    from ring_client.api.listings import add_listing, list_listings  # noqa: PLC0415
    from ring_client.api.quotes import list_quotes, make_quote  # noqa: PLC0415
    from ring_client.api.ring_sizes import convert_ring_size  # noqa: PLC0415
    from ring_client.api.shop_window import read_window_price  # noqa: PLC0415
    from ring_client.models import (  # noqa: PLC0415
        BandBody,
        ConvertRingSizeSystem,
        CustomerSheet,
        Estimate,
        EstimateBody,
        ListingBody,
        ListingBodyKind,
        Problem,
        PublicListingPage,
        Quote,
        QuoteBody,
        QuotePage,
        ReadWindowPriceSystem,
        RingSize,
        SizeBody,
        SizeBodySystem,
        WindowPrice,
    )

    bench = AuthenticatedClient(address, bench_key)
    shop = AuthenticatedClient(address, shop_key)
    window = AuthenticatedClient(address, window_key)
    ring = EstimateBody(
        coin="at_50s_1959_1973",
        size=SizeBody(system=SizeBodySystem.US, size="10"),
        quantity=AS_MANY,
    )

    estimate = price_ring.sync(client=bench, body=ring)
    assert isinstance(estimate, Estimate), estimate
    assert Decimal(estimate.price.total) == AS_MANY * Decimal(estimate.price.unit)
    assert Decimal(estimate.cost.per_piece) < Decimal(estimate.price.unit)
    assert all(line.label and Decimal(line.amount) for line in estimate.cost.lines)

    made = make_quote.sync_detailed(
        client=bench,
        body=QuoteBody(lines=[ring], customer_note="For the two of you."),
        idempotency_key="generated-client-1",
    )
    quote = made.parsed
    assert isinstance(quote, Quote), quote
    assert quote.valid_until > quote.created_at
    assert quote.lines[0].price.unit == estimate.price.unit
    page = list_quotes.sync(client=bench)
    assert isinstance(page, QuotePage), page
    assert [each.id for each in page.quotes] == [quote.id]

    tag = made.headers["ETag"]
    sheet = accept_quote.sync(quote.id, client=shop, if_match=tag)
    assert isinstance(sheet, CustomerSheet), sheet
    assert sheet.total == quote.total
    assert sheet.pieces[0].quantity == AS_MANY
    again = accept_quote.sync_detailed(quote.id, client=shop, if_match=tag)
    assert isinstance(again.parsed, Problem), again
    assert again.parsed.status == again.status_code == OTHER_VERSION
    refused = make_quote.sync(
        client=shop,
        body=QuoteBody(lines=[ring]),
        idempotency_key="generated-client-2",
    )
    assert isinstance(refused, Problem), refused

    listing = ListingBody(
        sku="ring-1",
        title="A band ring",
        kind=ListingBodyKind.MADE_TO_ORDER,
        coin="at_50s_1959_1973",
        channel="own_shop",
        policy="retail",
        published=True,
        bands=[BandBody(from_="5", to="9.5", price="189.95")],
    )
    assert not isinstance(add_listing.sync(client=bench, body=listing), Problem)
    shelf = list_listings.sync(client=shop)
    assert isinstance(shelf, PublicListingPage), shelf
    assert [each.bands[0].price for each in shelf.listings] == ["189.95"]
    price = read_window_price.sync(
        client=window, sku="ring-1", system=ReadWindowPriceSystem.UK, size="L"
    )
    assert isinstance(price, WindowPrice), price
    assert price.unit_price == "189.95"

    size = convert_ring_size.sync(
        client=window, system=ConvertRingSizeSystem.ISO, size="60"
    )
    assert isinstance(size, RingSize), size
    assert Decimal(size.inside_circumference_mm) == Decimal(60)


if __name__ == "__main__":
    main(*sys.argv[1:])
    print("done")  # noqa: T201 - for whoever started it
