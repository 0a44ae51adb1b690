"""One listing: added, changed, refused with all that was typed, and taken out."""

from __future__ import annotations

import json
import re
from decimal import Decimal

import pytest

NEW = "/bench/listings/new"
ONE = "/bench/listings/ring-50s"
REMOVE = f"{ONE}/remove"
RING = {
    "sku": "ring-new",
    "title": "A <new> ring",
    "kind": "made_to_order",
    "coin": "at_50s_1959_1973",
    "channel": "own_shop",
    "policy": "retail",
    "published": ["false", "true"],
    "locked": "false",
    "bands-0-from": "5",
    "bands-0-to": "9.5",
    "bands-0-price": "",
}


def bands(desk, sku="ring-50s"):
    """Sizes and prices of a listing."""
    return [
        (float(x.size_from), float(x.size_to), x.price)
        for x in desk.services.listings.get(sku).bands
    ]


def changed(**more):
    """The form of the listing that is there, with other values."""
    kept = {name: value for name, value in RING.items() if name != "sku"}
    return (
        kept
        | {
            "title": "Band ring, 50 schilling",
            "bands-0-price": "169.95",
            "bands-1-from": "10",
            "bands-1-to": "12",
            "bands-1-price": "164.95",
        }
        | more
    )


def test_a_listing_is_added_and_its_price_worked_out(desk):
    sent = RING | {"extras": ["ring_box", "engraving"], "bands-1-from": "10"}
    answer = desk.post(NEW, sent | {"bands-1-to": "12", "bands-1-price": "180"})
    assert answer.status_code == 303
    assert answer.headers["Location"] == "/bench/listings/ring-new?done=added"
    made = desk.services.listings.get("ring-new")
    assert made.extras == ("ring_box", "engraving")
    assert made.published
    assert made.bands[0].price > 100
    assert made.bands[1].price == 180
    shown = desk.get(answer.headers["Location"]).text
    assert "The listing is in the shop." in shown
    assert "A &lt;new&gt; ring" in shown


def test_sent_twice_it_is_added_once(desk):
    marks = desk.marks(NEW)
    answers = [desk.open(NEW, method="POST", data=marks | RING) for _ in range(2)]
    assert [each.status_code for each in answers] == [303, 303]
    assert len({each.headers["Location"] for each in answers}) == 1


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"sku": "ring-50s"}, "", "there is a listing"),
        ({"sku": "new"}, "sku", "cannot name a listing"),
        ({"sku": ""}, "sku", "needed"),
        ({"title": ""}, "title", "needed"),
        ({"bands-0-from": "nine"}, "bands-0-from", "not a number"),
        ({"bands-0-to": "4"}, "bands-0-to", "smaller size first"),
        ({"bands-0-price": "0.001"}, "bands-0-price", ""),
        ({"actual_cost": "50"}, "actual_cost", "ready_made"),
        ({"coin": "gone"}, "coin", "gone"),
        ({"bands-0-from": "", "bands-0-to": ""}, "bands", "one band at least"),
    ],
)
def test_what_cannot_be_comes_back_as_it_was_typed(shared_desk, wrong, field, said):
    answer = shared_desk.post(NEW, RING | wrong)
    assert answer.status_code in {409, 422}
    assert 'role="alert"' in answer.text
    assert said.casefold() in answer.text.casefold()
    assert 'value="A &lt;new&gt; ring"' in answer.text or "title" in wrong
    if field:
        assert f'href="#f-{field}"' in answer.text
        assert f'id="f-{field}"' in answer.text


def test_rows_of_bands_are_added_and_dropped_without_effect(desk):
    added = desk.post(NEW, RING | {"_do": "add"})
    assert added.status_code == 200
    assert 'name="bands-1-from"' in added.text
    sent = RING | {"bands-3-from": "10", "bands-3-to": "12", "_do": "drop-0"}
    dropped = desk.post(NEW, sent)
    assert 'name="bands-0-from"' not in dropped.text
    assert 'name="bands-3-from" type="text" value="10"' in dropped.text
    full = {f"bands-{row}-from": "5" for row in range(40)}
    assert (
        'name="bands-40-from"' not in desk.post(NEW, RING | full | {"_do": "add"}).text
    )
    with pytest.raises(Exception, match="ring-new"):
        desk.services.listings.get("ring-new")


