"""The routes there are, who may call them, and how they are asked and changed."""

from __future__ import annotations

import json
from dataclasses import replace

from marshmallow import fields

from api.app import RESOURCES, create_app
from api.security import BENCH, OPEN, SHOP, WINDOW
from tests.http import leaks
from tests.http.fakes import SETTINGS, FakeServices
from tests.http.leak_calls import CALLS, NOBODYS, Ask

CALLERS = {None: {OPEN}, "window": {OPEN, WINDOW}, "shop": {OPEN, WINDOW, SHOP}}
OPERATIONS = {one.name: one for routes in RESOURCES for one in routes.operations}
APP = create_app(SETTINGS, FakeServices())
ROUTES = {rule.endpoint: rule for rule in APP.url_map.iter_rules()}
SCOPES = {name: APP.view_functions[name].scope for name in ROUTES}
REACHED = sorted(name for name, scope in SCOPES.items() if scope is not BENCH)
OTHER_METHODS = {
    name: {
        method
        for other in ROUTES.values()
        if other.rule == rule.rule and other is not rule
        for method in other.methods - {"OPTIONS"}
    }
    for name, rule in ROUTES.items()
}
KEPT = sorted(
    name for name, scope in SCOPES.items() if scope is BENCH and name in OPERATIONS
)
TELLS_OF_ALL = "read_openapi"
"""The description names members of every document, and has no value of one."""
CURIOUS = ("fields=cost", "sort=margin", "filter[cost]=1", "expand=cost", "spot=1")


def send(place, ask, key, **more):
    """The answer to a request as anybody may make it."""
    headers = dict(ask.headers)
    if key:
        headers["Authorization"] = f"Bearer {place.workshop.tokens[key]}"
    if ask.body is not None:
        plain = isinstance(ask.body, bytes)
        data = ask.body if plain else json.dumps(ask.body)
        more = {"data": data, "content_type": "application/json"} | more
    return place.workshop.client.open(
        ask.path, method=ask.method, headers=headers, **more
    )


def schema_of(name, key, status):
    """Name of the schema that a success is written by; None for pages."""
    operation = OPERATIONS.get(name)
    if operation is None or name == TELLS_OF_ALL:
        return None
    schemas = operation.narrowed if key != "bench" else {}
    schema = (schemas or operation.answers).get(status)
    return schema and type(schema).__name__


def told(place, name, ask, key, **more):
    """The status of an answer that gives nothing away."""
    answer = send(place, ask, key, **more)
    schema = schema_of(name, key, answer.status_code)
    leaks.check(answer, place.secrets, schema=schema)
    return answer.status_code


def allowed(name, key):
    """Whether a caller may call a route; else the status it is refused with."""
    return SCOPES[name] in CALLERS[key] or (401 if key is None else 403)


def first(place, name) -> Ask:
    return CALLS[name](place)[0]


def refusals(place, name, ask):
    """Ways to ask that are refused, with their statuses, as the declaration has it."""
    operation = OPERATIONS[name]
    headers = dict(ask.headers)

    def but(**changed):
        return replace(ask, headers=headers | changed)

    yield but(Accept="application/x-none"), 406
    if operation.body is not None:
        yield replace(ask, body=b"["), 400
        yield replace(ask, body=b" " * 70_000), 413
        for member in ("cost", "margin", "spot", "unit_price"):
            yield replace(ask, body=(ask.body or {}) | {member: "1"}), 422
    if operation.conditional:
        bare = {k: v for k, v in headers.items() if k != "If-Match"}
        yield replace(ask, headers=bare), 428
        yield but(**{"If-Match": '"other-9"'}), 412
        yield but(**{"If-Match": "x"}), 400
    if operation.idempotency:
        yield but(**{"Idempotency-Key": "x"}), 400
    if operation.idempotency == "required":
        yield replace(ask, headers={}), 400
    if operation.path is not None:
        yield replace(ask, path=elsewhere(name)), 404


def elsewhere(name):
    parts = ROUTES[name].rule.split("/")
    return "/".join(NOBODYS if part.startswith("<") else part for part in parts)


def quota_of(name):
    """What limits a route; None where nothing does."""
    view = APP.view_functions[name]
    return view._operation.quota if name in OPERATIONS else view._quota


def broken(place, name, handler, monkeypatch, **changed):
    """Let another handler answer a route."""
    view = place.workshop.app.view_functions[name]
    if name in OPERATIONS:
        patched = replace(view._operation, handler=handler, **changed)
        monkeypatch.setattr(view, "_operation", patched)
    else:
        monkeypatch.setattr(view, "_handler", handler)


def parts(schema):
    """The members of a schema, each with the schema of what it holds, if any."""
    found = {}
    for name, each in schema.fields.items():
        inner = each.inner if isinstance(each, fields.List) else each
        found[name] = inner.schema if isinstance(inner, fields.Nested) else None
    return found


def with_inner(schema):
    """A schema and every schema within it."""
    yield schema
    for inner in parts(schema).values():
        if inner is not None:
            yield from with_inner(inner)


def public_schemas():
    """Every schema that others are answered by, by name."""
    found = {}
    for name in REACHED:
        operation = OPERATIONS.get(name)
        if operation and name != TELLS_OF_ALL:
            for schema in (operation.narrowed or operation.answers).values():
                found |= {type(one).__name__: one for one in with_inner(schema)}
    return found


def public_members():
    """The same as members by name, each with the name of what it holds, if anything."""
    return {
        name: {
            member: None if inner is None else type(inner).__name__
            for member, inner in parts(schema).items()
        }
        for name, schema in public_schemas().items()
    }
