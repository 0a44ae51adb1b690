"""Repricings as they are told, with the decimals of their currency."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from api.ports import Place
from api.services.repricings.document import (
    band_document,
    board_document,
    run_document,
    what_if_document,
)

BAND = ("5", "5.5")


@pytest.fixture
def stocked(shop):
    shop.list(shop.listing("A", (*BAND, "140.00")), shop.listing("C", (*BAND, "100")))
    return shop


def test_a_run_tells_what_it_stands_on_and_what_became_of_it(stocked, clock):
    run = stocked.repricings.preview(Decimal("29.10"))
    told = run_document(run)
    assert told["spot"]["price"] == "29.10"
    assert (told["bands"], told["include"], told["skus"]) == (2, [], None)
    assert told["counts"]["review"] == 1
    assert (told["applied_at"], told["applied_by"]) == (None, "")
    applied = run_document(stocked.applied(run, [Place("C", Decimal(5))]))
    assert applied["include"] == [{"sku": "C", "from": 5}]
    assert (applied["status"], applied["applied_at"]) == ("applied", clock.now())
    assert {*told} == {*applied}


def test_amounts_have_the_decimals_of_their_currency(stocked):
    run = stocked.repricings.preview()
    [band] = stocked.bands(run, decision="raise")
    told = band_document(band, "EUR")
    assert (str(told["old_price"]), str(told["new_price"])) == ("140.00", "154.95")
    assert str(band_document(band, "JPY")["old_price"]) == "140"
    assert str(band_document(band, "JPY")["new_price"]) == "154.95"
    assert (told["sku"], told["from"], told["to"]) == ("A", 5, Decimal("5.5"))


def test_a_what_if_tells_the_bands_that_would_change(stocked):
    found = stocked.repricings.what_if(change_percent=Decimal(10))
    told = what_if_document(found)
    assert told["spot"]["price"] == "30.25"
    assert [each["sku"] for each in told["changes"]] == ["C", "A"]
    assert told["changes_left_out"] == 0
    json.dumps(told["spot"])


def test_the_board_tells_each_band_by_name(stocked):
    told = board_document(stocked.repricings.floors(limit=10))
    assert (told["currency"], told["book_version"]) == ("EUR", 1)
    assert [each["sku"] for each in told["bands"]] == ["C", "A"]
    assert [each["under"] for each in told["bands"]] == [True, False]
    assert str(told["bands"][0]["price"]) == "100.00"
