"""Who may call what: decided first, and by nothing but the key."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.app import RESOURCES, create_app
from api.endpoint import Routes
from api.exchange import ScopeMissing, check_scopes
from api.security import BENCH, OPEN, SHOP, WINDOW, bearer_token
from tests.http.fakes import SETTINGS, TOKENS, bearer, probe

ORDER = {
    "no key": ({}, 401),
    "a window key": (bearer("window"), 403),
    "a shop key": (bearer("shop"), 403),
    "a bench key": (bearer("bench"), 415),
}
BAD_HEADERS = {
    "none": None,
    "empty": "",
    "another scheme": "Basic Zm9vOmJhcg==",
    "no token": "Bearer",
    "two tokens": "Bearer a b",
    "unknown": "Bearer fw_bench_0000000000000000_x",
    "not ASCII": "Bearer fw_bench_é",
    "a tab": "Bearer\tx",
    "two headers in one": f"Bearer {TOKENS['bench']}, Bearer {TOKENS['bench']}",
    "endless": "Bearer " + "a" * 5000,
}


@pytest.mark.parametrize(("headers", "status"), ORDER.values(), ids=ORDER)
def test_the_key_is_looked_at_before_the_body(client, headers, status):
    answer = client.post("/v1/probe-rings", data="[" * 50, headers=headers)
    assert answer.status_code == status


@pytest.mark.parametrize("header", BAD_HEADERS.values(), ids=BAD_HEADERS)
def test_every_bad_key_gets_the_same_answer(client, header):
    headers = {} if header is None else {"Authorization": header}
    answer = client.get("/v1/ring-sizes?system=us&size=10", headers=headers)
    plain = client.get("/v1/ring-sizes?system=us&size=10")
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"] == 'Bearer realm="fineweight"'
    assert answer.json | {"instance": ""} == plain.json | {"instance": ""}


def test_the_scheme_is_read_in_any_case():
    assert bearer_token("bEARER  abc") == "abc"


def test_a_key_in_the_address_is_no_key(client):
    token = TOKENS["window"]
    answer = client.get(f"/v1/ring-sizes?system=us&size=10&access_token={token}")
    assert answer.status_code == 401
    assert token.encode() not in answer.data


def test_a_key_that_does_not_reach_far_enough_is_told_the_scope(client):
    answer = client.get("/v1/probe-rings", headers=bearer("window"))
    assert answer.status_code == 403
    assert 'scope="shop"' in answer.headers["WWW-Authenticate"]
    assert "window key" in answer.json["detail"]


@pytest.mark.parametrize("scope", ["bench", "shop", "window"])
@pytest.mark.parametrize("needed", [OPEN, WINDOW, SHOP, BENCH])
def test_a_wider_key_may_do_all_a_narrower_one_may(services, scope, needed):
    operation = next(one for one in probe.operations if one.name == "read_ring")
    routes = Routes("one", title="One")
    routes.operations.append(replace(operation, scope=needed))
    client = create_app(SETTINGS, services, resources=(routes,)).test_client()
    answer = client.get("/v1/probe-rings/a", headers=bearer(scope))
    widths = ["open", "window", "shop", "bench"]
    reached = widths.index(needed) <= widths.index(scope)
    assert answer.status_code == (200 if reached else 403)


def test_an_open_operation_does_not_even_look_at_a_key(client, services):
    assert client.get("/livez", headers={"Authorization": "rubbish"}).status_code == 200
    assert services.keys.asked == []


def test_an_operation_without_a_scope_stops_the_start(services):
    routes = Routes("bare", title="Bare")
    routes.operations.append(replace(probe.operations[0], scope=None))
    with pytest.raises(ScopeMissing, match="/v1/probe-rings"):
        create_app(SETTINGS, services, resources=(*RESOURCES, routes))


def test_a_route_made_behind_the_back_of_the_declarations_is_found(app):
    app.add_url_rule("/v1/back-door", "back_door", lambda: "")
    with pytest.raises(ScopeMissing, match="/v1/back-door"):
        check_scopes(app)


def test_every_route_of_the_service_declares_its_scope(app):
    check_scopes(app)
    open_ones = {
        rule.rule
        for rule in app.url_map.iter_rules()
        if app.view_functions[rule.endpoint].scope is OPEN
    }
    assert not [rule for rule in open_ones if rule.startswith("/v1/ring")]
    assert {"/livez", "/readyz", "/openapi.json", "/docs"} <= open_ones
