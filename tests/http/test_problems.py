"""Whatever goes wrong is answered with a problem of a known kind."""

from __future__ import annotations

import json
import logging
import re
from dataclasses import replace
from decimal import Decimal

import pytest
from werkzeug import exceptions as werkzeug

from api import ports
from api.app import create_app
from api.endpoint import Reply, Routes
from api.ports.backups import BackupRefused
from api.problems import PROBLEMS
from pricing import errors as pricing
from tests.http.fakes import SETTINGS, bearer, probe

FAILURES = "/v1/probe-failures"
RAISED = {
    "invalid-input": pricing.InvalidInput("bad", path=("size", "size")),
    "book-refused": pricing.BookRefused(
        "bad", faults=(pricing.Fault(("stages", 2), "a"), pricing.Fault((), "b"))
    ),
    "unknown-key": pricing.UnknownKey("none", path=("coin",)),
    "not-makeable": pricing.NotMakeable(
        "no", reason="thin_wall", nearest_size_us=Decimal("9.5")
    ),
    "no-possible-price": pricing.NoPossiblePrice("no", rule="target_margin"),
    "not-found": ports.NotFound("none"),
    "conflict": ports.Conflict("there"),
    "quote-expired": ports.QuoteExpired("too late"),
    "precondition-failed": ports.PreconditionFailed("moved", current=4),
    "not-authenticated": ports.NotAuthenticated("no"),
    "spot-unavailable": ports.SpotUnavailable("none"),
    "spot-stale": ports.StaleSpot("old"),
    "storage-busy": ports.StorageUnavailable("busy", retry_after_s=3),
    "method-not-allowed": werkzeug.MethodNotAllowed(["PUT"]),
    "bad-request": werkzeug.ImATeapot(),
    "internal-error": ZeroDivisionError("the secret figure is 9173.4621"),
}
COMMON = {"type", "title", "status", "detail", "instance"}


def check(answer) -> dict:
    """The problem in an answer, found to be whole and of a known kind."""
    problem = json.loads(answer.data)
    assert answer.content_type == "application/problem+json"
    assert problem["status"] == answer.status_code
    assert set(problem) >= COMMON
    [kind] = [one for one in PROBLEMS.values() if one.uri == problem["type"]]
    assert problem["title"] == kind.title
    request_id = answer.headers["X-Request-Id"]
    assert problem["instance"] == f"urn:fineweight:request:{request_id}"
    return problem


@pytest.mark.parametrize(("slug", "error"), RAISED.items(), ids=RAISED)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_every_exception_becomes_its_kind_of_problem(
    client, services, slug, error, method
):
    services.fail_with = error
    answer = client.open(FAILURES, method=method)
    problem = check(answer)
    assert problem["type"] == f"/docs/problems/{slug}"
    if not isinstance(error, werkzeug.ImATeapot):
        assert problem["status"] == PROBLEMS[slug].status


# What a feed does wrong becomes the outcome of a fetch, and never leaves as an error;
# backups are made on the command line alone, and tries on the page to sign in.
INSIDE = {ports.FeedFailed, ports.TooManyTries, BackupRefused}


def test_every_class_of_ours_has_a_kind_of_its_own(client, services):
    leaves = {
        error
        for base in (pricing.PricingError, ports.ServiceError)
        for error in base.__subclasses__()
    } - INSIDE
    tested = {type(error) for error in RAISED.values()}
    assert all(any(issubclass(one, leaf) for one in tested) for leaf in leaves)


def test_faults_of_the_model_point_into_the_body_or_name_the_parameter(
    client, services
):
    services.fail_with = RAISED["invalid-input"]
    by_body = client.post(FAILURES).json["errors"]
    assert by_body == [{"detail": "bad", "pointer": "#/size/size"}]
    by_query = client.get(FAILURES).json["errors"]
    assert by_query == [{"detail": "bad", "parameter": "size"}]
    services.fail_with = RAISED["book-refused"]
    assert [one["pointer"] for one in client.post(FAILURES).json["errors"]] == [
        "#/stages/2",
        "#",
    ]
    assert client.get(FAILURES).json["errors"] == [{"detail": "a", "parameter": "2"}]