def test_the_price_is_shown_while_one_types(shared_desk):
    part = shared_desk.part(NEW, "tried", RING)
    assert part.headers["X-Part"] == "tried"
    assert "€169.95" in part.text
    dear = shared_desk.part(NEW, "tried", RING | {"bands-0-price": "300"})
    assert "the rules ask for €169.95" in dear.text
    wrong = shared_desk.part(NEW, "tried", RING | {"bands-0-from": "x"})
    assert "is not a number" in wrong.text
    assert "€164.95" in shared_desk.part(ONE, "tried", changed()).text


def test_a_listing_is_shown_with_what_a_buyer_sees_and_what_was(shared_desk):
    page = shared_desk.get(ONE).text
    assert "How its prices stand" in page
    assert "made when it is ordered" in page
    assert "imported from a file" in page
    assert 'value="169.95"' in page
    assert (
        "not shown in the window" in shared_desk.get("/bench/listings/ring-fair").text
    )
    assert shared_desk.get("/bench/listings/nothing").status_code == 404


def test_a_published_listing_that_cannot_be_sold_says_so(desk):
    book = json.loads(desk.services.price_books.stored().document)
    book["channels"] = [x for x in book["channels"] if x["key"] != "own_shop"]
    desk.services.price_books.replace(book, expected=1)
    page = desk.get(ONE)
    assert page.status_code == 200
    assert "the window leaves it out" in page.text
    assert "cannot be priced" in page.text


def test_a_change_is_kept_and_told(desk):
    answer = desk.post(ONE, changed(**{"bands-1-price": "170"}))
    assert answer.headers["Location"] == f"{ONE}?done=kept"
    assert bands(desk) == [
        (5, 9.5, Decimal("169.95")),
        (10, 12, Decimal(170)),
    ]
    assert "edited" in desk.get(ONE).text


def test_a_change_of_nothing_says_so(desk):
    answer = desk.post(ONE, changed())
    assert answer.headers["Location"] == f"{ONE}?done=same"


def test_a_change_of_what_was_changed_meanwhile_keeps_what_was_typed(desk):
    marks = desk.marks(ONE)
    desk.post(ONE, changed(title="By another"))
    answer = desk.open(ONE, method="POST", data=marks | changed(title="By me"))
    assert answer.status_code == 412
    assert "Somebody changed this" in answer.text
    assert 'value="By me"' in answer.text
    assert desk.services.listings.get("ring-50s").title == "By another"
    added = desk.post(ONE, changed(_do="add"))
    assert 'name="bands-2-from"' in added.text


def test_it_is_taken_out_after_a_question_and_once(desk):
    asked = desk.get(REMOVE).text
    assert "Take it out of the shop?" in asked
    marks = desk.marks(REMOVE)
    answer = desk.open(REMOVE, method="POST", data=marks)
    assert answer.headers["Location"] == "/bench/listings?done=removed"
    assert desk.get(ONE).status_code == 404
    again = desk.open(REMOVE, method="POST", data=marks)
    assert again.headers["Location"] == "/bench/listings?done=removed"


def test_what_was_changed_meanwhile_is_not_taken_out(desk):
    marks = desk.marks(REMOVE)
    desk.post(ONE, changed(title="Another"))
    answer = desk.open(REMOVE, method="POST", data=marks)
    assert answer.status_code == 412
    assert desk.get(ONE).status_code == 200


def test_markup_in_a_title_stays_text(desk):
    desk.post(NEW, RING)
    for path in ("/bench/listings", "/bench/listings/ring-new"):
        assert "<new>" not in desk.get(path).text
        assert re.search("&lt;new&gt;", desk.get(path).text)
