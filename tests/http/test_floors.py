"""What-ifs and the board of floors over HTTP; nothing of them is stored."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.http.repricing import LOCKED, RAISE, REVIEW, previewed, stock
from tests.http.test_repricings import linked, skus
from tests.http.workshop import faults

WHAT_IF = "/v1/repricings/what-if"
BOARD = "/v1/listings/floors"


@pytest.fixture
def asked(workshop):
    return stock(workshop)


def test_a_what_if_says_what_a_preview_would(workshop, asked):
    del asked
    before = workshop.counts()
    answer = workshop.post(WHAT_IF, {"spot": {"price": "40"}})
    assert answer.status_code == 200
    assert workshop.counts() == before
    run = previewed(workshop, spot={"price": "40"})
    for member in ("counts", "value_change", "bands", "book_version", "currency"):
        assert answer.json[member] == run[member]
    assert answer.json["changes_left_out"] == 0
    changes = answer.json["changes"]
    assert {each["decision"] for each in changes} <= {"raise", "lower", "review"}


def test_a_change_in_per_cent_is_of_the_spot_in_force(workshop, asked):
    del asked
    answer = workshop.post(WHAT_IF, {"change_percent": "-10", "skus": [RAISE]})
    assert (answer.json["spot"]["price"], answer.json["bands"]) == ("24.75", 1)
    assert answer.json["skus"] == [RAISE]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "#/spot"),
        ({"spot": {"price": "1"}, "change_percent": "1"}, "#/spot"),
        ({"change_percent": "-100"}, "#/change_percent"),
        ({"change_percent": "1001"}, "#/change_percent"),
        ({"change_percent": 5}, "#/change_percent"),
        ({"change_percent": "-99.9999"}, "#/change_percent"),
        ({"change_percent": "5", "skus": ["no"]}, "#/skus/0"),
    ],
)
def test_a_what_if_that_cannot_be_is_pointed_at(workshop, asked, body, pointer):
    del asked
    answer = workshop.post(WHAT_IF, body)
    assert answer.status_code == 422
    assert list(faults(answer)) == [pointer]


def test_the_board_says_which_price_falls_to_its_floor_next(workshop, asked):
    del asked
    answer = workshop.get(BOARD)
    assert answer.json["spot"]["price"] == "27.50"
    bands = answer.json["bands"]
    spots = [Decimal(band["spot_at_floor"]) for band in bands if not band["under"]]
    assert spots == sorted(spots)
    assert {LOCKED, RAISE, REVIEW} <= {*skus(answer)}
    for band in bands:
        assert band["under"] is (band["spot_at_floor"] is None)
        assert band["floor_margin"] == "0.20"


def test_the_board_is_paged(workshop, asked):
    del asked
    whole, found, path = skus(workshop.get(BOARD)), [], f"{BOARD}?limit=2"
    while path:
        page = workshop.get(path)
        found += skus(page)
        assert linked(page, "prev") is None
        path = linked(page, "next")
    assert found == whole
    assert workshop.get(f"{BOARD}?cursor=rubbish").status_code == 400
    assert workshop.get(f"{BOARD}?limit=101").status_code == 422


def test_the_board_is_no_listing_and_needs_a_spot(workshop, bare_workshop):
    assert workshop.get(BOARD).json["bands"] == []
    assert bare_workshop.get(BOARD).status_code == 404
    for key in ("shop", "window"):
        assert workshop.get(BOARD, key=key).status_code == 403
