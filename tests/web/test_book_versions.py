"""Versions of the price book, files of it, and changes in words."""

from __future__ import annotations

import io
import json
import tomllib
from copy import deepcopy

import pytest
from babel import Locale

from api.services.actor import Actor, acting
from api.web.bench.book_words import titles_of, told, where
from pricing.price_book import diff, document, read_price_book
from tests.http.workshop import BOOK
from tests.web.test_book_edit import send

HOME = "/bench/book"
VERSIONS = f"{HOME}/versions"
IMPORT = f"{HOME}/import"


@pytest.fixture
def two(desk):
    """A desk whose book was changed once."""
    dearer = deepcopy(BOOK)
    dearer["labour"]["rate_per_hour"] = "40.00"
    with acting(Actor(by="maker")):
        desk.services.price_books.replace(dearer, expected=1, note="Wages")
    return desk


def chosen(desk, data, **more):
    sent = {"file": (io.BytesIO(data), "book.toml")} | more
    return desk.post(IMPORT, sent, content_type="multipart/form-data")


def test_the_book_is_shown_part_by_part_with_who_changed_it(two):
    page = two.get(HOME).text
    assert "version 2" in page
    assert "maker" in page
    assert "“Wages”" in page
    assert "14 stages" in page
    assert "€40.00 an hour" in page


@pytest.mark.parametrize(
    ("basis", "said"),
    [
        ("melt", "Coins at 12\u00a0% over melt"),
        ("paid", "Coins at what is paid"),
        (
            "greater_of",
            "Coins at 12\u00a0% over melt, or at what is paid if that is more",
        ),
    ],
)
def test_the_book_says_in_a_line_what_coins_cost(desk, basis, said):
    buying = BOOK["coin_buying"] | {"basis": basis, "paid": "9", "premium": "0.12"}
    desk.services.price_books.replace(BOOK | {"coin_buying": buying}, expected=1)
    assert f"<p>{said}</p>" in desk.get(HOME).text


def test_versions_are_listed_with_when_who_and_why(two):
    page = two.get(VERSIONS).text
    assert page.index("Wages") < page.index('scope="row" class="num">1<')
    assert "maker" in page
    assert "at this machine" in page
    assert 'scope="row" class="num">2<' not in two.get(f"{VERSIONS}?before=2").text


def test_a_key_that_changed_it_is_named(desk):
    record, _ = desk.services.keys.create("bench", "the shop’s script")
    with acting(Actor(by=record.id)):
        desk.services.price_books.replace(BOOK, expected=1)
    assert "key “the shop’s script”" in desk.get(VERSIONS).text


def test_any_two_versions_are_compared_in_words(two):
    page = two.get(f"{HOME}/compare?old=1&new=2").text
    assert "One thing differs" in page
    assert "Labour: bench wage" in page
    assert "32.00 EUR/h" in page
    assert "40.00 EUR/h" in page
    assert "Nothing differs" in two.get(f"{HOME}/compare?old=2&new=2").text


@pytest.mark.parametrize("query", ["old=9&new=1", "old=x&new=1", "old=0&new=1"])
def test_a_version_that_is_not_there_is_not_found(desk, query):
    assert desk.get(f"{HOME}/compare?{query}").status_code == 404


def test_going_back_is_shown_first_and_saves_the_old_one_as_the_newest(two):
    back = f"{VERSIONS}/1/back"
    page = two.get(back).text
    assert "Save it as version 3?" in page
    assert "cheaper by" in page
    assert "Back to version 1" in page
    assert send(two, back, {"_version": "1"}).status_code == 412
    done = send(two, back)
    assert done.headers["Location"] == f"{VERSIONS}?done=kept"
    stored = two.services.price_books.stored()
    assert stored.about.version == 3
    assert json.loads(stored.document)["labour"]["rate_per_hour"] == "32.00"
    assert stored.about.note == "Back to version 1"
    assert two.get(f"{VERSIONS}/9/back").status_code == 404
    assert two.get(f"{VERSIONS}/x/back").status_code == 404


def test_going_back_to_what_is_in_force_changes_nothing(desk):
    assert "It would change nothing" in desk.get(f"{VERSIONS}/1/back").text


