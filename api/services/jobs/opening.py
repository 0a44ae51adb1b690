"""How jobs are opened: what each is for, and the plan it is held to from then on."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from api.ports import Conflict, Listing, StoredQuote, UnitOfWork
from api.ports.jobs import Job
from api.services.actor import actor
from api.services.audit import note_all
from api.services.jobs.plan import Calibrated, plan_text, read_plan
from api.services.jobs.terms import JobAsk
from api.services.listings.lookup import there
from api.services.plain_text import plain_line
from api.services.price_book import PriceBooks
from api.services.quotes.decisions import found as found_quote
from api.services.quotes.formats import kept
from api.services.quotes.making import QuoteMaking, local_date, new_id
from api.services.quotes.terms import LineAsk
from pricing import money
from pricing.errors import InvalidInput
from pricing.price_book import Calibration
from pricing.ring_size import RingSize
from pricing.wish import Wish

MOST_TITLE = 200
MOST_REFERENCE = 64
"""Longest name that the maker's own files give a job [characters]."""
_MINUTES_STEP = Decimal("0.000001")


class JobOpening:
    """Opens jobs for accepted quotes and for listings."""

    def __init__(self, books: PriceBooks, making: QuoteMaking) -> None:
        self._books = books
        self._making = making

    def open(
        self, unit: UnitOfWork, asks: Sequence[JobAsk], *, at: datetime
    ) -> tuple[Job, ...]:
        """The jobs that are asked for, numbered in their order.

        Raises:
            NotFound: there is no such quote or listing, or no price book.
            Conflict: the quote is not accepted, or has its job already; or the
                reference is in use.
            InvalidInput: it is for both or neither, or the listing has no such size.
            SpotUnavailable, StaleSpot: as for an estimate of the listing's piece.
        """
        return self.add(unit, [self.draft(unit, ask, at=at) for ask in asks], at=at)

    def add(
        self, unit: UnitOfWork, drafts: Sequence[Job], *, at: datetime
    ) -> tuple[Job, ...]:
        """Number drafts in their order and store them. Raises Conflict as `open`."""
        if not drafts:
            return ()
        year = local_date(self._books.current(), at).year
        first = unit.jobs.next_numbers(year, len(drafts))
        numbered = [
            replace(draft, number=f"J{year}-{first + place:04d}")
            for place, draft in enumerate(drafts)
        ]
        opened = unit.jobs.add(numbered)
        note_all(unit, at, "job.opened", {job.id: _told(job) for job in opened})
        return opened

    def draft(self, unit: UnitOfWork, ask: JobAsk, *, at: datetime) -> Job:
        """The job that is asked for, without a number; nothing is written."""
        if ask.reference is not None:
            _check_reference(ask.reference)
        if (ask.quote is None) == (ask.sku is None):
            raise InvalidInput(
                "a job is for a quote or for a listing; name one of them",
                path=("quote_id",),
            )
        if ask.sku is not None:
            return self._of_listing(there(unit, ask.sku), ask, at=at)
        name = ask.quote or ""
        quote = unit.quotes.get(name) or unit.quotes.by_number(name)
        return _of_quote(unit, found_quote(quote, name), ask, at=at)

    def _of_listing(self, listing: Listing, ask: JobAsk, *, at: datetime) -> Job:
        if ask.size is None:
            raise InvalidInput(
                f"say which size of '{listing.sku}' the job is for", path=("size",)
            )
        wish = Wish(
            size=ask.size,
            quantity=ask.quantity,
            channel=listing.channel,
            policy=listing.policy,
            extras=listing.extras,
        )
        price = _price(listing, ask.size)
        line = LineAsk(coin=listing.coin, wish=wish, unit_price=price)
        offer = self._making.offer([line], ask.spot_price)
        plan = plan_text(
            self._making.members(offer),
            currency=offer.book.currency.code,
            calibrated=offer.book.calibration,
        )
        title = f"{listing.title}, {ask.size.label}"
        return replace(_draft(plan, ask, title=title, at=at), sku=listing.sku)


def _check_reference(name: str) -> None:
    if len(name) > MOST_REFERENCE:
        raise InvalidInput(
            f"{len(name)} characters are too many for a name; use at most "
            f"{MOST_REFERENCE}",
            path=("reference",),
        )
    plain_line(name, "reference", blank=False)


def _told(job: Job) -> dict[str, object]:
    told = {"number": job.number, "quote": job.quote_id, "sku": job.sku}
    return {name: value for name, value in told.items() if value}


def _of_quote(
    unit: UnitOfWork, quote: StoredQuote, ask: JobAsk, *, at: datetime
) -> Job:
    status = quote.status_at(at)
    if status != "accepted":
        raise Conflict(
            f"quote {quote.number} is {status}; a job is opened once it is accepted"
        )
    members = kept(quote)
    book = unit.books.version(quote.book_version)
    plan = plan_text(
        members,
        currency=quote.currency,
        calibrated=_calibrated(book.document if book else "{}"),
    )
    title = "; ".join(map(_line_title, members["shown"], members["wishes"]))
    return replace(_draft(plan, ask, title=title, at=at), quote_id=quote.id)


def _calibrated(book: str) -> Calibrated:
    """The calibrations of a book's document, whichever program wrote it."""
    found = {
        each["coin"]: Calibration(
            coin=each["coin"],
            **{
                name: Decimal(str(each[name]))
                for name in ("slug", "bored")
                if name in each
            },
        )
        for each in json.loads(book).get("calibrations", ())
    }
    return lambda coin: found.get(coin) or Calibration(coin=coin)


def _price(listing: Listing, size: RingSize) -> Decimal:
    us = Decimal(size.marks()["us"] or -1)  # there is a quarter near every size
    for band in listing.bands:
        if band.size_from <= us <= band.size_to:
            return money.tidy(band.price)
    raise InvalidInput(
        f"'{listing.sku}' is not there in {size.label}; its sizes are in its bands",
        path=("size",),
    )


def _line_title(shown: Mapping[str, Any], wish: Mapping[str, Any]) -> str:
    pieces = wish["quantity"]
    times = "" if int(pieces) == 1 else f"{pieces} × "
    return f"{times}{shown['coin']}, {shown['size']}"


def _draft(plan: str, ask: JobAsk, *, title: str, at: datetime) -> Job:
    """A job of a plan, but for its number and what it is for."""
    figures = read_plan(plan)
    with money.arithmetic():
        minutes = sum((line.minutes for line in figures.lines), money.ZERO)
        revenue, cost, margin = figures.net, figures.cost, figures.margin
    return Job(
        id=new_id(),
        number="",
        reference=ask.reference,
        title=title[:MOST_TITLE],
        created_at=at,
        created_by=actor().by,
        currency=figures.currency.code,
        pieces=sum(line.pieces for line in figures.lines),
        floor_margin=figures.floor_margin,
        planned_revenue=revenue,
        planned_cost=cost,
        planned_margin=margin,
        planned_minutes=money.half_up(minutes, _MINUTES_STEP),
        plan=plan,
    )
