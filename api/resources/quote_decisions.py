"""What becomes of quotes: each is decided once, by whoever has read it."""

from __future__ import annotations

from api.endpoint import Call, Examples, Reply, Routes
from api.ports import StoredQuote
from api.problems import CONFLICT, QUOTE_EXPIRED
from api.quotas import QUOTES
from api.resources.quotes import (
    DECISION,
    ETAG,
    ID_IN_BODY,
    LOCATION,
    ONE,
    PATH,
    SHEET_TAGS,
    UNPRICED,
    found,
    sheet,
    tags_of,
    whole,
)
from api.schemas.customer_sheet import CustomerSheetDocument
from api.schemas.quote_documents import QuoteDocument
from api.schemas.quotes import AcceptBody, DeclineBody, QuotePath, RenewBody
from api.security import BENCH, SHOP

routes = Routes(
    "quote_decisions",
    title="Decisions on quotes",
    about="A decision names the version it was made from in If-Match, so that of two "
    "at once one counts. An accepted quote is never changed again.",
)


@routes.operation(
    "POST",
    f"{ONE}/accept",
    scope=SHOP,
    summary="Accept a quote",
    path=QuotePath(),
    body=AcceptBody(),
    body_needed=False,
    answers={200: CustomerSheetDocument()},
    problems=(CONFLICT, QUOTE_EXPIRED),
    conditional=True,
    idempotency="optional",
    quota=QUOTES,
    # It cannot be made within the transaction.
    ahead=lambda call: call.services.installation.secret(SHEET_TAGS),
    answer_headers=ETAG,
    examples=Examples(path=PATH),
)
def accept_quote(call: Call) -> Reply:
    """Take a quote at its word, while it is valid.

    It is accepted once; what was decided before is answered with 409. A shop that
    hands over the token of a held price need not check it itself.
    """
    quote = found(call)
    expected = _expected(call, quote)
    token = call.body()["token"]
    if token is not None:
        call.services.window.holds.check(token, quote)
    return sheet(call, call.services.quotes.accept(quote.id, expected=expected))


@routes.operation(
    "POST",
    f"{ONE}/decline",
    scope=BENCH,
    summary="Decline a quote",
    path=QuotePath(),
    body=DeclineBody(),
    body_needed=False,
    answers={200: QuoteDocument()},
    problems=(CONFLICT,),
    conditional=True,
    idempotency="optional",
    quota=QUOTES,
    answer_headers=ETAG,
    examples=Examples(path=PATH, body={"reason": "The customer chose another ring."}),
)
def decline_quote(call: Call) -> Reply:
    """Put a quote aside, with or without a reason; it may still be renewed."""
    quote = found(call)
    expected = _expected(call, quote)
    reason = call.body()["reason"]
    declined = call.services.quotes.decline(quote.id, expected=expected, reason=reason)
    return whole(call, declined)


@routes.operation(
    "POST",
    f"{ONE}/renew",
    scope=BENCH,
    summary="Renew a quote",
    path=QuotePath(),
    body=RenewBody(),
    body_needed=False,
    answers={201: QuoteDocument()},
    problems=(CONFLICT, *UNPRICED),
    conditional=True,
    idempotency="required",
    quota=QUOTES,
    answer_headers=ETAG | LOCATION,
    links={"read_quote": ID_IN_BODY, "accept_quote": DECISION},
    examples=Examples(path=PATH, body={"spot": {"price": "28.10"}}),
)
def renew_quote(call: Call) -> Reply:
    """Make the same quote anew, by today's price book, coins and spot price.

    The new one names the old one and what it came to; the old one is renewed, and
    can no longer be accepted.
    """
    quote = found(call)
    expected = _expected(call, quote)
    asked = call.body()
    new = call.services.quotes.renew(
        quote.id,
        expected=expected,
        spot_price=asked["spot"]["price"] if asked["spot"] else None,
        valid_hours=asked["valid_hours"],
    )
    return whole(call, new, new=True)


def _expected(call: Call, quote: StoredQuote) -> int | None:
    """The version that If-Match names; None for whatever it is. Raises Refused."""
    return quote.version if call.require_match(*tags_of(call, quote)) else None
