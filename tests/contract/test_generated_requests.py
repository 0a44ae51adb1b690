"""Requests made up from the description alone: none of them surprises the service."""

from __future__ import annotations

import warnings

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from api.app import RESOURCES
from tests.http.workshop import Workshop, seed

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    import schemathesis
    from schemathesis.checks import not_a_server_error
    from schemathesis.specs.openapi.checks import (
        content_type_conformance,
        response_schema_conformance,
        status_code_conformance,
    )

# The generator leaves the address it reads the description from alone.
OPERATIONS = [
    one
    for routes in RESOURCES
    for one in routes.operations
    if one.rule != "/openapi.json"
]
RUNS = [
    (one.name, mode)
    for one in OPERATIONS
    for mode in schemathesis.GenerationMode
    if mode.is_positive or one.path or one.query or one.body
]
CHECKS = (
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
)
EXAMPLES = 15


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    file = str(tmp_path_factory.mktemp("generated") / "fineweight.sqlite3")
    workshop = Workshop(file, seed(file))
    yield workshop
    workshop.services.close()


@pytest.fixture(scope="module")
def operations(service):
    schema = schemathesis.openapi.from_wsgi("/openapi.json", service.app)
    found = (result.ok() for result in schema.get_all_operations())
    return {one.definition.raw["operationId"]: one for one in found}


@pytest.mark.slow
@pytest.mark.parametrize(("name", "mode"), RUNS)
def test_what_the_description_allows_or_forbids_is_answered_as_described(
    service, operations, name, mode
):
    bearer = {"Authorization": f"Bearer {service.tokens['bench']}"}
    cases = operations[name].as_strategy(generation_mode=mode)

    @given(cases)
    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    def answered(case):
        case.call_and_validate(headers=bearer, checks=CHECKS)

    answered()
