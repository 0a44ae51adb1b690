"""Declaring an operation of the API.

A resource module makes one ``Routes`` and declares its operations on it. The
declaration is everything: it routes, guards, reads, writes and documents.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field
from typing import Any, NotRequired, Required, TypedDict, Unpack

from flask import Response, request
from marshmallow import ValidationError

from api import preconditions, problems
from api.errors import body_errors, invalid
from api.json_body import read_json
from api.ports import KeyRecord
from api.problems import ProblemType
from api.schemas.document import Document
from api.security import Scope

_NOTHING: Mapping[str, str] = {}
_ALWAYS_POSSIBLE = frozenset(
    {
        problems.REPEATED_PARAMETER,
        problems.NOT_ACCEPTABLE,
        problems.INVALID_INPUT,
        problems.INTERNAL_ERROR,
    }
)
_OF_KEYS = frozenset(
    {problems.NOT_AUTHENTICATED, problems.NOT_ALLOWED, problems.STORAGE_BUSY}
)
_OF_BODIES = frozenset(
    {
        problems.MALFORMED_JSON,
        problems.BODY_TOO_LARGE,
        problems.UNSUPPORTED_MEDIA_TYPE,
    }
)
_OF_CONDITIONS = frozenset(
    {
        problems.BAD_REQUEST,
        problems.PRECONDITION_FAILED,
        problems.PRECONDITION_REQUIRED,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One request as a handler sees it.

    Attributes:
        services: what was composed at start.
        key: who calls; None where no key is needed.
        path, query: the declared values, read and checked.
    """

    services: Any
    key: KeyRecord | None
    path: Mapping[str, Any]
    query: Mapping[str, Any]
    operation: Operation

    def body(self) -> Any:
        """The body, read and checked by the declared schema. Raises Refused."""
        schema = self.operation.body
        if schema is None:
            raise LookupError(f"{self.operation.name} declares no body")
        try:
            return schema.load(read_json(request))
        except ValidationError as error:
            raise invalid(body_errors(error)) from None

    def require_match(self, current: str) -> None:
        """Pass only if If-Match names the current entity tag. Raises Refused."""
        preconditions.check_match(request.headers.get("If-Match"), current)


@dataclass(frozen=True, slots=True)
class Reply:
    """What a handler answers.

    Attributes:
        value: what the schema of the status writes; None for an answer without.
        status: None takes the first status declared.
        etag: entity tag of what is answered; a GET for it may become a 304.
        headers: further headers, such as Location.
    """

    value: Any = None
    _: KW_ONLY
    status: int | None = None
    etag: str | None = None
    headers: Mapping[str, str] = field(default_factory=lambda: _NOTHING)


Handler = Callable[[Call], Reply]
Page = Callable[..., Response | str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Examples:
    """Values that really work, for the documentation and its tests."""

    path: Mapping[str, str] | None = None
    query: Mapping[str, str] | None = None
    body: Any = None
    answer: Any = None


class Declaration(TypedDict):
    """What has to be said about an operation, and what may be."""

    scope: Required[Scope]
    summary: Required[str]
    answers: Required[Mapping[int, Document | None]]
    path: NotRequired[Document]
    query: NotRequired[Document]
    body: NotRequired[Document]
    problems: NotRequired[Sequence[ProblemType]]
    examples: NotRequired[Examples]
    answer_headers: NotRequired[Mapping[str, str]]
    conditional: NotRequired[bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One method of one path, declared whole.

    Attributes:
        method, rule: as in "GET", "/v1/coins/<key>".
        name: the operation id, for ever the same.
        about: what the docstring of its handler says after the first line.
        answers: status → schema of the answer; None for one without a body.
        path, query, body: schemas of what is read; None where nothing is.
        problems: kinds of problem that the declaration alone does not imply.
        answer_headers: header → meaning, for a successful answer.
        conditional: whether a change has to name the version it changes.
    """

    method: str
    rule: str
    name: str
    about: str
    group: str
    handler: Handler
    scope: Scope | None = None
    summary: str
    answers: Mapping[int, Document | None]
    path: Document | None = None
    query: Document | None = None
    body: Document | None = None
    problems: Sequence[ProblemType] = ()
    examples: Examples = Examples()
    answer_headers: Mapping[str, str] = field(default_factory=lambda: _NOTHING)
    conditional: bool = False

    def refusals(self) -> tuple[ProblemType, ...]:
        """Every kind of problem it may answer with, by rising status."""
        kinds = {*self.problems, *_ALWAYS_POSSIBLE}
        if self.scope is not Scope.OPEN:
            kinds |= _OF_KEYS
        if self.path is not None:
            kinds.add(problems.NOT_FOUND)
        if self.body is not None:
            kinds |= _OF_BODIES
        if self.conditional:
            kinds |= _OF_CONDITIONS
        return tuple(sorted(kinds, key=lambda kind: (kind.status, kind.slug)))


@dataclass(frozen=True, slots=True, kw_only=True)
class PageRoute:
    """A page for people; not part of the documented API."""

    rule: str
    name: str
    handler: Page
    scope: Scope | None


class Routes:
    """The operations and pages of one resource."""

    def __init__(self, name: str, *, title: str, about: str = "") -> None:
        self.name = name
        self.title = title
        self.about = about
        self.operations: list[Operation] = []
        self.pages: list[PageRoute] = []

    def operation(
        self, method: str, rule: str, **declared: Unpack[Declaration]
    ) -> Callable[[Handler], Handler]:
        """Declare the decorated handler as an operation of the API."""

        def declare(handler: Handler) -> Handler:
            _, _, about = (handler.__doc__ or "").partition("\n")
            operation = Operation(
                method=method,
                rule=rule,
                name=handler.__name__,
                about=" ".join(about.split()),
                group=self.name,
                handler=handler,
                **declared,
            )
            self.operations.append(operation)
            return handler

        return declare

    def page(self, rule: str, *, scope: Scope) -> Callable[[Page], Page]:
        """Declare the decorated view as a page, read by GET."""

        def declare(view: Page) -> Page:
            name = f"{self.name}.{view.__name__}"
            self.pages.append(
                PageRoute(rule=rule, name=name, handler=view, scope=scope)
            )
            return view

        return declare
