"""The customer's sheet: what the buyer is told of a quote, and nothing else.

Every member is taken by name from what the quote keeps. Nothing is left out of a
larger document, so that nothing new in one can slip through.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from api.ports import QuoteStatus, StoredQuote
from api.services.quotes.formats import Kept
from pricing import money

MayShow = Callable[[str], bool]
"""Whether a price of this source may be shown to others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPiece:
    """One kind of ring: ``unit`` and ``total`` as shown in the channel [currency]."""

    coin: str
    size: str
    quantity: int
    unit: Decimal
    total: Decimal
    extras: tuple[str, ...]
    own_coin: bool
    own_coin_text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetCaution:
    """One thing a buyer should know."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSpot:
    """The silver price the quote stands on [currency/ozt]."""

    price: Decimal
    as_of: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRenewed:
    """The quote it takes the place of."""

    number: str
    total: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerSheet:
    """A quote as its customer sees it; amounts in ``currency``.

    Attributes:
        timezone: the workshop's, to show times in.
        goods, shipping, tax: what ``total`` is made of; the tax is in goods and
            shipping already where ``tax_inclusive``.
        deposit: due when it is accepted, or None; ``balance`` is what remains.
        cautions: each once, only those that concern the buyer.
        spot: None unless the maker wants it shown and it may be.
        renewed_by: number of the quote that took its place, or None.
    """

    number: str
    workshop: str
    status: QuoteStatus
    created_at: datetime
    valid_until: datetime
    decided_at: datetime | None
    timezone: str
    currency: str
    pieces: tuple[SheetPiece, ...]
    goods: Decimal
    shipping: Decimal
    tax: Decimal
    tax_rate: Decimal
    tax_inclusive: bool
    total: Decimal
    deposit: Decimal | None
    balance: Decimal
    make_by: date | None
    customer_note: str
    cautions: tuple[SheetCaution, ...]
    spot: SheetSpot | None
    renews: SheetRenewed | None
    renewed_by: str | None


def customer_sheet(
    quote: StoredQuote,
    document: Kept,
    *,
    status: QuoteStatus,
    renewed_by: StoredQuote | None,
    may_show: MayShow,
) -> CustomerSheet:
    """The sheet of a quote.

    Args:
        quote: as stored.
        document: what it keeps.
        status: by the clock.
        renewed_by: the quote that took its place.
        may_show: asked for each source of the spot price.
    """
    channel, order = document["channel"], document["order"]
    total, deposit = Decimal(order["total"]), _optional(order["deposit"])
    return CustomerSheet(
        number=quote.number,
        workshop=document["workshop"]["title"],
        status=status,
        created_at=quote.created_at,
        valid_until=quote.valid_until,
        decided_at=quote.decided_at,
        timezone=document["workshop"]["timezone"],
        currency=quote.currency,
        pieces=tuple(_pieces(document)),
        goods=Decimal(order["goods"]),
        shipping=Decimal(order["shipping"]),
        tax=Decimal(order["tax"]),
        tax_rate=Decimal(channel["tax_rate"]),
        tax_inclusive=channel["tax_inclusive"],
        total=total,
        deposit=deposit,
        balance=_balance(total, deposit),
        make_by=quote.make_by,
        customer_note=quote.customer_note,
        cautions=tuple(dict.fromkeys(_cautions(document))),
        spot=_spot(document, may_show),
        renews=_renews(document["renews"]),
        renewed_by=renewed_by.number if renewed_by else None,
    )


def _optional(amount: str | None) -> Decimal | None:
    return None if amount is None else Decimal(amount)


def _balance(total: Decimal, deposit: Decimal | None) -> Decimal:
    with money.arithmetic():
        return total if deposit is None else total - deposit


def _pieces(document: Kept) -> Iterator[SheetPiece]:
    for line, shown in zip(document["lines"], document["shown"], strict=True):
        own_coin = line["own_coin"]
        yield SheetPiece(
            coin=shown["coin"],
            size=shown["size"],
            quantity=line["wish"]["quantity"],
            unit=Decimal(line["price"]["unit"]),
            total=Decimal(line["price"]["total"]),
            extras=tuple(shown["extras"]),
            own_coin=own_coin is not None,
            own_coin_text=own_coin["text"] if own_coin else "",
        )


def _cautions(document: Kept) -> Iterator[SheetCaution]:
    for line in document["lines"]:
        for caution in line["cautions"]:
            if caution["audience"] == "buyer":
                yield SheetCaution(code=caution["code"], text=caution["text"])


def _spot(document: Kept, may_show: MayShow) -> SheetSpot | None:
    spots = [line["spot"] for line in document["lines"] if line["spot"] is not None]
    if not (document["show_spot"] and spots and all(map(may_show, _sources(spots[0])))):
        return None
    as_of = spots[0]["as_of"]
    return SheetSpot(
        price=Decimal(spots[0]["price"]),
        as_of=None if as_of is None else datetime.fromisoformat(as_of),
    )


def _sources(spot: Mapping[str, Any]) -> Iterator[str]:
    """Where a spot comes from, and the one or two rates that converted it."""
    yield spot["source"]
    if spot["fx"] is not None:
        yield from spot["fx"]["source"].split(", ")


def _renews(old: Mapping[str, str] | None) -> SheetRenewed | None:
    if old is None:
        return None
    return SheetRenewed(number=old["number"], total=Decimal(old["total"]))
