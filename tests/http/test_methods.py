"""HTTP's own rules: methods, addresses, formats, parameters and versions."""

from __future__ import annotations

import pytest

from tests.http.fakes import bearer

RING = "/v1/probe-rings/a_coin"
RINGS = "/v1/probe-rings"
GOOD = {"coin": "a_coin", "price": "12.50"}


def test_head_answers_like_get_without_a_body(client):
    got = client.get(RING, headers=bearer("window"))
    head = client.head(RING, headers=bearer("window"))
    assert head.status_code == 200
    assert head.data == b""
    assert head.headers["ETag"] == got.headers["ETag"]
    assert head.headers["Content-Length"] == str(len(got.data))


def test_options_names_all_methods_of_an_address_and_needs_no_key(client):
    answer = client.options(RING)
    assert answer.status_code == 204
    assert set(answer.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS", "PUT"}
    assert "Content-Type" not in answer.headers


def test_a_method_that_is_not_there_names_those_that_are(client):
    answer = client.delete(RING, headers=bearer("bench"))
    assert answer.status_code == 405
    assert set(answer.headers["Allow"].split(", ")) == {"GET", "HEAD", "OPTIONS", "PUT"}


@pytest.mark.parametrize("path", [f"{RINGS}/", "/v1//probe-rings"])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_an_odd_address_is_unknown_and_never_redirected(client, method, path):
    environ = {"PATH_INFO": path}
    answer = client.open("/", method=method, environ_overrides=environ)
    assert answer.status_code == 404
    assert "Location" not in answer.headers


@pytest.mark.parametrize(
    "accept", ["", "*/*", "application/json", "application/*;q=0.1", "text/html, */*"]
)
def test_an_acceptable_format_is_answered(client, accept):
    headers = bearer("window") | {"Accept": accept}
    answer = client.get(RING, headers=headers)
    assert answer.status_code == 200
    assert answer.content_type == "application/json"


@pytest.mark.parametrize("accept", ["text/html", "application/json;q=0", "image/*"])
def test_an_unacceptable_format_is_refused(client, accept):
    answer = client.get(RING, headers=bearer("window") | {"Accept": accept})
    assert answer.status_code == 406
    assert answer.content_type == "application/problem+json"


def test_a_created_thing_says_where_it_is(client):
    answer = client.post(RINGS, json=GOOD, headers=bearer("bench"))
    assert answer.status_code == 201
    assert answer.headers["Location"] == "/v1/probe-rings/a"
    assert answer.json == {"price": "12.50"}


def test_a_query_is_read_by_its_schema(client, services):
    client.get(RINGS, query_string={"limit": "7"}, headers=bearer("shop"))
    client.get(RINGS, headers=bearer("shop"))
    assert services.handled == [{"limit": 7}, {}]


@pytest.mark.parametrize(
    "limit", ["0", "101", "", " 7", "７", "7.0", "1e1", "x", "9" * 30]
)
def test_a_parameter_out_of_form_or_range_is_named(client, limit):
    query = {"limit": limit}
    answer = client.get(RINGS, query_string=query, headers=bearer("shop"))
    assert answer.status_code == 422
    assert [one["parameter"] for one in answer.json["errors"]] == ["limit"]


@pytest.mark.parametrize("path", [RINGS, RING, "/livez"])
def test_an_unknown_parameter_is_refused_also_where_none_is_taken(client, path):
    answer = client.get(path + "?cursor=x", headers=bearer("bench"))
    assert answer.status_code == 422
    assert [one["parameter"] for one in answer.json["errors"]] == ["cursor"]


@pytest.mark.parametrize("path", [RINGS, "/livez"])
def test_a_parameter_given_twice_is_refused(client, path):
    answer = client.get(path + "?limit=1&limit=1", headers=bearer("bench"))
    assert answer.status_code == 400
    assert answer.json["type"] == "/docs/problems/repeated-parameter"
    assert [one["parameter"] for one in answer.json["errors"]] == ["limit"]


def put(client, key="a_coin", body=GOOD, **headers):
    sent = bearer("bench") | headers
    return client.put(f"{RINGS}/{key}", json=body, headers=sent)


def test_a_change_names_the_version_it_changes(client, services):
    answer = put(client, **{"If-Match": '"ring-3"'})
    assert answer.status_code == 204
    assert answer.data == b""
    assert answer.headers["ETag"] == '"ring-4"'
    assert len(services.handled) == 1


@pytest.mark.parametrize("tags", ["*", '"ring-2", "ring-3"', ' "ring-3" '])
def test_any_form_that_names_the_version_is_taken(client, tags):
    assert put(client, **{"If-Match": tags}).status_code == 204


@pytest.mark.parametrize("tags", ['"ring-2"', 'W/"ring-3"', '"ring-33"', '""'])
def test_another_or_a_weak_version_does_not_match(client, services, tags):
    answer = put(client, **{"If-Match": tags})
    assert answer.status_code == 412
    assert '"ring-3"' in answer.json["detail"]
    assert services.handled == []


@pytest.mark.parametrize("tags", ["ring-3", "", '"ring-3" "x"', '"a', '"é"'])
def test_what_is_no_tag_is_named(client, tags):
    answer = put(client, **{"If-Match": tags})
    assert answer.status_code == 400
    assert answer.json["errors"][0]["header"] == "If-Match"


def test_the_refusals_of_a_change_come_in_their_order(client):
    path, bad = f"{RINGS}/a_coin", {"If-Match": '"ring-2"'}
    assert client.put(path, json=[], headers=bad).status_code == 401
    assert client.put(path, json=[], headers=bad | bearer("shop")).status_code == 403
    assert put(client, "other", [], **bad).status_code == 404
    assert put(client, body=[]).status_code == 428
    assert put(client, body=[], **bad).status_code == 412
    assert put(client, body=[], **{"If-Match": "*"}).status_code == 422


@pytest.mark.parametrize("tags", ['"ring-3"', 'W/"ring-3"', "*", '"x", W/"ring-3"'])
@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_what_is_known_already_is_not_sent_again(client, method, tags):
    headers = bearer("window") | {"If-None-Match": tags}
    answer = client.open(RING, method=method, headers=headers)
    assert answer.status_code == 304
    assert answer.data == b""
    assert answer.headers["ETag"] == '"ring-3"'


def test_what_has_changed_since_is_sent(client):
    headers = bearer("window") | {"If-None-Match": '"ring-2"'}
    assert client.get(RING, headers=headers).status_code == 200
    odd = bearer("window") | {"If-None-Match": "ring-3"}
    assert client.get(RING, headers=odd).status_code == 400
