"""Repricings over HTTP: previewed once, read, and listed."""

from __future__ import annotations

from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports import StaleSpot
from api.services.repricings.letting_go import NEWEST_KEPT
from tests.http.quoting import fresh
from tests.http.repricing import (
    BLOCKED,
    HOLD,
    LOCKED,
    LOWER,
    RAISE,
    REPRICINGS,
    REVIEW,
    decide,
    listing,
    previewed,
    prices,
    stock,
)
from tests.http.workshop import faults

COUNTS = {"hold": 1, "raise": 1, "lower": 1, "review": 1, "locked": 1, "blocked": 1}


@pytest.fixture
def asked(workshop):
    """The workshop, stocked; the price that its listings are asked for."""
    return stock(workshop)


def test_a_preview_is_made_and_changes_no_price(workshop, asked):
    before = prices(workshop)
    answer = workshop.once(REPRICINGS, {"spot": None, "skus": None})
    assert answer.status_code == 201
    run = answer.json
    assert answer.headers["Location"] == f"{REPRICINGS}/{run['id']}"
    assert answer.headers["ETag"] == '"repricing-1"'
    assert (run["status"], run["version"], run["bands"]) == ("preview", 1, 6)
    assert run["counts"] == COUNTS
    assert run["spot"]["price"] == "27.50"
    assert (run["book_version"], run["currency"]) == (1, "EUR")
    assert (run["include"], run["skus"], run["applied_at"]) == ([], None, None)
    assert prices(workshop) == before
    assert before[HOLD] == asked


def test_it_is_read_as_it_was_made_and_304_with_its_tag(workshop, asked):
    del asked
    made = workshop.once(REPRICINGS, {})
    path = made.headers["Location"]
    read = workshop.get(path)
    assert read.json == made.json
    again = workshop.get(path, headers={"If-None-Match": read.headers["ETag"]})
    assert again.status_code == 304


def test_at_a_given_spot_and_for_some_listings(workshop, asked):
    del asked
    run = previewed(workshop, spot={"price": "29.10"}, skus=[RAISE, LOWER])
    assert (run["spot"]["price"], run["spot"]["source"]) == ("29.10", "given")
    assert run["skus"] == [RAISE, LOWER]
    assert run["bands"] == 2


def test_the_same_request_again_makes_no_second_preview(workshop, asked):
    del asked
    first = workshop.once(REPRICINGS, {})
    second = workshop.once(REPRICINGS, {})
    assert first.json == second.json
    assert len(workshop.get(REPRICINGS).json["repricings"]) == 1
    other = workshop.once(REPRICINGS, {"spot": {"price": "29.10"}})
    assert (other.status_code, other.json["type"]) == (
        422,
        "/docs/problems/idempotency-key-reused",
    )
    assert workshop.post(REPRICINGS, {}).status_code == 400


def test_it_is_worked_out_before_the_transaction(workshop, asked):
    del asked
    services, seen = workshop.services, []
    compiled, unit = services.repricings._preview._judge._compiled, services.snapshots

    def finder(*wanted, real=compiled.finder):
        seen.append(unit._unit.get() is None)
        return real(*wanted)

    with patch.object(compiled, "finder", finder):
        previewed(workshop)
    assert seen
    assert all(seen)


def test_what_fails_ahead_is_answered_as_if_it_failed_inside(workshop, asked):
    del asked
    repricings = workshop.services.repricings
    with patch.object(repricings._preview._judge, "judged") as judged:
        judged.side_effect = StaleSpot("too old; enter today's")
        answer = workshop.once(REPRICINGS, {}, fresh())
    assert (answer.status_code, answer.json["type"]) == (
        409,
        "/docs/problems/spot-stale",
    )


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"skus": []}, "#/skus"),
        ({"skus": ["no such thing"]}, "#/skus/0"),
        ({"skus": ["a"] * 1001}, "#/skus"),
        ({"skus": "a"}, "#/skus"),
        ({"spot": {"price": "0"}}, "#/spot/price"),
        ({"spot": {"price": 27.5}}, "#/spot/price"),
        ({"spot": "27.5"}, "#/spot"),
        ({"apply": True}, "#/apply"),
    ],
)
def test_a_body_that_cannot_be_is_pointed_at(workshop, body, pointer):
    answer = workshop.once(REPRICINGS, body, fresh())
    assert answer.status_code == 422
    assert list(faults(answer)) == [pointer]


def test_a_sku_that_names_nothing_is_pointed_at(workshop, asked):
    del asked
    answer = workshop.once(REPRICINGS, {"skus": [RAISE, "nothing"]}, fresh())
    assert (answer.status_code, answer.json["type"]) == (
        422,
        "/docs/problems/unknown-key",
    )
    assert list(faults(answer)) == ["#/skus/1"]


def test_without_a_price_book_there_is_nothing_to_go_by(bare_workshop):
    assert bare_workshop.once(REPRICINGS, {}).status_code == 404