def test_what_can_be_done_instead_is_said(client, services):
    services.fail_with = RAISED["not-makeable"]
    problem = client.post(FAILURES).json
    assert (problem["reason"], problem["nearest_size_us"]) == ("thin_wall", "9.5")
    assert "nearest_hole_mm" not in problem
    services.fail_with = RAISED["no-possible-price"]
    assert client.post(FAILURES).json["rule"] == "target_margin"


def test_headers_that_belong_to_a_status_are_there(client, services):
    services.fail_with = RAISED["storage-busy"]
    assert client.get(FAILURES).headers["Retry-After"] == "3"
    services.fail_with = RAISED["method-not-allowed"]
    assert client.get(FAILURES).headers["Allow"] == "PUT"
    services.fail_with = RAISED["not-authenticated"]
    assert client.get(FAILURES).headers["WWW-Authenticate"].startswith("Bearer ")


def test_a_fault_of_the_program_is_logged_and_not_told(client, services, caplog):
    services.fail_with = RAISED["internal-error"]
    with caplog.at_level(logging.ERROR, "api.requests"):
        answer = client.get(FAILURES)
    assert b"9173.4621" not in answer.data
    assert b"ZeroDivision" not in answer.data
    logged = json.loads(caplog.messages[0])
    assert logged["request"] == answer.headers["X-Request-Id"]
    assert "9173.4621" in logged["trace"]
    assert "\n" not in caplog.messages[0]


def test_an_answer_that_lacks_a_declared_member_is_a_fault_not_a_shorter_answer(
    services,
):
    complete = next(one for one in probe.operations if one.name == "read_ring")
    forgetful = Routes("forgetful", title="Forgetful")
    forgetful.operations.append(replace(complete, handler=lambda _: Reply({})))
    app = create_app(SETTINGS, services, resources=(forgetful,))
    answer = app.test_client().get("/v1/probe-rings/a", headers=bearer("window"))
    assert answer.status_code == 500


REFUSED_EVERYWHERE = {
    "an unknown address": ("GET", "/v1/nothing", 404),
    "an unknown address outside": ("GET", "/nothing", 404),
    "an unknown page's data": ("POST", "/v1/", 404),
    "a method": ("DELETE", "/v1/ring-sizes", 405),
    "TRACE": ("TRACE", "/v1/ring-sizes", 405),
    "a made-up method": ("BREW", "/livez", 405),
    "a key that cannot exist": ("GET", "/v1/probe-rings/No%20Such", 404),
    "no key": ("GET", "/v1/ring-sizes", 401),
}


@pytest.mark.parametrize(
    ("method", "path", "status"), REFUSED_EVERYWHERE.values(), ids=REFUSED_EVERYWHERE
)
def test_what_the_framework_refuses_is_a_problem_too(client, method, path, status):
    headers = {} if status == 401 else bearer("bench")
    answer = client.open(path, method=method, headers=headers)
    assert answer.status_code == status
    check(answer)
    assert ("Allow" in answer.headers) == (status == 405)


def test_every_operation_answers_every_misuse_with_a_problem(app, client, services):
    services.fail_with = RuntimeError()
    for rule in app.url_map.iter_rules():
        if not rule.rule.startswith("/v1"):
            continue
        path = re.sub("<[a-z_]+>", "Not A Key", rule.rule)
        for method in sorted(rule.methods - {"HEAD", "OPTIONS"}):
            for scope in ("window", "shop", "bench"):
                answer = client.open(
                    path + "?no_such=1", method=method, headers=bearer(scope), data="["
                )
                assert 400 <= answer.status_code < 500, (method, path, scope)
                check(answer)
