"""Requests made up from the description alone: none of them surprises the service."""

from __future__ import annotations

import warnings
from contextlib import contextmanager
from http import HTTPStatus

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.stateful import run_state_machine_as_test

from api.app import RESOURCES
from tests.http.workshop import Workshop, seed
from tests.thoroughness import thorough

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
EXAMPLES = thorough(quick=2, full=15)


@contextmanager
def working(folder):
    """A service on a new database in a folder."""
    file = str(folder / "fineweight.sqlite3")
    workshop = Workshop(file, seed(file))
    yield workshop
    workshop.close()


def read_description(service):
    return schemathesis.openapi.from_wsgi("/openapi.json", service.app)


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    with working(tmp_path_factory.mktemp("generated")) as workshop:
        yield workshop


@pytest.fixture
def new_service(tmp_path):
    """One that no other test has changed: where a walk leads hangs on what is there."""
    with working(tmp_path) as workshop:
        yield workshop


@pytest.fixture(scope="module")
def operations(service):
    found = (result.ok() for result in read_description(service).get_all_operations())
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


@pytest.mark.slow
def test_what_one_answer_leads_to_is_answered_as_described(new_service):
    bearer = {"Authorization": f"Bearer {new_service.tokens['bench']}"}
    schema = read_description(new_service)
    told = set()

    class Walk(schema.include(path_regex="^/v1/quotes").as_state_machine()):
        """Follows the links of the description from one answer to a request."""

        def get_call_kwargs(self, case):
            del case
            return {"headers": bearer}

        def validate_response(self, response, case, **more):
            del more
            case.validate_response(response, checks=CHECKS)
            name = case.operation.definition.raw["operationId"]
            told.add((name, response.status_code))

    run_state_machine_as_test(
        Walk,
        settings=settings(
            max_examples=60,
            stateful_step_count=6,
            derandomize=True,
            deadline=None,
            database=None,
            phases=(Phase.generate,),
            suppress_health_check=list(HealthCheck),
        ),
    )
    done = {name for name, status in told if status < HTTPStatus.BAD_REQUEST}
    assert {"make_quote", "read_quote", "read_quote_sheet"} <= done
    assert done & {"accept_quote", "decline_quote", "renew_quote"}
