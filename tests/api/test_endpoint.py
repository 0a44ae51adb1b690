from __future__ import annotations

import pytest

from api import problems
from api.endpoint import Call, Reply, Routes
from api.schemas.fields import Document
from api.security import OPEN
from tests.http.fakes import probe


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


def test_schemas_are_declared_as_instances_once():
    for operation in probe.operations:
        schemas = (operation.body, operation.query, operation.path)
        answers = operation.answers.values()
        for schema in (*schemas, *answers):
            assert schema is None or isinstance(schema, Document)
