"""Quotes: prices promised until a time, and what became of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from flask import request

from api.cursors import LINKS, SECRET, Listing
from api.endpoint import Call, Examples, Reply, Routes
from api.ports import QuoteFilter, StoredQuote
from api.preconditions import tag, tag_shown
from api.problems import (
    NO_POSSIBLE_PRICE,
    NOT_FOUND,
    NOT_MAKEABLE,
    SPOT_STALE,
    SPOT_UNAVAILABLE,
    UNKNOWN_CURSOR,
    UNKNOWN_KEY,
)
from api.quotas import QUOTES
from api.schemas.customer_sheet import CustomerSheetDocument
from api.schemas.quote_documents import QuoteDocument, QuotePageDocument
from api.schemas.quotes import (
    QuoteBody,
    QuotePath,
    QuotesQuery,
)
from api.security import BENCH, SHOP
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.errors import InvalidInput

ADDRESS = "/v1/quotes"
ONE = f"{ADDRESS}/<quote_id>"
ETAG = {"ETag": "Its version; a decision has to name it in If-Match."}
LOCATION = {"Location": "Where the new quote is."}
PATH = {"quote_id": "zQ0r9sHq3mX1vT7cLd5w2A"}
UNPRICED = (UNKNOWN_KEY, NOT_MAKEABLE, NO_POSSIBLE_PRICE, SPOT_UNAVAILABLE, SPOT_STALE)
ID_IN_BODY = {"quote_id": "$response.body#/id"}
DECISION = ID_IN_BODY | {"header.If-Match": "$response.header.ETag"}
SHEET_TAGS = "sheet-tags"
"""The secret that sheets are told apart with."""
_SHEET = CustomerSheetDocument()
_PAIR = {
    "lines": [
        {
            "coin": "at_50s_1959_1973",
            "size": {"system": "us", "size": "10"},
            "spot": {"price": "27.50"},
        },
        {"coin": "at_50s_1959_1973", "size": {"system": "us", "size": "6.5"}},
    ],
    "customer_note": "Engraving inside both rings, as agreed.",
    "deposit_share": "0.50",
}

routes = Routes(
    "quotes",
    title="Quotes",
    about="Prices promised until a time. A quote keeps all it stands on, so that it "
    "reads the same whatever changes later. Quotes hold costs and margins: a buyer is "
    "shown the sheet, which holds none.",
)


@routes.operation(
    "POST",
    ADDRESS,
    scope=BENCH,
    summary="Make a quote",
    body=QuoteBody(),
    answers={201: QuoteDocument()},
    problems=(NOT_FOUND, *UNPRICED),
    idempotency="required",
    quota=QUOTES,
    answer_headers=ETAG | LOCATION,
    links={
        "read_quote": ID_IN_BODY,
        "read_quote_sheet": ID_IN_BODY,
        "accept_quote": DECISION,
        "decline_quote": DECISION,
        "renew_quote": DECISION,
    },
    examples=Examples(body=_PAIR),
)
def make_quote(call: Call) -> Reply:
    """Price one or more kinds of ring together, and promise the price.

    Fixed fees and shipping fall once an order, and quantity breaks count all of its
    pieces. The answer is kept for 24 hours under its Idempotency-Key.
    """
    asked = call.body()
    asks = [LineAsk(**line) for line in asked.pop("lines")]
    with _faults_in(call.json()):
        made = call.services.quotes.create(asks, QuoteTerms(**asked))
    return whole(call, made, new=True)


@routes.operation(
    "GET",
    ADDRESS,
    scope=BENCH,
    summary="List quotes",
    query=QuotesQuery(),
    answers={200: QuotePageDocument()},
    problems=(UNKNOWN_CURSOR,),
    quota=QUOTES,
    answer_headers={"Link": LINKS},
    examples=Examples(query={"status": "open", "limit": "10"}),
)
def list_quotes(call: Call) -> Reply:
    """List quotes, newest first; follow the Link header for more.

    Whoever follows it sees each quote once, whatever is made meanwhile.
    """
    asked, services = call.query, call.services
    listing = Listing(
        path=ADDRESS,
        query=request.args.to_dict(),
        secret=services.installation.secret(SECRET),
    )
    place = listing.place()
    wanted = QuoteFilter(
        now=services.clock.now(),
        status=asked.get("status"),
        created_from=asked.get("created_from"),
        created_before=asked.get("created_before"),
        text=asked.get("text", ""),
    )
    page = services.quotes.page(
        wanted, limit=asked["limit"], past=place.past, newer=place.newer
    )
    links = listing.links(
        [quote.seq for quote in page.quotes], older=page.older, newer=page.newer
    )
    return Reply({"quotes": services.quotes.summaries(page.quotes)}, headers=links)


@routes.operation(
    "GET",
    ONE,
    scope=BENCH,
    summary="Read a quote",
    path=QuotePath(),
    answers={200: QuoteDocument()},
    quota=QUOTES,
    answer_headers=ETAG,
    examples=Examples(path=PATH),
)
def read_quote(call: Call) -> Reply:
    """Read a quote with all it stands on, as it was promised."""
    return whole(call, found(call))


@routes.operation(
    "GET",
    f"{ONE}/sheet",
    scope=SHOP,
    summary="Read what the customer is shown",
    path=QuotePath(),
    answers={200: CustomerSheetDocument()},
    quota=QUOTES,
    answer_headers=ETAG,
    examples=Examples(path=PATH),
)
def read_quote_sheet(call: Call) -> Reply:
    """Read a quote as its customer sees it: no cost, no margin, no minutes."""
    return sheet(call, found(call))


def found(call: Call) -> StoredQuote:
    """The quote that the path names. Raises NotFound."""
    quote: StoredQuote = call.services.quotes.get(call.path["quote_id"])
    return quote


def tags_of(call: Call, quote: StoredQuote) -> tuple[str, str]:
    """Entity tags of its version: the present one, then the other it may have.

    An open quote becomes an expired one by time alone: it reads differently then,
    without a change of version.
    """
    tags = tag("quote", quote.version), tag("quote-expired", quote.version)
    return tags[::-1] if call.services.quotes.status(quote) == "expired" else tags


def whole(call: Call, quote: StoredQuote, *, new: bool = False) -> Reply:
    """Answer with a quote and all it stands on, for the bench alone."""
    headers = {"Location": f"{ADDRESS}/{quote.id}"} if new else {}
    document = call.services.quotes.document(quote)
    return Reply(document, etag=tags_of(call, quote)[0], headers=headers)


def sheet(call: Call, quote: StoredQuote) -> Reply:
    """Answer with what the customer of a quote may know.

    Its tag is of what is shown: a spot price comes and goes with the leave of the
    feed it is from, which is no version of the quote.
    """
    shown = call.services.quotes.sheet(quote)
    etag = tag_shown(
        tags_of(call, quote)[0],
        _SHEET.encoded(shown),
        call.services.installation.secret(SHEET_TAGS),
    )
    return Reply(shown, etag=etag)


@contextmanager
def _faults_in(body: Mapping[str, Any]) -> Iterator[None]:
    """Let faults inside a stored coin point at its key, all that the body has of it."""
    try:
        yield
    except InvalidInput as error:
        match error.path:
            case ["lines", int(place), "coin", *_] if isinstance(
                body["lines"][place]["coin"], str
            ):
                path = error.path[:3]
                raise InvalidInput(error.message, path=path) from error
        raise
