"""The walk of one request through a declared operation.

These are its steps, and each may refuse it:

1. the key and its scope (401, 403), its quota (429), then the Accept header (406);
2. the values in the path (404) and in the query (400, 422); where the operation has
   to have its effect once, the Idempotency-Key (400) and the body (400, 413, 415),
   and the answer that was kept, if there is one;
3. the handler, which may look up what is addressed (404), ask for the version
   to be named (428, 412), read the body (400, 413, 415, 422) and call a service;
4. the answer, written by the schema declared for its status.
"""

from __future__ import annotations

from contextlib import AbstractContextManager, suppress
from typing import Any, Protocol

from flask import Flask, Response, g, request

from api import preconditions, security
from api.endpoint import Call, Operation, PageRoute, Reply, Routes
from api.errors import Refused
from api.idempotency import KeptAnswers, answer_once, fingerprint, read_key
from api.parameters import check_accept, read_path, read_query
from api.ports import KeyRecord, Once, ServiceError
from api.quotas import QuotaCount, spend
from api.request_log import request_id
from api.schemas.document import Document
from api.security import Scope
from api.services.actor import Actor, acting
from api.text_body import TextFormat
from pricing.errors import PricingError

_JSON = "application/json"


class ScopeMissing(RuntimeError):
    """A route that nobody decided who may use; the program does not start."""


class Views(Protocol):
    """One view of what is stored, for as long as a request takes."""

    def held(self) -> AbstractContextManager[None]:
        """What is read inside is read once."""
        ...

    def take(self) -> object:
        """What is stored now."""
        ...

    def presume(self) -> object | None:
        """What was stored last, held until a count tells whether it still is."""
        ...

    def doubt(self) -> None:
        """What was presumed is asked for."""
        ...


class Services(Protocol):
    """What every request needs, whatever else the services offer."""

    @property
    def keys(self) -> security.KeyCheck:
        """Knows a key from its token."""
        ...

    @property
    def snapshots(self) -> Views:
        """Holds one view of what is stored."""
        ...

    @property
    def quotas(self) -> QuotaCount:
        """Counts requests."""
        ...

    @property
    def replays(self) -> KeptAnswers:
        """Keeps answers, to be given again."""
        ...


def register(app: Flask, routes: Routes, services: Services) -> None:
    """Let ``app`` answer the operations and pages of ``routes`` from ``services``."""
    for operation in routes.operations:
        endpoint = _Endpoint(operation, services)
        app.add_url_rule(
            operation.rule, operation.name, endpoint, methods=[operation.method]
        )
    for page in routes.pages:
        guarded = _GuardedPage(page, services)
        app.add_url_rule(page.rule, page.name, guarded, methods=["GET"])


class _GuardedPage:
    def __init__(self, page: PageRoute, services: Services) -> None:
        self.scope = page.scope
        self._handler = page.handler
        self._quota = page.quota
        self._services = services

    def __call__(self, **path: Any) -> Response | str:
        key = _known_caller(self.scope, self._services)
        if self._quota is not None:
            spend(self._quota, self._services.quotas, key)
        return self._handler(**path)


class _Endpoint:
    def __init__(self, operation: Operation, services: Services) -> None:
        self.scope = operation.scope
        self._operation = operation
        self._services = services
        self._first_status = next(iter(operation.answers))

    def __call__(self, **path: Any) -> Response:
        with self._services.snapshots.held():
            call = self._call(path)
            with acting(_caller(call.key)):
                once = _once(call)
                if once is None:
                    return self._handled(call)
                self._work_ahead(call)
                kept = self._services.replays
                return answer_once(once, lambda: self._handled(call), kept)

    def _work_ahead(self, call: Call) -> None:
        """Do what takes long while nobody waits; what fails will fail again."""
        if self._operation.ahead is not None:
            with suppress(Refused, ServiceError, PricingError):
                self._operation.ahead(call)

    def _handled(self, call: Call) -> Response:
        return self._answer(self._operation.handler(call), call.key)

    def _call(self, path: dict[str, Any]) -> Call:
        operation = self._operation
        key = _admitted(operation, self._services)
        check_accept(operation.gives)
        return Call(
            services=self._services,
            key=key,
            path=read_path(operation.path, path),
            query=read_query(operation.query),
            operation=operation,
        )

    def _answer(self, reply: Reply, key: KeyRecord | None) -> Response:
        status = reply.status or self._first_status
        schema = self._operation.answer_for(key, status)
        form = self._operation.gives
        if (
            reply.etag
            and request.method in {"GET", "HEAD"}
            and preconditions.unchanged(
                request.headers.get("If-None-Match"), reply.etag
            )
        ):
            answer = Response(status=304)
        else:
            answer = _written(reply.value, status, schema, form)
        if reply.etag:
            answer.headers["ETag"] = reply.etag
        answer.headers.update(reply.headers)
        return answer


def _written(
    value: Any, status: int, schema: Document | None, form: TextFormat | None
) -> Response:
    """An answer: what the schema makes of its value, or the text that it is."""
    if schema is None:
        media = None if form is None else form.content_type
        return Response(value, status, content_type=media)
    media = _JSON if form is None else form.content_type
    return Response(schema.encoded(value), status, content_type=media)


def _known_caller(scope: Scope | None, services: Services) -> KeyRecord | None:
    key = security.authorise(scope, services.keys)
    g.key_id = key.id if key else None
    return key


def _admitted(operation: Operation, services: Services) -> KeyRecord | None:
    """Who calls, counted where there is a quota.

    The key is known by what was stored last, as the count tells whether that still is
    true: one query, not two. If not, or if it is not known, it is looked up once more.
    """
    scope, views = operation.scope, services.snapshots
    if operation.quota is None:
        return _known_caller(scope, services)
    presumed = views.presume()
    try:
        key = _known_caller(scope, services)
    except Refused:
        if presumed is None:
            raise
        views.doubt()
        key = _known_caller(scope, services)
    spend(operation.quota, services.quotas, key)
    if presumed is None or views.take() is presumed:
        return key
    return _known_caller(scope, services)


def _caller(key: KeyRecord | None) -> Actor:
    return Actor(by=key.id if key else "", via="api", request=request_id())


def _once(call: Call) -> Once | None:
    """What the caller wants done once, if anything. Raises Refused."""
    wanted, caller = call.operation.idempotency, call.key
    if wanted is None or caller is None:
        return None
    header = request.headers.get("Idempotency-Key")
    key = read_key(header, required=wanted == "required")
    if key is None:
        return None
    asked = fingerprint(request.method, request.path, call.json())
    return Once(
        credential=caller.id,
        operation=call.operation.name,
        key=key,
        fingerprint=asked,
    )


def check_scopes(app: Flask) -> None:
    """Let no route pass that nobody declared a scope for.

    Raises:
        ScopeMissing: naming every such route.
    """
    bare = [
        str(rule)
        for rule in app.url_map.iter_rules()
        if not isinstance(
            getattr(app.view_functions[rule.endpoint], "scope", None), Scope
        )
    ]
    if bare:
        raise ScopeMissing(
            f"no scope is declared for {', '.join(sorted(bare))}; "
            "declare the route with Routes.operation or Routes.page"
        )
