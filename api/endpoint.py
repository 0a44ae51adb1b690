"""Declaring an operation of the API.

A resource module makes one ``Routes`` and declares its operations on it. The
declaration is everything: it routes, guards, reads, writes and documents.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field
from typing import Any, Unpack

from flask import Response, g, request
from marshmallow import ValidationError

from api import declaration, preconditions, problems
from api.declaration import Declaration, Examples, Links
from api.errors import body_errors, invalid
from api.idempotency import Idempotency
from api.json_body import read_json
from api.ports import KeyRecord
from api.problems import ProblemType
from api.quotas import QuotaPolicy
from api.schemas.document import Document
from api.security import Scope
from api.text_body import TextFormat, read_text

__all__ = ["Call", "Examples", "Operation", "PageRoute", "Reply", "Routes"]

_NOTHING: Mapping[str, str] = {}
_NO_EXAMPLES = Examples()


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
            return schema.load(self.json())
        except ValidationError as error:
            raise invalid(body_errors(error)) from None

    def json(self) -> Any:
        """The body as it came, read once: a handler may run more than once.

        An empty object where there is none and none is needed. Raises Refused.
        """
        if "json" not in g:
            operation = self.operation
            needed = operation.body is not None and operation.body_needed
            g.json = read_json(request) if needed or request.get_data() else {}
        return g.json

    def text(self) -> bytes:
        """The body as it came, of the format declared. Raises Refused."""
        form = self.operation.takes
        if form is None:
            raise LookupError(f"{self.operation.name} takes no text")
        return read_text(request, form)

    def require_match(self, *current: str) -> bool:
        """Pass only if If-Match names a current entity tag. Raises Refused.

        Returns:
            Whether it names one, rather than whatever there is by ``*``.
        """
        return preconditions.check_match(request.headers.get("If-Match"), *current)


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
class Operation:
    """One method of one path, declared whole.

    Attributes:
        method, rule: as in "GET", "/v1/coins/<key>".
        name: the operation id, for ever the same.
        about: what the docstring of its handler says after the first line.
        answers: status → schema of the answer; None for one without a body.
        path, query, body: schemas of what is read; None where nothing is.
        body_needed: false where leaving the body out is the same as an empty object.
        takes: format of a body that is no JSON.
        gives: format of the successful answer, where it is no JSON; a handler
            hands it over as bytes.
        narrowed: what keys of any scope but bench are answered with instead, where
            both may call it; status → schema.
        problems: kinds of problem that the declaration alone does not imply.
        answer_headers: header → meaning, for a successful answer.
        links: what a successful answer leads to.
        conditional: whether a change has to name the version it changes.
        idempotency: whether an Idempotency-Key is taken, and has to be there.
        ahead: what takes long and changes nothing, done before the transaction that
            the handler is run in for an Idempotency-Key.
        quota: what limits how often it may be called.
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
    body_needed: bool = True
    takes: TextFormat | None = None
    gives: TextFormat | None = None
    narrowed: Mapping[int, Document] = field(default_factory=dict)
    problems: Sequence[ProblemType] = ()
    examples: Examples = _NO_EXAMPLES
    answer_headers: Mapping[str, str] = field(default_factory=lambda: _NOTHING)
    links: Links = field(default_factory=dict)
    conditional: bool = False
    idempotency: Idempotency | None = None
    ahead: Callable[[Call], None] | None = None
    quota: QuotaPolicy | None = None

    def answer_for(self, key: KeyRecord | None, status: int) -> Document | None:
        """The schema that a status is answered with to the holder of ``key``."""
        bench = key is not None and key.scope == "bench"
        schemas = self.answers if bench or not self.narrowed else self.narrowed
        return schemas[status]

    def refusals(self) -> tuple[ProblemType, ...]:
        """Every kind of problem it may answer with, by rising status."""
        kinds = {*self.problems, *declaration.ALWAYS_POSSIBLE}
        for holds, more in (
            (self.scope is not Scope.OPEN, declaration.OF_KEYS),
            (self.path is not None, {problems.NOT_FOUND}),
            (self.body is not None, declaration.OF_BODIES),
            (self.takes is not None, declaration.OF_TEXTS),
            (self.conditional, declaration.OF_CONDITIONS),
            (self.idempotency is not None, declaration.OF_IDEMPOTENCY),
            (self.quota is not None, declaration.OF_QUOTAS),
        ):
            kinds |= more if holds else set()
        return tuple(sorted(kinds, key=lambda kind: (kind.status, kind.slug)))


@dataclass(frozen=True, slots=True, kw_only=True)
class PageRoute:
    """A page for people; not part of the documented API."""

    rule: str
    name: str
    handler: Page
    scope: Scope | None
    quota: QuotaPolicy | None = None


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

    def page(
        self, rule: str, *, scope: Scope, quota: QuotaPolicy | None = None
    ) -> Callable[[Page], Page]:
        """Declare the decorated view as a page, read by GET."""

        def declare(view: Page) -> Page:
            name = f"{self.name}.{view.__name__}"
            self.pages.append(
                PageRoute(rule=rule, name=name, handler=view, scope=scope, quota=quota)
            )
            return view

        return declare
