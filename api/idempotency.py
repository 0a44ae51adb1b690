"""The Idempotency-Key: a request sent twice has its effect once.

What makes two requests the same is their address and what their bodies say, in
the canonical form of RFC 8785: the order of members, blanks and the spelling of
JSON numbers do not matter, but texts do, so that "1.50" and "1.5" are two requests.
A body that is not there is the same as an empty object. Kept for a day are answers
of success and the refusal of values that cannot be used (invalid-input), which the
same request cannot mend. Whatever a later attempt may find changed is not: the other
422, because the coin or the price book may be mended meanwhile (unknown-key,
not-makeable, no-possible-price), and 401, 403, 404, 409, 412, 428, 429, 5xx.

References:
    [1] draft-ietf-httpapi-idempotency-key-header-07 (expired 2026-04-18): the
        header, 400 where it is missing, 422 for another payload, 409 while the first
        is worked on. The key is a quoted string there; it is taken bare as well.
    [2] RFC 8785, JSON Canonicalization Scheme.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Literal, Protocol

import rfc8785
from flask import Response

from api import errors
from api.errors import Refused
from api.ports import Answered, Once, StorageCollision, StorageUnavailable
from api.problems import (
    IDEMPOTENCY_IN_PROGRESS,
    IDEMPOTENCY_KEY_NEEDED,
    IDEMPOTENCY_KEY_REUSED,
    INVALID_INPUT,
    MALFORMED_JSON,
)
from api.services.replays import Replay

Idempotency = Literal["required", "optional"]

REPLAYED = "Idempotency-Replayed"
_HEADER = "Idempotency-Key"
_KEY = re.compile(r'(?P<quote>"?)(?P<key>[A-Za-z0-9_-]{8,64})(?P=quote)', re.ASCII)
_KEPT_HEADERS = ("Content-Type", "ETag", "Location", "Link")


class KeptAnswers(Protocol):
    """Where answers are kept."""

    def answer(self, once: Once, work: Callable[[], Answered]) -> Replay:
        """The answer kept, or the one that ``work`` gives, which is kept."""
        ...

    def keep(self, once: Once, answer: Answered) -> None:
        """Keep an answer that had no effect."""
        ...


def read_key(header: str | None, *, required: bool) -> str | None:
    """The key in an Idempotency-Key header, None where none is needed or given.

    Raises:
        Refused: 400 for one that is missing or malformed.

    >>> read_key('"8e03978e-40d5"', required=True)
    '8e03978e-40d5'
    """
    if header is None and not required:
        return None
    found = _KEY.fullmatch((header or "").strip())
    if found is None:
        said = "is missing" if header is None else "is not such a key"
        raise Refused(
            IDEMPOTENCY_KEY_NEEDED,
            "Send an Idempotency-Key header of 8 to 64 letters, digits, hyphens and "
            "underscores.",
            errors=({"detail": f"this {said}", "header": _HEADER},),
        )
    return found["key"]


def fingerprint(method: str, path: str, body: Any) -> str:
    """SHA-256 of what a request asks, in hex.

    Raises:
        Refused: a number in the body that JSON programs read differently.
    """
    try:
        canonical = rfc8785.dumps(body)
    except rfc8785.CanonicalizationError:
        raise Refused(
            MALFORMED_JSON,
            "A whole number lies beyond ±(2^53 - 1), where programs disagree about it.",
        ) from None
    said = f"{method}\n{path}\n".encode() + canonical
    return hashlib.sha256(said).hexdigest()


def answer_once(
    once: Once, work: Callable[[], Response], kept: KeptAnswers
) -> Response:
    """The answer to a request under its key: a kept one, or what ``work`` gives.

    Raises:
        Refused: 422 for a key that came with another request, 409 while another
            change is in the way.
        Exception: whatever else ``work`` raises; nothing is kept then.
    """
    try:
        replay = kept.answer(once, lambda: _written(work()))
    except StorageCollision as error:
        raise Refused(
            IDEMPOTENCY_IN_PROGRESS,
            IDEMPOTENCY_IN_PROGRESS.meaning,
            headers={"Retry-After": str(error.retry_after_s)},
        ) from error
    except Exception as error:
        if errors.kind_of(error) is not INVALID_INPUT:
            raise
        refusal = errors.answer_to(error)
        with suppress(StorageUnavailable):  # it is true, kept or not
            kept.keep(once, _written(refusal))
        return refusal
    if replay.fingerprint != once.fingerprint:
        raise Refused(IDEMPOTENCY_KEY_REUSED, IDEMPOTENCY_KEY_REUSED.meaning)
    return _read(replay)


def _written(answer: Response) -> Answered:
    headers = {n: answer.headers[n] for n in _KEPT_HEADERS if n in answer.headers}
    return Answered(
        status=answer.status_code, headers=headers, body=answer.get_data(as_text=True)
    )


def _read(replay: Replay) -> Response:
    kept = replay.answer
    answer = Response(kept.body, kept.status, headers=dict(kept.headers))
    if replay.again:
        answer.headers[REPLAYED] = "true"
    return answer