@pytest.mark.parametrize(
    ("writing", "read"), [("toml", tomllib.loads), ("json", json.loads)]
)
def test_a_file_of_it_can_be_imported_again(two, writing, read):
    saved = two.get(f"{HOME}/file?as={writing}&version=1")
    assert f'filename="price_book_1.{writing}"' in saved.headers["Content-Disposition"]
    assert document(read_price_book(read(saved.text))) == document(
        read_price_book(BOOK)
    )
    page = chosen(two, saved.data)
    assert "Save it as version 3?" in page.text


def test_a_file_of_no_kind_is_not_there(desk):
    assert desk.get(f"{HOME}/file?as=pdf").status_code == 404


def test_an_import_is_seen_before_it_is_saved(desk):
    text = json.dumps(BOOK | {"title": "Another bench"})
    page = chosen(desk, text.encode())
    assert "The book: title" in page.text
    assert "Another bench" in page.text
    assert desk.services.price_books.current().version == 1
    done = desk.post(IMPORT, {"_text": text, "_version": "1", "_note": "Moved"})
    assert done.headers["Location"] == f"{VERSIONS}?done=kept"
    assert desk.services.price_books.current().title == "Another bench"
    done = desk.post(IMPORT, {"_text": text, "_version": "1"})
    assert done.status_code == 412


def test_a_file_with_faults_is_refused_whole_with_each_of_them(desk):
    broken = deepcopy(BOOK)
    broken["labour"]["rate_per_hour"] = "-1"
    broken["stages"][4]["redo"]["to"] = "nowhere"
    page = chosen(desk, json.dumps(broken).encode())
    assert page.status_code == 422
    assert "2 things are to mend" in page.text
    assert "Labour: bench wage" in page.text
    assert "Stage Fold over the cone" in page.text
    assert chosen(desk, b"").status_code == 422


def test_a_book_that_lacks_a_part_is_told_which(desk):
    bare = {name: part for name, part in BOOK.items() if name != "labour"}
    bare["stages"] = [*BOOK["stages"], {"key": "stamp"}]
    page = chosen(desk, json.dumps(bare).encode())
    assert "Labour: this is missing" in page.text
    assert "Stage stamp: name" in page.text


def test_places_of_a_book_have_words():
    titles = {"stages.fold": "Fold", "consumables.gas": "Torch gas"}
    assert where("stages.fold.minutes_per.land_mm", titles) == (
        "Stage Fold: for each millimetre of land"
    )
    assert where("stages.fold.consumables.gas.quantity", titles) == (
        "Stage Fold, Consumable Torch gas: how much"
    )
    assert where("stages.fold.scrap", titles) == "Stage Fold: chance that it is lost"
    assert where("stages", titles) == "Order of the stages"
    assert where("extras.box", titles) == "Extra box"
    assert where("channels.shop.fees.card.rate", {}) == "Channel shop, Fee card: share"
    assert where("title", {}) == "The book: title"
    assert where("nothing.known", {}) == "The book: known"


def test_what_was_in_another_currency_is_told_in_that():
    other = deepcopy(BOOK) | {"currency": "USD"}
    other["labour"]["rate_per_hour"] = "40.00"
    old, new = read_price_book(BOOK), read_price_book(other)
    found = {one.where: one for one in told(diff(old, new), {}, Locale("en"), "USD")}
    wage = found["Labour: bench wage"]
    assert (wage.before, wage.after) == ("32.00 EUR/h", "40.00 USD/h")
    assert found["The book: currency"].before == "EUR"


def test_every_change_of_every_figure_has_words_and_units():
    other = deepcopy(BOOK)
    other["policies"][0]["target_margin"] = "0.40"
    other["stages"][4]["scrap"] = {"tried": 400, "failed": 9}
    other["extras"].pop()
    other["tools"][0]["price"] = "300"
    other["policies"][1]["prudence"] = "mean"
    old, new = read_price_book(BOOK), read_price_book(other)
    found = told(diff(old, new), titles_of(BOOK), Locale("de"), "EUR")
    assert [(one.where, one.before, one.after) for one in found] == [
        ("Tool Disc punch set: price", "260,00 EUR", "300 EUR"),
        ("Stage Fold over the cone: chance that it is lost", "5 of 331", "9 of 400"),
        ("Policy Retail: target margin", "35\u00a0%", "40\u00a0%"),
        ("Policy To the trade: chances taken at", "0,80", "mean"),
        (
            "Extra Dark patina",
            "key sulphur_patina, title Dark patina, price_cost 0.40, minutes 9",
            "",
        ),
    ]
