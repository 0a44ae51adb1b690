"""The list of listings, its sieve and its pages, and the board of floors."""

from __future__ import annotations

import json
import re
from decimal import Decimal

import pytest

from tests.browser.bench_site import many_listings

LIST, FLOORS = "/bench/listings", "/bench/listings/floors"


def skus(page):
    """The listings of a page, in order."""
    return re.findall(r'<h2 id="l-([^"]+)"', page.text)


def way(page, rel):
    """Where a pager leads."""
    found = re.search(rf'rel="{rel}" href="([^"]+)"', page.text)
    return found and found[1].replace("&amp;", "&")


def test_every_band_has_its_price_its_margin_and_its_floor(shared_desk):
    page = shared_desk.get(LIST)
    assert page.status_code == 200
    assert "ring-50s-box" in skus(page)
    assert "€199.95" in page.text
    assert re.search(r"<td class=\"num\">35\.72\u00a0%", page.text)
    assert re.search(r"<td class=\"num\">76\.91\d*\u00a0EUR", page.text)
    assert "27.50\u00a0EUR" in page.text


def test_amounts_are_written_as_the_visitors_country_does(shared_desk):
    page = shared_desk.get(LIST, **{"Accept-Language": "de-AT"})
    assert "35,72\u00a0%" in page.text
    assert "27,50\u00a0EUR" in page.text


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("text=ENGRAVED", ["ring-50s-box"]),
        ("locked=yes", ["ring-fair"]),
        ("published=no", ["ring-fair"]),
        ("channel=craft_fair", ["ring-fair"]),
        ("kind=ready_made", []),
        ("coin=fr_5f_1960_1969&locked=no", []),
    ],
)
def test_the_sieve_shows_what_is_asked_for(shared_desk, query, found):
    page = shared_desk.get(f"{LIST}?{query}")
    assert skus(page) == found
    assert found or "Nothing in the shop is like that" in page.text


def test_what_an_address_says_in_error_is_left_out(shared_desk):
    everything = skus(shared_desk.get(LIST))
    odd = shared_desk.get(f"{LIST}?kind=other&locked=maybe&older=x&newer=-1")
    assert skus(odd) == everything


def test_pages_lead_on_and_back_with_what_was_asked_for(desk):
    many_listings(desk.services, count=25)
    first = desk.get(f"{LIST}?text=many")
    second = desk.get(way(first, "next"))
    assert len(skus(first)) == 20
    assert len(skus(second)) == 5
    assert not {*skus(first)} & {*skus(second)}
    assert skus(desk.get(way(second, "prev"))) == skus(first)


def test_a_price_under_its_floor_is_marked_by_a_word(desk):
    desk.services.spot_prices.enter("XAG", Decimal(70), "EUR")
    assert "under its floor" in desk.get(LIST).text
    assert "under its floor now" in desk.get(FLOORS).text


def test_the_board_has_the_nearest_first(shared_desk):
    board = shared_desk.get(FLOORS)
    rows = re.findall(r'<a href="/bench/listings/([^"]+)">', board.text)
    assert rows[0] == "ring-2-5g"
    assert re.search(r"11\.6\d?\u00a0%", board.text)


def test_the_board_goes_on_from_page_to_page(desk):
    many_listings(desk.services, count=45)
    first = desk.get(FLOORS)
    second = desk.get(way(first, "next"))
    assert second.status_code == 200
    assert 'rel="next"' not in second.text
    assert desk.get(f"{FLOORS}?past=1_99999_1_1_1").text.count("<td") == 0


def test_a_place_on_the_board_that_is_none_is_not_found(shared_desk):
    assert shared_desk.get(f"{FLOORS}?past=anything").status_code == 404


def test_without_a_spot_the_pages_say_what_to_do(desk):
    changed = json.loads(desk.services.price_books.stored().document)
    desk.services.price_books.replace(changed | {"currency": "USD"}, expected=1)
    assert "There is no spot in force" in desk.get(LIST).text
    board = desk.get(FLOORS)
    assert board.status_code == 200
    assert "cannot be reckoned now" in board.text


@pytest.mark.parametrize("path", [LIST, FLOORS, f"{LIST}/new", f"{LIST}/import"])
def test_before_there_is_a_price_book_the_way_there_is_shown(empty_desk, path):
    page = empty_desk.get(path)
    assert page.status_code == 200
    assert 'href="/bench/begin"' in page.text


def test_an_empty_shop_says_how_to_fill_it(desk):
    for each in desk.services.storage.read(lambda unit: [*unit.listings.each()]):
        desk.services.listings.remove(each.sku)
    assert "There is nothing in the shop yet" in desk.get(LIST).text
    assert "No price here can fall" in desk.get(FLOORS).text
