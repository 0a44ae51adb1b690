"""Repricings over HTTP: applied in one act, refused where that would undo an edit."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from unittest.mock import patch

import pytest

from api.services.repricings.pace import Pace
from tests.http.repricing import (
    HOLD,
    LOCKED,
    LOWER,
    RAISE,
    REPRICINGS,
    REVIEW,
    decide,
    previewed,
    prices,
    stock,
)
from tests.http.workshop import faults

NAMED = {"include": [{"sku": REVIEW, "from": "5"}]}


@pytest.fixture
def asked(workshop):
    return stock(workshop)


@pytest.fixture
def run(workshop, asked):
    del asked
    return previewed(workshop)


def edit(workshop, sku, **members):
    """Change a listing by hand."""
    path = f"/v1/listings/{sku}"
    body = workshop.get(path).json
    kept = ("title", "kind", "coin", "channel", "policy", "extras", "bands")
    body = {name: body[name] for name in kept} | members
    answer = workshop.change(path, body)
    assert answer.status_code == 200, answer.text


def test_apply_puts_the_prices_in_force_and_undo_takes_them_back(workshop, asked, run):
    before = prices(workshop)
    answer = decide(workshop, run, "apply")
    assert answer.status_code == 200
    assert (answer.json["status"], answer.json["version"]) == ("applied", 3)
    assert answer.headers["ETag"] == '"repricing-3"'
    assert answer.json["applied_at"].endswith("Z")
    after = prices(workshop)
    assert after == before | {RAISE: asked, LOWER: asked}
    answer = decide(workshop, run, "undo")
    assert (answer.status_code, answer.json["status"]) == (200, "undone")
    assert answer.json["undone_by"] == answer.json["applied_by"] != ""
    assert prices(workshop) == before


def test_a_band_in_review_moves_only_when_named(workshop, asked, run):
    answer = decide(workshop, run, "apply", NAMED)
    assert answer.json["include"] == NAMED["include"]
    assert prices(workshop)[REVIEW] == asked


def test_a_preview_by_another_price_book_is_refused_with_both_versions(workshop, run):
    before = prices(workshop)
    book = workshop.get("/v1/price-book").json | {"title": "Another bench"}
    answer = workshop.change("/v1/price-book", book)
    assert answer.status_code == 200, answer.text
    answer = decide(workshop, run, "apply")
    assert (answer.status_code, answer.json["type"]) == (409, "/docs/problems/conflict")
    version = run["book_version"]
    assert f"by version {version} of the price book" in answer.json["detail"]
    assert f"version {version + 1} is in force" in answer.json["detail"]
    assert "make a new preview" in answer.json["detail"]
    assert "listings" not in answer.json
    assert prices(workshop) == before
    assert decide(workshop, previewed(workshop), "apply").status_code == 200


@pytest.mark.parametrize(
    ("include", "pointer"),
    [
        ([{"sku": LOCKED, "from": "5"}], "#/include/0"),
        ([*NAMED["include"], {"sku": HOLD, "from": "5"}], "#/include/1"),
        ([{"sku": "nothing", "from": "5"}], "#/include/0"),
        ([{"sku": REVIEW, "from": "5.25"}], "#/include/0"),
        ([{"sku": REVIEW}], "#/include/0/from"),
        ([{"sku": REVIEW, "from": 5}], "#/include/0/from"),
        ([{"sku": REVIEW, "from": "99"}], "#/include/0/from"),
        ([{"sku": REVIEW, "from": "5", "price": "1"}], "#/include/0/price"),
    ],
)
def test_what_is_wrongly_named_is_pointed_at(workshop, run, include, pointer):
    before = prices(workshop)
    answer = decide(workshop, run, "apply", {"include": include})
    assert answer.status_code == 422
    assert list(faults(answer)) == [pointer]
    assert prices(workshop) == before


def test_a_listing_that_changed_since_is_listed_and_kept(workshop, run):
    edit(workshop, HOLD, title="Another")
    edit(workshop, RAISE, title="Another")
    before = prices(workshop)
    answer = decide(workshop, run, "apply")
    assert (answer.status_code, answer.json["type"]) == (409, "/docs/problems/conflict")
    assert answer.json["listings"] == [{"sku": HOLD}, {"sku": RAISE}]
    assert prices(workshop) == before
    assert workshop.get(f"{REPRICINGS}/{run['id']}").json["status"] == "preview"


def test_a_price_that_changed_since_is_listed_by_its_band(workshop, run):
    decide(workshop, run, "apply")
    edit(workshop, RAISE, bands=[{"from": "5", "to": "5.5", "price": "111.00"}])
    before = prices(workshop)
    answer = decide(workshop, run, "undo")
    assert answer.status_code == 409
    assert answer.json["listings"] == [{"sku": RAISE, "from": "5"}]
    assert prices(workshop) == before


@pytest.mark.parametrize("what", ["apply", "undo"])
def test_keys_come_first_then_what_is_there_then_its_version(workshop, run, what):
    path = f"{REPRICINGS}/{run['id']}/{what}"
    match = {"If-Match": run["_etag"]}
    assert workshop.send("POST", path, key=None, headers=match).status_code == 401
    assert workshop.send("POST", path, key="shop", headers=match).status_code == 403
    nowhere = f"{REPRICINGS}/{'0' * 32}/{what}"
    assert workshop.send("POST", nowhere).status_code == 404
    assert workshop.send("POST", path).status_code == 428
    for wrong in ('"repricing-2"', 'W/"repricing-1"'):
        answer = workshop.send("POST", path, headers={"If-Match": wrong})
        assert answer.status_code == 412


@pytest.mark.parametrize(("what", "status"), [("apply", 200), ("undo", 409)])
def test_any_version_will_do_with_a_star(workshop, run, what, status):
    assert decide(workshop, run, what, match="*").status_code == status


def test_what_was_done_is_not_done_again(workshop, run):
    first = run["_etag"]
    decide(workshop, run, "apply")
    assert decide(workshop, run, "apply", match=first).status_code == 412
    assert decide(workshop, run, "apply").status_code == 409
    decide(workshop, run, "undo")
    assert decide(workshop, run, "undo").status_code == 409


def test_one_that_was_cut_short_goes_on_under_either_tag(workshop, asked, run):
    services, first = workshop.services, run["_etag"]

    class Killed(BaseException):
        pass

    store = "api.db.repositories.RepricingRepository.switch"
    with (
        patch.object(services.repricings._apply, "_pace", Pace(at_once=0)),
        patch(store, side_effect=Killed),
        pytest.raises(Killed),
    ):
        services.repricings.apply(run["id"], expected=1)
    read = workshop.get(f"{REPRICINGS}/{run['id']}")
    assert (read.json["status"], read.headers["ETag"]) == ("applying", '"repricing-2"')
    assert prices(workshop)[RAISE] != asked
    assert decide(workshop, run, "undo").status_code == 409
    assert decide(workshop, run, "apply", match='"repricing-3"').status_code == 412
    assert decide(workshop, run, "apply", match=first).status_code == 200
    assert prices(workshop)[RAISE] == asked


def test_of_many_at_once_with_one_tag_one_applies(workshop, run):
    start, client = Barrier(12), workshop.app.test_client
    headers = {
        "Authorization": f"Bearer {workshop.tokens['bench']}",
        "If-Match": run["_etag"],
    }

    def send(_):
        start.wait(10)
        path = f"{REPRICINGS}/{run['id']}/apply"
        return client().post(path, headers=headers).status_code

    with ThreadPoolExecutor(12) as pool:
        found = sorted(pool.map(send, range(12)))
    assert found == [200] + [412] * 11
    assert workshop.get(f"{REPRICINGS}/{run['id']}").json["version"] == 3


def test_both_are_in_the_audit_trail(workshop, run):
    decide(workshop, run, "apply")
    decide(workshop, run, "undo")
    entries = workshop.get("/v1/audit-entries?action=repricing").json["audit_entries"]
    assert [each["action"] for each in entries] == [
        "repricing.undone",
        "repricing.applied",
        "repricing.previewed",
    ]
    assert {each["subject"] for each in entries} == {run["id"]}


def test_the_history_of_a_price_tells_the_run(workshop, asked, run):
    decide(workshop, run, "apply")
    answer = workshop.get(f"/v1/listings/{RAISE}/prices")
    newest = answer.json["moves"][0]
    assert (newest["new"], newest["run"]) == (asked, run["id"])
