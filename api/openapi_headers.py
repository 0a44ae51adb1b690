"""Header fields as the OpenAPI document tells of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from api import quotas
from api.endpoint import Operation
from api.idempotency import REPLAYED
from api.problems import (
    IDEMPOTENCY_IN_PROGRESS,
    QUOTA_EXCEEDED,
    STORAGE_BUSY,
    ProblemType,
)

Document = dict[str, Any]

_IF_MATCH = {
    "in": "header",
    "name": "If-Match",
    "required": False,
    "description": "Needed: the ETag of the version to be changed. Without it the "
    "answer is 428.",
    "schema": {"type": "string"},
}
_IDEMPOTENCY_KEY = {
    "in": "header",
    "name": "Idempotency-Key",
    "description": "A random name for what is to be done, with or without double "
    "quotes. The same request with the same key within 24 hours gets the same answer "
    "and has its effect once; with another address or body the key is refused (422). "
    "Kept are successes and refusals of the values sent (invalid-input): any other "
    "refusal may have passed, so the same request with the same key is tried anew. "
    'Bodies are compared by RFC 8785: "1.50" and "1.5" are two texts.',
    "schema": {"type": "string", "pattern": '^("[A-Za-z0-9_-]{8,64}"|'
    "[A-Za-z0-9_-]{8,64})$"},
    "example": "8e03978e-40d5-43dd-bc93-6894a57f9324",
}  # fmt: skip
_REQUEST_ID = {"X-Request-Id": "The id of the request, for the log."}
_REPLAYED = {REPLAYED: "true where the answer was given before, to the same request."}
_RETRY_AFTER = {"Retry-After": "Seconds until trying again makes sense."}
_TO_BE_RETRIED = {IDEMPOTENCY_IN_PROGRESS, QUOTA_EXCEEDED, STORAGE_BUSY}


def parameters(operation: Operation) -> Iterator[Document]:
    """The header fields an operation reads."""
    if operation.conditional:
        yield _IF_MATCH
    if operation.idempotency is not None:
        yield _IDEMPOTENCY_KEY | {"required": operation.idempotency == "required"}


def of_answer(operation: Operation, *, first: bool) -> Document:
    """The header fields of a successful answer; of the usual one if ``first``."""
    told = dict(_REQUEST_ID)
    if first:
        told |= operation.answer_headers
    if operation.idempotency is not None:
        told |= _REPLAYED
    if operation.quota is not None:
        told |= quotas.HEADERS
    return _described(told)


def of_refusal(operation: Operation, kinds: Sequence[ProblemType]) -> Document:
    """The header fields of a refusal that a caller acts on; empty if there is none."""
    told: dict[str, str] = {}
    if _TO_BE_RETRIED & set(kinds):
        told |= _RETRY_AFTER
    if QUOTA_EXCEEDED in kinds and operation.quota is not None:
        usual, name = operation.quota.usual, operation.quota.name
        told |= quotas.HEADERS
        told["RateLimit-Policy"] += f' Usually "{name}";q={usual};w=60.'
    return {"headers": _described(told)} if told else {}


def _described(told: dict[str, str]) -> Document:
    return {
        name: {"description": meaning, "schema": {"type": "string"}}
        for name, meaning in told.items()
    }
