"""Past runs, a new preview, and what would be if silver moved."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from tests.http.workshop import BOOK

RUNS, NEW = "/bench/repricings", "/bench/repricings/new"
WHAT_IF = f"{RUNS}/what-if"


def runs(desk):
    return desk.services.repricings.page(limit=100).runs


def test_a_preview_is_made_at_the_spot_in_force(desk):
    answer = desk.post(NEW, {"spot-price": "", "skus": ""})
    (run,) = runs(desk)
    assert answer.headers["Location"] == f"{RUNS}/{run.id}"
    assert run.spot_price == Decimal("27.50")
    assert run.skus is None


def test_a_preview_can_be_of_some_listings_at_another_spot(desk):
    typed = {"spot-price": "31,25", "skus": "ring-50s, ring-2-5g"}
    desk.post(NEW, typed, headers={"Accept-Language": "de"})
    (run,) = runs(desk)
    assert run.spot_price == Decimal("31.25")
    assert run.skus == ("ring-50s", "ring-2-5g")


def test_asked_for_twice_it_is_one_preview(desk):
    answers = [desk.post(NEW, {"spot-price": "31.25"}) for _ in range(2)]
    assert len({each.headers["Location"] for each in answers}) == 1
    assert len(runs(desk)) == 1


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"spot-price": "1.234", "skus": "ring-50s"}, "spot-price", "two ways"),
        ({"spot-price": "0", "skus": "ring-50s"}, "spot-price", ""),
        ({"spot-price": "30", "skus": "ring-50s nothing"}, "skus", "no listing"),
        ({"spot-price": "30", "skus": "ä"}, "skus", "a sku"),
    ],
)
def test_what_cannot_be_previewed_is_kept_as_it_was_typed(
    shared_desk, typed, field, said
):
    answer = shared_desk.post(NEW, typed, headers={"Accept-Language": "de"})
    assert answer.status_code in {404, 422}
    assert f'href="#f-{field}"' in answer.text
    assert said in answer.text
    assert f'value="{typed["skus"]}"' in answer.text
    assert f'value="{typed["spot-price"]}"' in answer.text


def test_a_spot_that_is_stale_is_refused_in_the_form(desk, monkeypatch):
    later = desk.services.clock.now().replace(year=2031)
    monkeypatch.setattr(type(desk.services.clock), "now", lambda _: later)
    answer = desk.post(NEW, {"skus": ""})
    assert answer.status_code == 409
    assert 'role="alert"' in answer.text
    assert not runs(desk)


def test_what_if_shows_the_largest_changes_and_keeps_nothing(shared_desk):
    part = shared_desk.part(WHAT_IF, "effect", {"change_percent": "150"})
    assert "68.75\u00a0EUR" in part.text
    assert "The largest changes" in part.text
    assert re.search(r'data-say="\d+ prices would change', part.text)
    whole = shared_desk.post(WHAT_IF, {"change_percent": "-10"})
    assert whole.status_code == 200
    assert "24.75\u00a0EUR" in whole.text
    assert 'value="-10"' in whole.text
    some = {"change_percent": "150", "skus": "ring-50s"}
    assert "ring-2-5g" not in shared_desk.part(WHAT_IF, "effect", some).text
    assert not runs(shared_desk)


def test_what_cannot_be_tried_is_told(shared_desk):
    part = shared_desk.part(WHAT_IF, "effect", {"change_percent": "-100"})
    assert part.status_code == 422
    assert "fault" in part.text
    whole = shared_desk.post(WHAT_IF, {"change_percent": ""})
    assert whole.status_code == 422
    assert 'role="alert"' in whole.text
    assert shared_desk.get(WHAT_IF).status_code == 200


def test_one_listing_can_be_asked_for_by_the_address(shared_desk):
    page = shared_desk.get(f"{NEW}?skus=ring-50s").text
    assert page.count('value="ring-50s"') == 2  # of the preview, and of what if


def test_the_way_silver_went_since_the_last_run_is_told(desk):
    assert "since the last repricing" not in desk.get(NEW).text
    run = desk.services.repricings.preview()
    desk.services.repricings.apply(run.id, expected=None)
    desk.services.spot_prices.enter("XAG", Decimal("28.05"), "EUR")
    assert re.search(
        r"since the last repricing.*?\+2\u00a0%", desk.get(NEW).text, re.DOTALL
    )


def test_before_any_spot_the_page_says_what_to_do(empty_desk):
    assert 'href="/bench/begin"' in empty_desk.get(NEW).text
    empty_desk.services.price_books.replace(BOOK, expected=None)
    page = empty_desk.get(NEW)
    assert page.status_code == 200
    assert "There is no spot in force" in page.text
    tried = empty_desk.post(WHAT_IF, {"change_percent": "5"})
    assert tried.status_code in {409, 503}
    assert 'role="alert"' in tried.text


def test_runs_are_listed_newest_first_and_page_by_page(desk):
    assert "No prices were brought in line yet" in desk.get(RUNS).text
    for cents in range(22):
        desk.services.repricings.preview(Decimal(30) + Decimal(cents) / 100)
    first = desk.get(RUNS)
    ids = re.findall(r'href="/bench/repricings/([0-9a-f]{32})"', first.text)
    assert ids == [run.id for run in runs(desk)]
    assert "30.21\u00a0EUR" in first.text
    past = desk.get(f"{RUNS}?older={runs(desk)[1].seq}")
    assert ids[0] not in past.text
    assert 'rel="prev"' in past.text
    assert desk.get(f"{RUNS}?newer=x").status_code == 200
