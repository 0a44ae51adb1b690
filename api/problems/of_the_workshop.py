"""Kinds of problem with what a request asks of the workshop."""

from __future__ import annotations

from api.problems.kind import ProblemType

CONFLICT = ProblemType(
    slug="conflict",
    status=409,
    title="The request is at odds with what is stored",
    meaning="Something of that name is already there, or is in a state in which this "
    "cannot be done.",
    remedy="Read the present state, decide again, and send the request anew.",
)
QUOTE_EXPIRED = ProblemType(
    slug="quote-expired",
    status=409,
    title="The quote is no longer valid",
    meaning="A quote can be accepted until the instant it names in 'valid_until', and "
    "that has passed. Its price stood on a spot price that may have moved.",
    remedy="Renew the quote at today's prices, show the customer what changed, and "
    "accept the new one.",
)
CANNOT_HOLD = ProblemType(
    slug="cannot-hold",
    status=409,
    title="This price cannot be held now",
    meaning="The ring is shown at this price, but the workshop cannot promise it at "
    "the moment. The answer is the same whatever the reason.",
    remedy="Try again later, or ask the workshop for a quote.",
)
SPOT_UNAVAILABLE = ProblemType(
    slug="spot-unavailable",
    status=409,
    title="There is no spot price to reckon with",
    meaning="No spot price was entered or fetched that still holds, or none that can "
    "be brought into the price book's currency, and the request brought none.",
    remedy="Enter one with POST /v1/spot-prices or 'fineweight spot set', fetch one "
    "with POST /v1/spot-prices/fetch, or send one with the request. A rate of "
    "exchange is entered the same way, with the currency's code as 'metal'.",
)
SPOT_STALE = ProblemType(
    slug="spot-stale",
    status=409,
    title="The spot price is too old",
    meaning="The newest spot price, or the rate of exchange that converts it, is older "
    "in hours of open market than the policy's 'stale_spot' lets it be, and nothing is "
    "priced on a figure that may have moved.",
    remedy="Enter or fetch today's spot price, or send one with the request.",
)
INVALID_INPUT = ProblemType(
    slug="invalid-input",
    status=422,
    title="Some of the values cannot be used",
    meaning="The request is well formed but one or more values are missing, of the "
    "wrong kind, out of range or at odds with each other. All of them are listed.",
    remedy="Mend each entry of 'errors': 'pointer' leads to the member of the body, "
    "'parameter' names a query parameter, 'header' a header.",
)
SIZE_NOT_OFFERED = ProblemType(
    slug="size-not-offered",
    status=422,
    title="The ring is not offered in this size",
    meaning="The listing has bands of sizes, and none of them holds the size that was "
    "asked for, at its nearest quarter of a US size.",
    remedy="Take a size out of the ranges that the detail names, or ask the workshop "
    "for a quote.",
)
UNKNOWN_KEY = ProblemType(
    slug="unknown-key",
    status=422,
    title="A key names nothing",
    meaning="The request names a coin, channel, policy, extra or other entry that the "
    "price book or the catalogue does not have.",
    remedy="Use one of the keys the detail lists, or add the entry first.",
)
NOT_MAKEABLE = ProblemType(
    slug="not-makeable",
    status=422,
    title="This ring cannot be made from this coin",
    meaning="Coin, hole and finger size do not go together: the wall would be too "
    "thin, the land too short, or the size out of reach.",
    remedy="Take the nearest makeable size or hole the answer names, or another coin.",
)
NO_POSSIBLE_PRICE = ProblemType(
    slug="no-possible-price",
    status=422,
    title="No price can meet the pricing rules",
    meaning="A rule of the policy cannot be met at any price, for example when the "
    "target margin and the channel's fees together take all of it.",
    remedy="Lower the rule the detail names, or the fees, in the price book.",
)
BOOK_REFUSED = ProblemType(
    slug="book-refused",
    status=422,
    title="The price book has faults",
    meaning="The price book was refused whole; nothing of it is used. Every fault is "
    "listed.",
    remedy="Mend each entry of 'errors' and send the whole book again.",
)
