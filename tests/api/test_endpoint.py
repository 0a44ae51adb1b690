from __future__ import annotations

from dataclasses import replace

import pytest

from api import problems
from api.app import create_app
from api.endpoint import Call, Reply, Routes
from api.errors import Refused
from api.quotas import QUOTES
from api.schemas.fields import Document
from api.security import OPEN
from tests.http.fakes import SETTINGS, FakeServices, probe


@pytest.fixture
def app():
    return create_app(SETTINGS, FakeServices(), resources=(probe,))


def named(name):
    return next(one for one in probe.operations if one.name == name)


def test_a_declaration_takes_its_name_and_its_words_from_the_handler():
    operation = named("take_ring")
    assert operation.method == "POST"
    assert operation.rule == "/v1/probe-rings"
    assert operation.about == "It is forgotten at once."
    assert operation.group == "probe"


def test_a_handler_without_a_docstring_is_declared_too():
    routes = Routes("a", title="A")

    @routes.operation("GET", "/v1/a", scope=OPEN, summary="A", answers={200: None})
    def read(_):
        return Reply()

    assert routes.operations[0].about == ""
    assert routes.operations[0].handler is read


def test_what_may_be_refused_follows_from_the_declaration():
    change = named("change_ring").refusals()
    assert [kind.status for kind in change] == sorted(kind.status for kind in change)
    assert {
        problems.NOT_AUTHENTICATED,
        problems.NOT_FOUND,
        problems.PRECONDITION_REQUIRED,
        problems.BODY_TOO_LARGE,
    } <= set(change)
    assert problems.NOT_MAKEABLE in named("take_ring").refusals()
    fail = named("fail_by_get").refusals()
    assert problems.NOT_AUTHENTICATED not in fail
    assert problems.NOT_FOUND not in fail
    assert problems.BODY_TOO_LARGE not in fail


def test_a_body_nobody_declared_is_a_fault_of_the_program():
    call = Call(
        services=None, key=None, path={}, query={}, operation=named("read_ring")
    )
    with pytest.raises(LookupError, match="read_ring declares no body"):
        call.body()
    with pytest.raises(LookupError, match="read_ring takes no text"):
        call.text()


def test_schemas_are_declared_as_instances_once():
    for operation in probe.operations:
        schemas = (operation.body, operation.query, operation.path)
        answers = operation.answers.values()
        for schema in (*schemas, *answers):
            assert schema is None or isinstance(schema, Document)


def refusals(**declared):
    return set(replace(named("take_ring"), **declared).refusals())


def test_idempotency_and_quotas_bring_their_refusals():
    plain = refusals()
    assert refusals(idempotency="optional") - plain == {
        problems.IDEMPOTENCY_KEY_NEEDED,
        problems.IDEMPOTENCY_IN_PROGRESS,
        problems.IDEMPOTENCY_KEY_REUSED,
    }
    assert refusals(quota=QUOTES) - plain == {problems.QUOTA_EXCEEDED}


@pytest.mark.parametrize(
    ("needed", "data", "json"),
    [(False, b"", {}), (False, b"[1]", [1]), (True, b"{}", {})],
)
def test_a_body_is_read_once_however_often_it_is_asked_for(app, needed, data, json):
    operation = replace(named("take_ring"), body_needed=needed)
    call = Call(services=None, key=None, path={}, query={}, operation=operation)
    kind = "application/json"
    with app.test_request_context(method="POST", data=data, content_type=kind):
        assert call.json() == json
        assert call.json() is call.json()


def test_a_body_that_is_needed_is_missed(app):
    call = Call(
        services=None, key=None, path={}, query={}, operation=named("take_ring")
    )
    with app.test_request_context(method="POST"), pytest.raises(Refused):
        call.json()
