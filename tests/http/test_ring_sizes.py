"""Converting finger sizes over HTTP."""

from __future__ import annotations

import pytest

from tests.http.fakes import bearer

PATH = "/v1/ring-sizes"


def ask(client, **query):
    return client.get(PATH, query_string=query, headers=bearer("window"))


def test_a_us_size_in_every_system(client):
    assert ask(client, system="us", size="10").json == {
        "label": "US 10",
        "inside_diameter_mm": "19.7612",
        "inside_circumference_mm": "62.0816",
        "us_exact": "10",
        "us": "10",
        "uk": "T 1/2",
        "iso": "62",
        "jp": "21",
        "ch": "22",
    }


@pytest.mark.parametrize(
    ("system", "size"),
    [
        ("uk", "T 1/2"),
        ("iso", "62"),
        ("jp", "21"),
        ("ch", "22"),
        ("diameter_mm", "19.76"),
        ("circumference_mm", "62.1"),
    ],
)
def test_every_system_leads_to_the_same_marks(client, system, size):
    answer = ask(client, system=system, size=size)
    assert answer.status_code == 200
    assert (answer.json["us"], answer.json["uk"]) == ("10", "T 1/2")


def test_a_size_outside_a_scale_has_no_mark_there(client):
    answer = ask(client, system="us", size="0").json
    assert answer["iso"] is None
    assert answer["jp"] is None


@pytest.mark.parametrize(
    ("query", "parameters"),
    [
        ({"system": "us", "size": "99"}, ["size"]),
        ({"system": "uk", "size": "?"}, ["size"]),
        ({"system": "us", "size": "x" * 21}, ["size"]),
        ({"system": "us", "size": "1\x00"}, ["size"]),
        ({"system": "us", "size": ""}, ["size"]),
        ({"system": "eu", "size": "10"}, ["system"]),
        ({"system": "us"}, ["size"]),
        ({}, ["size", "system"]),
        ({"system": "us", "size": "10", "colour": "red"}, ["colour"]),
    ],
)
def test_a_size_that_is_none_is_named(client, query, parameters):
    answer = ask(client, **query)
    assert answer.status_code == 422
    assert [one["parameter"] for one in answer.json["errors"]] == parameters


def test_it_needs_a_key_and_any_key_will_do(client):
    assert client.get(f"{PATH}?system=us&size=10").status_code == 401
    for scope in ("window", "shop", "bench"):
        answer = client.get(f"{PATH}?system=us&size=10", headers=bearer(scope))
        assert answer.status_code == 200
