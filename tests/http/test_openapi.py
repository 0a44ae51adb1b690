"""The description over HTTP: true, whole and valid."""

from __future__ import annotations

import jsonschema
import pytest
from openapi_spec_validator import validate

from api.app import RESOURCES, create_app, openapi_document
from api.resources import health, ring_sizes
from tests.http.fakes import SETTINGS, FakeServices, bearer, probe

PAGES = ("/docs", "/static", "/quotes", "/window", "/bench")
OPERATIONS = [one for routes in (*RESOURCES, probe) for one in routes.operations]
WITHOUT_STORAGE = [
    one
    for routes in (ring_sizes.routes, health.routes, probe)
    for one in routes.operations
]


@pytest.fixture(scope="module")
def document():
    app = create_app(SETTINGS, FakeServices(), resources=(*RESOURCES, probe))
    return app.test_client().get("/openapi.json").json


def test_the_document_is_valid_openapi_3_1(document):
    assert document["openapi"] == "3.1.0"
    validate(document)


def test_it_needs_no_key_and_may_be_kept_if_asked_again(client):
    answer = client.get("/openapi.json")
    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "no-cache"


def test_every_operation_and_nothing_else_is_described(document, app):
    described = {
        (method.upper(), path)
        for path, item in document["paths"].items()
        for method in item
    }
    routed = {
        (method, rule.rule.replace("<", "{").replace(">", "}"))
        for rule in app.url_map.iter_rules()
        for method in rule.methods - {"HEAD", "OPTIONS"}
        if rule.rule != "/" and not rule.rule.startswith(PAGES)
    }
    assert described == routed


def test_the_service_describes_itself_without_a_database():
    validate(openapi_document())


def resolve(document, schema):
    """The schema with the document's components beside it."""
    return {"components": document["components"], **schema}


def check(document, schema, value):
    checker = jsonschema.Draft202012Validator(resolve(document, schema))
    checker.validate(value)


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_examples_fit_the_schemas_they_stand_beside(document, operation):
    path = operation.rule.replace("<", "{").replace(">", "}")
    described = document["paths"][path][operation.method.lower()]
    status = str(next(iter(operation.answers)))
    content = described["responses"][status].get("content", {})
    places = [*content.values()]
    places += described.get("requestBody", {}).get("content", {}).values()
    for place in places:
        if "example" in place:
            check(document, place["schema"], place["example"])


@pytest.mark.parametrize(
    "operation",
    [one for one in WITHOUT_STORAGE if one.method == "GET" and one.examples.answer],
    ids=lambda one: one.name,
)
def test_examples_of_reading_are_answered_as_shown(client, operation):
    path = operation.rule
    for name, value in (operation.examples.path or {}).items():
        path = path.replace(f"<{name}>", value)
    query = operation.examples.query or {}
    answer = client.get(path, query_string=query, headers=bearer("bench"))
    assert answer.json == operation.examples.answer


def test_refusals_fit_the_problem_schema(client, document):
    schema = {"$ref": "#/components/schemas/Problem"}
    for path in ("/v1/ring-sizes?system=us&size=99", "/v1/nothing", "/v1/ring-sizes"):
        answer = client.get(path, headers=bearer("window"))
        check(document, schema, answer.json)
    for example in document["components"]["examples"].values():
        check(document, schema, example["value"])
