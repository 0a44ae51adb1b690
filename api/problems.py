"""Every kind of problem the API answers with; each has a page of its own.

References:
    [1] RFC 9457, Problem Details for HTTP APIs: ``type``, ``title``, ``status``,
        ``detail``, ``instance``, and one document per kind, never a mixed one (§3).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemType:
    """One kind of problem: what it is called, what it means, what to do."""

    slug: str
    status: int
    title: str
    meaning: str
    remedy: str

    @property
    def uri(self) -> str:
        """Where its page is; also the ``type`` of its documents."""
        return f"/docs/problems/{self.slug}"


MALFORMED_JSON = ProblemType(
    slug="malformed-json",
    status=400,
    title="The body is not acceptable JSON",
    meaning="The body could not be read as JSON in UTF-8, or holds something JSON "
    "programs disagree about: a member named twice, NaN, a number too long, half a "
    "character, control characters, or more than 32 levels of nesting.",
    remedy="Write the body with a JSON library, amounts as text, every member once.",
)
BAD_REQUEST = ProblemType(
    slug="bad-request",
    status=400,
    title="The request cannot be understood",
    meaning="The request breaks a rule of HTTP itself, in its address or a header.",
    remedy="Check the header or parameter the detail names, then send it again.",
)
REPEATED_PARAMETER = ProblemType(
    slug="repeated-parameter",
    status=400,
    title="A query parameter is given more than once",
    meaning="Every query parameter takes one value; with two, programs in between "
    "could each pick another one.",
    remedy="Give each query parameter once.",
)
NOT_AUTHENTICATED = ProblemType(
    slug="not-authenticated",
    status=401,
    title="A valid key is needed",
    meaning="There is no key in the request, or the key is not known or was revoked. "
    "The answer is the same in each case.",
    remedy="Send 'Authorization: Bearer' and a key made with 'fineweight key create'.",
)
NOT_ALLOWED = ProblemType(
    slug="not-allowed",
    status=403,
    title="The key may not do this",
    meaning="The key is valid but its scope does not reach this operation. A bench key "
    "may do everything, a shop key what is marked shop or window, a window key only "
    "what is marked window.",
    remedy="Use a key of the scope the operation names. Never put a bench key into "
    "a page or a shop.",
)
NOT_FOUND = ProblemType(
    slug="not-found",
    status=404,
    title="There is nothing here",
    meaning="The address names nothing, or nothing that is still there.",
    remedy="Check the address for spelling and for a slash too many at its end.",
)
METHOD_NOT_ALLOWED = ProblemType(
    slug="method-not-allowed",
    status=405,
    title="This address does not take this method",
    meaning="The address exists but not for this HTTP method.",
    remedy="Use one of the methods in the Allow header of the answer.",
)
NOT_ACCEPTABLE = ProblemType(
    slug="not-acceptable",
    status=406,
    title="No answer in a format you accept",
    meaning="The Accept header leaves out the format this operation answers in.",
    remedy="Accept application/json, or leave the header out.",
)
CONFLICT = ProblemType(
    slug="conflict",
    status=409,
    title="The request is at odds with what is stored",
    meaning="Something of that name is already there, or is in a state in which this "
    "cannot be done.",
    remedy="Read the present state, decide again, and send the request anew.",
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
PRECONDITION_FAILED = ProblemType(
    slug="precondition-failed",
    status=412,
    title="It has changed since you read it",
    meaning="The If-Match header names a version that is no longer the current one: "
    "somebody changed it in between. Nothing was written.",
    remedy="Read it again, look at what changed, and send your change with the new "
    "ETag.",
)
BODY_TOO_LARGE = ProblemType(
    slug="body-too-large",
    status=413,
    title="The body is too large",
    meaning="A JSON body may hold 64 kB.",
    remedy="Send less at a time.",
)
UNSUPPORTED_MEDIA_TYPE = ProblemType(
    slug="unsupported-media-type",
    status=415,
    title="The body is in a format this address does not read",
    meaning="The Content-Type header is missing or names another format, character "
    "set or compression than this operation reads.",
    remedy="Send 'Content-Type: application/json', in UTF-8 and uncompressed.",
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
PRECONDITION_REQUIRED = ProblemType(
    slug="precondition-required",
    status=428,
    title="Say which version you are changing",
    meaning="A change needs an If-Match header, so that it cannot undo somebody "
    "else's change unseen.",
    remedy="Read the document first and send its ETag in If-Match.",
)
INTERNAL_ERROR = ProblemType(
    slug="internal-error",
    status=500,
    title="Something went wrong on our side",
    meaning="The server met a fault of its own. Nothing was half written. The log "
    "holds the details under the request id.",
    remedy="Try once more; if it happens again, look up the request id in the log.",
)
NOT_READY = ProblemType(
    slug="not-ready",
    status=503,
    title="The service is not ready",
    meaning="The database cannot be reached or written, or its tables are of another "
    "version than the program.",
    remedy="Wait and try again; the owner runs 'fineweight db upgrade' after an "
    "upgrade.",
)
STORAGE_BUSY = ProblemType(
    slug="storage-busy",
    status=503,
    title="The database cannot answer now",
    meaning="Another change is being written, or the database is out of reach. "
    "Nothing of this request was written.",
    remedy="Send the request again after the seconds in Retry-After.",
)

PROBLEMS: Mapping[str, ProblemType] = MappingProxyType(
    {kind.slug: kind for kind in list(globals().values()) if type(kind) is ProblemType}
)
"""Every kind of problem by its slug, in order of status."""
