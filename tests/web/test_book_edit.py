"""Parts of the price book as forms: what a change does is shown, then it is kept."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest

from api.web.bench.book_parts import PARTS

HOME = "/bench/book"
LABOUR = f"{HOME}/labour"
FIELD = re.compile(r'<(?:input|select|textarea)[^>]*\bname="([^"]+)"')


def document(desk):
    return json.loads(desk.services.price_books.stored().document)


def version(desk):
    return desk.services.price_books.stored().about.version


def typed(page):
    """What a browser would send of the form of a page that nobody touched."""
    html = page.text
    found = []
    for tag in re.findall(r"<input[^>]*>", html):
        kind = re.search(r'type="([a-z]+)"', tag)[1]
        if kind in {"checkbox", "radio"} and " checked" not in tag:
            continue
        name = re.search(r'name="([^"]+)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name:
            found.append((name[1], unescape(value[1]) if value else ""))
    for name, options in re.findall(
        r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', html, re.DOTALL
    ):
        chosen = re.search(r'value="([^"]*)" selected', options)
        first = re.search(r'value="([^"]*)"', options)
        found.append((name, (chosen or first)[1]))
    return found


def send(desk, path, values=(), *, do="save", headers=()):
    """Send the form of a page with some fields typed anew."""
    page = desk.get(path, **dict(headers))
    sent = {}
    for name, value in typed(page):
        sent.setdefault(name, []).append(value)
    sent |= {name: [value] for name, value in dict(values).items()}
    sent["_do"] = [do]
    return desk.open(path, method="POST", data=sent, headers=dict(headers))


def pages(desk):
    """Every page with a form of the book."""
    book = document(desk)
    for part in PARTS.values():
        if part.listed:
            yield from (f"{HOME}/{part.name}/{one['key']}" for one in book[part.name])
        else:
            yield f"{HOME}/{part.name}"


def test_a_channel_says_all_of_a_fee(desk):
    page = desk.get("/bench/book/channels").text
    assert "card 1.9\xa0% and €0.25; shop rent 1\xa0%;" in page


def test_a_stage_says_in_words_what_its_minutes_grow_with(desk):
    page = desk.get("/bench/book/stages").text
    assert "4 min, 0.4 min more for each millimetre of land; 5 of 331 lost" in page


@pytest.mark.parametrize("language", ["en", "de-AT"])
def test_a_form_that_nobody_touched_changes_nothing(desk, language):
    headers = {"Accept-Language": language}
    for path in pages(desk):
        done = send(desk, path, headers=headers)
        assert done.status_code == 303, (path, done.text)
        assert done.headers["Location"].endswith("?done=same"), path
    assert version(desk) == 1


def test_a_change_becomes_the_next_version_with_its_reason(desk):
    done = send(desk, LABOUR, {"labour-rate_per_hour": "33.50", "_note": "New year"})
    assert done.headers["Location"] == f"{LABOUR}?done=kept"
    assert document(desk)["labour"]["rate_per_hour"] == "33.50"
    assert desk.services.price_books.stored().about.note == "New year"
    assert "has a new version" in desk.get(done.headers["Location"]).text


def test_what_is_tried_is_shown_and_not_kept(desk):
    page = send(desk, LABOUR, {"labour-rate_per_hour": "64"}, do="try")
    assert page.status_code == 200
    assert "Tried, not kept" in page.text
    assert "Labour: bench wage" in page.text
    assert page.text.count("dearer by") == 3
    assert 'value="64"' in page.text
    assert version(desk) == 1


def test_a_shop_with_one_listing_is_told_of_one_ring(desk):
    for each in desk.services.storage.read(lambda unit: [*unit.listings.each()])[1:]:
        desk.services.listings.remove(each.sku)
    page = send(desk, LABOUR, {"labour-rate_per_hour": "64"}, do="try").text
    assert page.count("dearer by") == 1
    assert "What it does to prices" in page
    assert "three rings" not in page


def test_while_one_types_the_effect_is_drawn_alone(desk):
    page = desk.get(LABOUR)
    sent = dict(typed(page)) | {"labour-overhead_per_hour": "0"}
    part = desk.open(LABOUR, method="POST", data=sent, headers={"X-Part": "effect"})
    assert part.status_code == 200
    assert "cheaper by" in part.text
    assert "<html" not in part.text
    sent["labour-overhead_per_hour"] = "-1"
    part = desk.open(LABOUR, method="POST", data=sent, headers={"X-Part": "effect"})
    assert part.status_code == 422
    assert "Cannot be worked out yet" in part.text
    assert version(desk) == 1


def test_every_fault_is_told_at_its_field_and_nothing_is_kept(desk):
    wrong = {
        "labour-rate_per_hour": "1.234.5",
        "labour-overhead_per_hour": "-3",
        "currency": "XYZ",
        "title": "",
    }
    page = send(desk, LABOUR, wrong)
    assert page.status_code == 422
    for field in wrong:
        assert f'<a href="#f-{field}">' in page.text
        assert f'id="e-{field}"' in page.text
    assert 'value="1.234.5"' in page.text
    assert version(desk) == 1


def test_a_fault_elsewhere_in_the_book_names_its_place(desk):
    page = send(desk, f"{HOME}/consumables", {"consumables-0-key": "gas"})
    assert page.status_code == 422
    assert "Stage Anneal flat, Consumable" in page.text
    assert "torch_gas" in page.text


def test_shares_are_typed_as_per_cent_and_numbers_as_the_country_writes_them(desk):
    language = {"Accept-Language": "de"}
    send(desk, f"{HOME}/metal", {"coin_buying-premium.pct": "12,5"}, headers=language)
    send(desk, LABOUR, {"labour-rate_per_hour": "31,50"}, headers=language)
    book = document(desk)
    assert book["coin_buying"]["premium"] == "0.125"
    assert book["labour"]["rate_per_hour"] == "31.50"


def test_rows_are_added_and_dropped(desk):
    path = f"{HOME}/extras"
    page = send(desk, path, do="add-extras")
    assert page.status_code == 200
    assert 'name="extras-3-title"' in page.text
    new = {
        "extras-3-title": "Velvet bag",
        "extras-3-key": "bag",
        "extras-3-price_cost": "0.9",
    }
    assert send(desk, path, new).status_code == 303
    assert document(desk)["extras"][3] == {
        "title": "Velvet bag",
        "key": "bag",
        "price_cost": "0.9",
    }
    page = send(desk, path, do="drop-extras-3")
    assert 'name="extras-3-title"' not in page.text
    assert len(document(desk)["extras"]) == 4


def test_a_row_left_blank_is_no_row(desk):
    path, blank = f"{HOME}/extras", {"extras-3-title": "", "extras-3-key": ""}
    assert send(desk, path, blank).headers["Location"].endswith("done=same")


def test_punches_are_a_row_of_lengths(desk):
    path = f"{HOME}/forming"
    done = send(desk, path, {"forming-punches_mm-13": "22", "forming-punches_mm-0": ""})
    assert done.status_code == 303
    punches = document(desk)["forming"]["punches_mm"]
    assert (punches[0], punches[-1], len(punches)) == ("10.0", "22", 13)


def test_a_stage_is_changed_added_moved_and_taken_out(desk):
    stages = f"{HOME}/stages"
    fold = {
        "minutes": "5",
        "scrap-tried": "",
        "scrap-failed": "",
        "scrap-rate.pct": "2",
    }
    assert send(desk, f"{stages}/fold", fold).status_code == 303
    assert document(desk)["stages"][4]["scrap"] == {"rate": "0.02"}
    new = {"title": "Stamp", "key": "stamp", "minutes": "1.5"}
    assert send(desk, f"{stages}/new-entry", new).status_code == 303
    assert document(desk)["stages"][-1]["key"] == "stamp"
    up = send(desk, stages, do="up-stamp")
    assert "Move stage “Stamp” up" in up.text
    assert "Order of the stages" in up.text
    assert version(desk) == 3
    sure = {"_sure": "yes", "_version": "3"}
    assert send(desk, stages, sure, do="up-stamp").status_code == 303
    assert [one["key"] for one in document(desk)["stages"][-2:]] == ["stamp", "pack"]
    sure["_version"] = "4"
    assert send(desk, stages, sure, do="down-stamp").status_code == 303
    sure["_version"] = "5"
    assert send(desk, stages, sure, do="drop-stamp").status_code == 303
    assert len(document(desk)["stages"]) == 14


def test_a_stage_others_go_back_to_cannot_be_taken_out(desk):
    page = send(desk, f"{HOME}/stages", do="drop-anneal_1")
    assert page.status_code == 422
    assert "anneal_1" in page.text
    assert version(desk) == 1


def test_a_form_from_an_older_version_changes_nothing(desk):
    page = send(desk, LABOUR, {"_version": "7", "title": "Mine"})
    assert page.status_code == 412
    assert "Somebody changed this" in page.text
    assert 'value="Mine"' in page.text
    assert (
        send(desk, f"{HOME}/stages", {"_version": "x"}, do="up-pack").status_code == 412
    )


def test_a_form_of_an_entry_that_is_gone_by_now_comes_back_with_what_was_typed(desk):
    gone, sent = f"{HOME}/stages/gone", {"title": "Mine", "_do": "save"}
    page = desk.post(gone, sent | {"_version": "7"}, drawn=LABOUR)
    assert page.status_code == 412
    assert "Somebody changed this" in page.text
    assert 'value="Mine"' in page.text
    assert desk.post(gone, sent, drawn=LABOUR).status_code == 404


def test_sent_twice_it_is_one_version(desk):
    sent = dict(typed(desk.get(LABOUR))) | {"title": "Once", "_do": "save"}
    answers = [desk.open(LABOUR, method="POST", data=sent) for _ in range(2)]
    assert {one.headers["Location"] for one in answers} == {f"{LABOUR}?done=kept"}
    assert version(desk) == 2


@pytest.mark.parametrize("path", ["nothing", "stages/nothing", "channels/x-y"])
def test_what_is_not_there_is_not_found(desk, path):
    assert desk.get(f"{HOME}/{path}").status_code == 404


def test_a_list_whose_button_says_nothing_is_shown_again(desk):
    assert send(desk, f"{HOME}/stages", do="dance").status_code == 200


def test_before_the_first_book_every_page_leads_to_the_beginning(empty_desk):
    for path in ("", "/labour", "/stages/fold", "/versions", "/import"):
        answer = empty_desk.get(f"{HOME}{path}")
        assert answer.headers["Location"] == "/bench/begin"
    back = "/versions/1/back"
    assert empty_desk.get(f"{HOME}{back}").headers["Location"] == "/bench/begin"
    for path in ("/labour", "/stages/fold", "/import", back):
        answer = empty_desk.post(f"{HOME}{path}", drawn="/bench/begin")
        assert answer.headers["Location"] == "/bench/begin"
    part = empty_desk.post(LABOUR, drawn="/bench/begin", headers={"X-Part": "effect"})
    assert "Try it" in part.text


def test_a_member_that_is_missing_is_told_in_words(desk):
    page = send(desk, f"{HOME}/stages/new-entry", {"title": "No key"})
    assert page.status_code == 422
    assert 'id="e-key"' in page.text