@pytest.mark.parametrize("name", ["0" * 32, "short", "A" * 32, "what-if"])
def test_an_unknown_repricing_is_not_found(workshop, name):
    for path in (f"{REPRICINGS}/{name}", f"{REPRICINGS}/{name}/bands"):
        assert workshop.get(path).status_code == 404


def test_every_band_has_its_decision_margins_and_reason(workshop, asked):
    run = previewed(workshop)
    answer = workshop.get(f"{REPRICINGS}/{run['id']}/bands").json
    assert answer["currency"] == "EUR"
    bands = {band["sku"]: band for band in answer["bands"]}
    assert [bands[sku]["decision"] for sku in sorted(bands)] == [*COUNTS]
    raised = bands[RAISE]
    assert (raised["from"], raised["to"]) == ("5", "5.5")
    assert raised["new_price"] == asked
    assert Decimal(raised["new_margin"]) > Decimal(raised["old_margin"])
    assert raised["moves"] is True
    assert bands[HOLD]["old_price"] == bands[HOLD]["new_price"] == asked
    assert bands[REVIEW]["moves"] is False
    assert bands[LOCKED]["moves"] is False
    assert bands[BLOCKED]["new_price"] is None
    assert "no coin 'own'" in bands[BLOCKED]["reason"]
    gains = [
        Decimal(band["new_price"]) - Decimal(band["old_price"])
        for band in bands.values()
        if band["moves"]
    ]
    assert Decimal(run["value_change"]) == sum(gains)


def test_bands_are_narrowed_and_paged_forth_and_back(workshop, asked):
    del asked
    run = previewed(workshop)
    path = f"{REPRICINGS}/{run['id']}/bands"
    assert skus(workshop.get(f"{path}?decision=review")) == [REVIEW]
    assert skus(workshop.get(f"{path}?sku={LOWER}")) == [LOWER]
    assert skus(workshop.get(f"{path}?sku={LOWER}&decision=hold")) == []
    first = workshop.get(f"{path}?limit=4")
    second = workshop.get(linked(first, "next"))
    assert skus(first) + skus(second) == [HOLD, RAISE, LOWER, REVIEW, LOCKED, BLOCKED]
    assert linked(second, "next") is None
    assert skus(workshop.get(linked(second, "prev"))) == skus(first)


def test_a_cursor_leads_nowhere_else(workshop, asked):
    del asked
    run, other = previewed(workshop), previewed(workshop)
    path = f"{REPRICINGS}/{run['id']}/bands"
    cursor = linked(workshop.get(f"{path}?limit=1"), "next").partition("?")[2]
    for wrong in (
        f"{REPRICINGS}/{other['id']}/bands?{cursor}",
        f"{path}?cursor=rubbish",
    ):
        answer = workshop.get(wrong)
        assert (answer.status_code, answer.json["type"]) == (
            400,
            "/docs/problems/unknown-cursor",
        )
    assert workshop.get(f"{path}?{cursor}&sku=x").status_code == 400


def test_repricings_are_listed_newest_first_by_status_and_page(workshop, asked):
    del asked
    runs = [previewed(workshop) for _ in range(3)][::-1]
    assert decide(workshop, runs[1], "apply").status_code == 200
    ids = [run["id"] for run in runs]
    first = workshop.get(f"{REPRICINGS}?limit=2")
    second = workshop.get(linked(first, "next"))
    assert names(first) + names(second) == ids
    assert names(workshop.get(f"{REPRICINGS}?status=applied")) == [ids[1]]
    assert workshop.get(f"{REPRICINGS}?status=open").status_code == 422


def test_a_new_listing_after_the_preview_is_not_in_it(workshop, asked):
    del asked
    run = previewed(workshop)
    workshop.post("/v1/listings", listing("z-new"))
    assert run["bands"] == 6
    assert len(skus(workshop.get(f"{REPRICINGS}/{run['id']}/bands"))) == 6


def skus(answer):
    return [band["sku"] for band in answer.json["bands"]]


def names(answer):
    return [run["id"] for run in answer.json["repricings"]]


def linked(answer, rel):
    """Where the Link header leads."""
    for link in answer.headers["Link"].split(", "):
        target, _, what = link.partition("; ")
        if what == f'rel="{rel}"':
            return target[1:-1]
    return None


def test_a_preview_that_was_let_go_is_not_found_and_that_says_what_to_do(
    workshop, asked
):
    del asked
    runs = [previewed(workshop, skus=[HOLD]) for _ in range(NEWEST_KEPT + 1)]
    first, *kept = runs
    path = f"{REPRICINGS}/{first['id']}"
    answers = [workshop.get(path), workshop.get(f"{path}/bands")]
    answers += [decide(workshop, first, decision) for decision in ("apply", "undo")]
    for answer in answers:
        assert answer.status_code == 404
        assert "make a new one" in answer.json["detail"]
    listed = workshop.get(REPRICINGS, query_string={"limit": 100}).json
    found = [run["id"] for run in listed["repricings"]]
    assert found == [run["id"] for run in reversed(kept)]
