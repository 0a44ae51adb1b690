"""What becomes of a quote: each decision on a page of its own, before it is taken."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from api.ports import Conflict, SpotUnavailable, StoredQuote
from api.schemas.quotes import DeclineBody, RenewBody
from api.services.jobs.terms import JobAsk
from api.web.bench.quote_desk import PROMISE
from api.web.bench.quote_words import without_spot
from api.web.bench.quotes import ONE
from api.web.pages import Page, Pages, Redirect
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.errors import PricingError

pages = Pages("quote_decisions", title="Quotes", tab="quote")


@pages.get(f"{ONE}/accept")
def before_accepting(visit: Visit) -> Page:
    """What accepting means, once more."""
    return Page("bench/quote_accept.html", _values(visit))


@pages.post(f"{ONE}/accept", again=before_accepting, once=True)
def accept(visit: Visit) -> Redirect:
    """Take the quote at its word."""
    quote = _quote(visit)
    visit.services.quotes.accept(quote.id, expected=_version(visit))
    return Redirect(_address(quote), done="accepted")


@pages.get(f"{ONE}/decline")
def before_declining(visit: Visit) -> Page:
    """Why the quote is put aside."""
    return Page("bench/quote_decline.html", _values(visit))


@pages.post(f"{ONE}/decline", again=before_declining, once=True)
def decline(visit: Visit) -> Redirect:
    """Put the quote aside."""
    quote, reason = _quote(visit), visit.read(DeclineBody())["reason"]
    visit.services.quotes.decline(quote.id, expected=_version(visit), reason=reason)
    return Redirect(_address(quote), done="declined")


@pages.get(f"{ONE}/renew")
def before_renewing(visit: Visit) -> Page:
    """What it was, and what it would be today."""
    return _both_prices(visit)


@pages.post(f"{ONE}/renew", again=before_renewing, once=True)
def renew(visit: Visit) -> Page | Redirect:
    """Promise it anew, at the price that was on the page and no other."""
    quote = _quote(visit)
    seen = visit.form.deed(PROMISE)
    if seen is None:
        return _both_prices(visit)
    asked = visit.read(RenewBody())
    new = visit.services.quotes.renew(
        quote.id,
        expected=_version(visit),
        spot_price=_spot(asked),
        valid_hours=asked["valid_hours"],
    )
    document = visit.services.quotes.document(new)
    if document["total"] != seen:
        raise Conflict(
            f"the price is {document['total']} {new.currency} by now, not what the "
            "page showed when this was pressed; nothing was changed. Look at it anew"
        )
    return Redirect(_address(new), done="renewed")


@pages.live(f"{ONE}/renew", part="renewal", template="bench/quote_renewal.html")
def renewal(visit: Visit) -> Mapping[str, Any]:
    """Both prices, for what is typed so far."""
    return {**_values(visit), **_renewal(visit)}


@pages.post(f"{ONE}/job", once=True)
def open_job(visit: Visit) -> Redirect:
    """Open the job for an accepted quote."""
    quote = _quote(visit)
    job = visit.services.bench.jobs.open(JobAsk(quote=quote.id))
    return Redirect(f"/bench/jobs/{job.id}")


def _both_prices(visit: Visit) -> Page:
    values = _values(visit)
    try:
        values |= _renewal(visit)
    except SpotUnavailable as error:
        values["trouble"] = without_spot(error.message)
    except (PricingError, Conflict) as error:
        values["trouble"] = "" if visit.form.faults else error.message
    return Page("bench/quote_renew.html", values)


def _renewal(visit: Visit) -> dict[str, Any]:
    asked = visit.read(RenewBody()) if visit.form.sent else {"spot": None}
    seen = visit.services.quotes.previews.renewal(
        _quote(visit), spot_price=_spot(asked), valid_hours=asked.get("valid_hours")
    )
    spots = [line.spot for line in seen.offer.order.lines if line.spot]
    return {
        "new_total": seen.offer.order.total,
        "seen_total": seen.members["order"]["total"],
        "new_until": seen.valid_until,
        "new_make_by": seen.make_by,
        "new_rate": seen.offer.order.margin_rate,
        "new_spot": spots[0].price if spots else None,
    }


def _values(visit: Visit) -> dict[str, Any]:
    quote = _quote(visit)
    services = visit.services.quotes
    lines = services.document(quote)["lines"]
    return {
        "quote": quote,
        "address": _address(quote),
        "sheet": services.sheet(quote),
        "spots": [Decimal(x["spot"]["price"]) for x in lines if x["spot"]],
    }


def _quote(visit: Visit) -> StoredQuote:
    quote: StoredQuote = visit.services.quotes.get(visit.path["quote_id"])
    return quote


def _address(quote: StoredQuote) -> str:
    return ONE.replace("<quote_id>", quote.id)


def _version(visit: Visit) -> int:
    """The version that was on the page; none that ever is where it is missing."""
    return whole_number(visit.form.text("_version")) or 0


def _spot(asked: Mapping[str, Any]) -> Any:
    return asked["spot"]["price"] if asked["spot"] else None
