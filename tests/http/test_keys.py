"""Access keys over HTTP: made, shown once, revoked at once."""

from __future__ import annotations

import pytest

from tests.http.workshop import faults

KEYS = "/v1/keys"


def made(workshop, scope="window", label="Shop pages"):
    return workshop.post(KEYS, {"scope": scope, "label": label})


@pytest.mark.parametrize("scope", ["bench", "shop", "window"])
def test_a_new_key_opens_what_its_scope_reaches(workshop, scope):
    answer = made(workshop, scope)
    assert answer.status_code == 201
    assert answer.json["revoked_at"] is answer.json["last_used_at"] is None
    workshop.tokens["new"] = answer.json["token"]
    sizes = workshop.get("/v1/ring-sizes?system=us&size=10", key="new")
    assert sizes.status_code == 200
    assert workshop.get(KEYS, key="new").status_code == (
        200 if scope == "bench" else 403
    )


def test_the_token_is_shown_once(workshop):
    answer = made(workshop)
    secret = answer.json["token"].split("_", 3)[3]  # it may hold one itself
    listed = workshop.get(KEYS)
    assert secret not in listed.text
    assert all("token" not in key for key in listed.json["keys"])
    assert answer.json["id"] in [key["id"] for key in listed.json["keys"]]


def test_a_revoked_key_is_refused_from_the_next_request_on(workshop):
    answer = made(workshop)
    workshop.tokens["new"] = answer.json["token"]
    gone = workshop.send("DELETE", answer.headers["Location"])
    assert gone.status_code == 204
    sizes = workshop.get("/v1/ring-sizes?system=us&size=10", key="new")
    assert sizes.status_code == 401
    [kept] = [
        k for k in workshop.get(KEYS).json["keys"] if k["id"] == answer.json["id"]
    ]
    assert kept["revoked_at"] is not None


def test_a_key_is_revoked_once(workshop):
    address = made(workshop).headers["Location"]
    assert workshop.send("DELETE", address).status_code == 204
    assert workshop.send("DELETE", address).status_code == 409


@pytest.mark.parametrize("key_id", ["0" * 16, "A" * 16, "0" * 15, "x"])
def test_a_key_that_is_not_there_cannot_be_revoked(workshop, key_id):
    assert workshop.send("DELETE", f"{KEYS}/{key_id}").status_code == 404


@pytest.mark.parametrize(
    ("pointer", "body"),
    [
        ("#/scope", {"label": "x"}),
        ("#/scope", {"label": "x", "scope": "root"}),
        ("#/scope", {"label": "x", "scope": ["bench"]}),
        ("#/label", {"scope": "shop"}),
        ("#/label", {"scope": "shop", "label": ""}),
        ("#/label", {"scope": "shop", "label": "   "}),
        ("#/label", {"scope": "shop", "label": "x" * 81}),
        ("#/label", {"scope": "shop", "label": "two\nlines"}),
        ("#/label", {"scope": "shop", "label": None}),
        ("#/id", {"scope": "shop", "label": "x", "id": "0" * 16}),
    ],
)
def test_a_key_that_cannot_be_made_is_pointed_at(workshop, pointer, body):
    before = workshop.counts()
    answer = workshop.post(KEYS, body)
    assert answer.status_code == 422
    assert list(faults(answer)) == [pointer]
    assert workshop.counts() == before


def test_a_misspelt_scope_is_told_the_right_one(workshop):
    answer = made(workshop, "windw")
    assert "did you mean window?" in faults(answer)["#/scope"]
