"""Every kind of problem the API answers with; each has a page of its own."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from api.problems.kind import MEDIA_TYPE, ProblemType
from api.problems.of_requests import (
    BAD_REQUEST,
    BODY_TOO_LARGE,
    IDEMPOTENCY_IN_PROGRESS,
    IDEMPOTENCY_KEY_NEEDED,
    IDEMPOTENCY_KEY_REUSED,
    INTERNAL_ERROR,
    MALFORMED_JSON,
    METHOD_NOT_ALLOWED,
    NOT_ACCEPTABLE,
    NOT_ALLOWED,
    NOT_AUTHENTICATED,
    NOT_FOUND,
    NOT_READY,
    PRECONDITION_FAILED,
    PRECONDITION_REQUIRED,
    QUOTA_EXCEEDED,
    REPEATED_PARAMETER,
    STORAGE_BUSY,
    UNKNOWN_CURSOR,
    UNSUPPORTED_MEDIA_TYPE,
)
from api.problems.of_the_workshop import (
    BOOK_REFUSED,
    CANNOT_HOLD,
    CONFLICT,
    INVALID_INPUT,
    NO_POSSIBLE_PRICE,
    NOT_MAKEABLE,
    QUOTE_EXPIRED,
    SIZE_NOT_OFFERED,
    SPOT_STALE,
    SPOT_UNAVAILABLE,
    UNKNOWN_KEY,
)

__all__ = [
    "BAD_REQUEST",
    "BODY_TOO_LARGE",
    "BOOK_REFUSED",
    "CANNOT_HOLD",
    "CONFLICT",
    "IDEMPOTENCY_IN_PROGRESS",
    "IDEMPOTENCY_KEY_NEEDED",
    "IDEMPOTENCY_KEY_REUSED",
    "INTERNAL_ERROR",
    "INVALID_INPUT",
    "MALFORMED_JSON",
    "MEDIA_TYPE",
    "METHOD_NOT_ALLOWED",
    "NOT_ACCEPTABLE",
    "NOT_ALLOWED",
    "NOT_AUTHENTICATED",
    "NOT_FOUND",
    "NOT_MAKEABLE",
    "NOT_READY",
    "NO_POSSIBLE_PRICE",
    "PRECONDITION_FAILED",
    "PRECONDITION_REQUIRED",
    "PROBLEMS",
    "QUOTA_EXCEEDED",
    "QUOTE_EXPIRED",
    "REPEATED_PARAMETER",
    "SIZE_NOT_OFFERED",
    "SPOT_STALE",
    "SPOT_UNAVAILABLE",
    "STORAGE_BUSY",
    "UNKNOWN_CURSOR",
    "UNKNOWN_KEY",
    "UNSUPPORTED_MEDIA_TYPE",
    "ProblemType",
]

PROBLEMS: Mapping[str, ProblemType] = MappingProxyType(
    {
        kind.slug: kind
        for kind in sorted(
            (kind for kind in list(globals().values()) if type(kind) is ProblemType),
            key=lambda kind: (kind.status, kind.slug),
        )
    }
)
"""Every kind of problem by its slug, in order of status."""
