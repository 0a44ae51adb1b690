"""What can be said about an operation of the API, and what follows from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NotRequired, Required, TypedDict

from api import problems
from api.idempotency import Idempotency
from api.problems import ProblemType
from api.quotas import QuotaPolicy
from api.schemas.document import Document
from api.security import Scope
from api.text_body import TextFormat

ALWAYS_POSSIBLE = frozenset(
    {
        problems.REPEATED_PARAMETER,
        problems.NOT_ACCEPTABLE,
        problems.INVALID_INPUT,
        problems.INTERNAL_ERROR,
    }
)
OF_KEYS = frozenset(
    {problems.NOT_AUTHENTICATED, problems.NOT_ALLOWED, problems.STORAGE_BUSY}
)
OF_BODIES = frozenset(
    {
        problems.MALFORMED_JSON,
        problems.BODY_TOO_LARGE,
        problems.UNSUPPORTED_MEDIA_TYPE,
    }
)
OF_TEXTS = frozenset({problems.BODY_TOO_LARGE, problems.UNSUPPORTED_MEDIA_TYPE})
OF_CONDITIONS = frozenset(
    {
        problems.BAD_REQUEST,
        problems.PRECONDITION_FAILED,
        problems.PRECONDITION_REQUIRED,
    }
)
OF_IDEMPOTENCY = frozenset(
    {
        problems.IDEMPOTENCY_KEY_NEEDED,
        problems.IDEMPOTENCY_IN_PROGRESS,
        problems.IDEMPOTENCY_KEY_REUSED,
    }
)
OF_QUOTAS = frozenset({problems.QUOTA_EXCEEDED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Examples:
    """Values that really work, for the documentation and its tests."""

    path: Mapping[str, str] | None = None
    query: Mapping[str, str] | None = None
    body: Any = None
    answer: Any = None


Links = Mapping[str, Mapping[str, str]]
"""Name of an operation → its parameters, found in the answer (OpenAPI, Link)."""


class Declaration(TypedDict):
    """What has to be said about an operation, and what may be."""

    scope: Required[Scope]
    summary: Required[str]
    answers: Required[Mapping[int, Document | None]]
    path: NotRequired[Document]
    query: NotRequired[Document]
    body: NotRequired[Document]
    body_needed: NotRequired[bool]
    takes: NotRequired[TextFormat]
    gives: NotRequired[TextFormat]
    narrowed: NotRequired[Mapping[int, Document]]
    problems: NotRequired[Sequence[ProblemType]]
    examples: NotRequired[Examples]
    answer_headers: NotRequired[Mapping[str, str]]
    links: NotRequired[Links]
    conditional: NotRequired[bool]
    idempotency: NotRequired[Idempotency]
    ahead: NotRequired[Callable[[Any], None]]
    quota: NotRequired[QuotaPolicy]
