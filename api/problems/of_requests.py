"""Kinds of problem with a request itself, whatever it is about.

References:
    [1] RFC 9110 §15.5, RFC 6585 §3 and §4 (428, 429).
    [2] draft-ietf-httpapi-ratelimit-headers-11, the problem type quota-exceeded.
"""

from __future__ import annotations

from api.problems.kind import ProblemType

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
UNKNOWN_CURSOR = ProblemType(
    slug="unknown-cursor",
    status=400,
    title="The cursor leads nowhere",
    meaning="The cursor was not made by this installation, was changed, or belongs to "
    "another list or to other filters than the ones sent with it.",
    remedy="Follow the addresses in the Link header as they are; to filter anew, leave "
    "the cursor out and begin at the first page.",
)
IDEMPOTENCY_KEY_NEEDED = ProblemType(
    slug="idempotency-key-needed",
    status=400,
    title="Give the request a name of its own",
    meaning="The request needs an Idempotency-Key header, so that sending it again "
    "after a broken connection cannot have its effect twice; or the one it has is not "
    "8 to 64 letters, digits, hyphens and underscores, with or without double quotes.",
    remedy="Make a random key for each thing to be done, such as a UUID, and send the "
    "same one again when you repeat the request.",
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
    remedy="Accept application/json, or text/csv for a CSV file, or leave the header "
    "out.",
)
IDEMPOTENCY_IN_PROGRESS = ProblemType(
    slug="idempotency-in-progress",
    status=409,
    title="The same request is still being worked on",
    meaning="Another change, perhaps the first request with this Idempotency-Key, was "
    "being written and took too long to wait for. Nothing of this request was written.",
    remedy="Send the same request with the same key again after the seconds in "
    "Retry-After.",
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
    meaning="A JSON body may hold 64 kB, a CSV file 2 MB.",
    remedy="Send less at a time; split a CSV file between listings, not within one.",
)
UNSUPPORTED_MEDIA_TYPE = ProblemType(
    slug="unsupported-media-type",
    status=415,
    title="The body is in a format this address does not read",
    meaning="The Content-Type header is missing or names another format, character "
    "set or compression than this operation reads.",
    remedy="Send 'Content-Type: application/json', or text/csv where a CSV file is "
    "taken, in UTF-8 and uncompressed.",
)
IDEMPOTENCY_KEY_REUSED = ProblemType(
    slug="idempotency-key-reused",
    status=422,
    title="This Idempotency-Key belongs to another request",
    meaning="In the last 24 hours the same key came with another address or another "
    "body. Bodies are compared by what their JSON says (RFC 8785): the order of "
    'members and blanks do not matter, but the texts "1.50" and "1.5" are two.',
    remedy="Make a new key for each thing to be done; repeat a request unchanged.",
)
PRECONDITION_REQUIRED = ProblemType(
    slug="precondition-required",
    status=428,
    title="Say which version you are changing",
    meaning="A change needs an If-Match header, so that it cannot undo somebody "
    "else's change unseen.",
    remedy="Read the document first and send its ETag in If-Match.",
)
QUOTA_EXCEEDED = ProblemType(
    slug="quota-exceeded",
    status=429,
    title="Too many requests",
    meaning="As many requests as the policies in 'violated-policies' allow in a window "
    "of time have been made already. This one had no effect.",
    remedy="Wait for the seconds in Retry-After. The RateLimit header of every answer "
    "says how many are left, and RateLimit-Policy how many there are.",
    address="https://iana.org/assignments/http-problem-types#quota-exceeded",
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
