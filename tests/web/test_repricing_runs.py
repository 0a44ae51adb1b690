"""One run on its pages: looked at, applied, watched, refused, and undone."""

from __future__ import annotations

import re
import threading
from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import Place
from api.services.repricings.apply import RepricingApply
from api.services.repricings.pace import Pace
from tests.browser.bench_site import many_listings

RUNS = "/bench/repricings"
HIGH = Decimal(34)  # at which one band is in review and others are raised


@pytest.fixture
def run(desk):
    """A preview of the whole shop."""
    return desk.services.repricings.preview(HIGH)


def home(run):
    return f"{RUNS}/{run.id}"


def now(desk, run):
    return desk.services.repricings.get(run.id)


def prices(desk):
    return desk.services.storage.read(
        lambda unit: {
            (each.sku, float(band.size_from)): band.price
            for each in unit.listings.each()
            for band in each.bands
        }
    )


def test_a_preview_shows_what_waits_first_and_why(desk, run):
    page = desk.get(home(run)).text
    assert run.counts["review"] == 1
    assert "Waiting for your word" in page
    assert "over the largest step" in page
    assert "€124.95" in page
    assert "Nothing is changed yet" in page
    raised = desk.get(f"{home(run)}?decision=raise").text
    assert "ring-50s" in raised
    assert "ring-2-5g" not in raised
    locked = desk.get(f"{home(run)}?decision=locked").text
    assert "ring-fair" in locked
    assert "No band is like that" in desk.get(f"{home(run)}?decision=hold&sku=x").text
    every = desk.get(f"{home(run)}?decision=all").text
    assert every.count('class="said-of"') == 5


def test_bands_go_on_from_page_to_page(desk):
    many_listings(desk.services, count=70)
    run = desk.services.repricings.preview(HIGH)
    first = desk.get(f"{home(run)}?decision=all")
    older = re.search(r'rel="next" href="([^"]+)"', first.text)[1]
    second = desk.get(older.replace("&amp;", "&"))
    newer = re.search(r'rel="prev" href="([^"]+)"', second.text)[1]
    assert second.text.count('class="said-of"') == 25
    assert desk.get(newer.replace("&amp;", "&")).text.count('class="said-of"') == 50


@pytest.mark.parametrize("path", ["", "/apply", "/undo"])
def test_a_run_that_is_not_there_is_not_found(shared_desk, path):
    assert shared_desk.get(f"{RUNS}/{'0' * 32}{path}").status_code == 404


@pytest.mark.parametrize("query", ["past=what", "before=a|b|c"])
def test_a_place_that_cannot_be_is_refused(desk, run, query):
    assert desk.get(f"{home(run)}?{query}").status_code == 422


def test_applying_asks_first_and_changes_only_what_is_ticked(desk, run):
    before = prices(desk)
    asked = desk.get(f"{home(run)}/apply").text
    assert "3 prices will change" in asked
    assert prices(desk) == before
    only_looked = desk.post(f"{home(run)}/apply", {"_do": "look"})
    assert only_looked.status_code == 200
    assert prices(desk) == before
    answer = desk.post(f"{home(run)}/apply", {"_do": "apply"})
    assert answer.headers["Location"] == f"{home(run)}?done=applied"
    assert prices(desk)["ring-2-5g", 5] == before["ring-2-5g", 5]
    assert prices(desk)["ring-50s", 5] > before["ring-50s", 5]
    assert "The new prices are in force." in desk.get(answer.headers["Location"]).text


def test_what_is_ticked_is_counted_while_one_ticks_and_then_applied(desk, run):
    ticked = {"include": "ring-2-5g|5"}
    part = desk.part(f"{home(run)}/apply", "sum", ticked)
    assert "4 prices will change" in part.text
    before = prices(desk)
    desk.post(f"{home(run)}/apply", ticked | {"_do": "apply"})
    assert prices(desk)["ring-2-5g", 5] > before["ring-2-5g", 5]
    assert now(desk, run).named == (Place("ring-2-5g", Decimal(5)),)
    assert "named" in desk.get(f"{home(run)}?decision=review").text


def test_ticks_are_kept_over_many_bands_in_review(desk):
    rows = [f"odd-{n:03},Odd,made_to_order,at_50s_1959_1973,own_shop,retail,5,12,100"
            for n in range(70)]  # fmt: skip
    header = "sku,title,kind,coin,channel,policy,from,to,price"
    desk.services.listings.import_csv("\n".join([header, *rows]).encode())
    run = desk.services.repricings.preview()
    waiting = run.counts["review"]
    assert waiting >= 70
    first = desk.get(f"{home(run)}/apply").text
    more = re.search(r'value="(more-[^"]+)"', first)[1]
    sent = {"include": ["odd-003|5", "odd-010|5"], "_do": more}
    second = desk.post(f"{home(run)}/apply", sent)
    assert "2 ticked before are kept" in second.text
    assert 'type="hidden" name="include" value="odd-003|5"' in second.text
    assert second.text.count('type="checkbox" name="include"') == waiting - 60
    sent = {"include": ["odd-003|5", "odd-010|5", "odd-069|5"], "_do": "apply"}
    desk.post(f"{home(run)}/apply", sent)
    assert len(now(desk, run).named) == 3


def test_all_that_wait_can_be_named_by_one_tick(desk):
    many_listings(desk.services, count=150)
    run = desk.services.repricings.preview(HIGH)
    waiting = run.counts["review"]
    assert waiting > 1
    asked = desk.get(f"{home(run)}/apply").text
    assert f"Change all {waiting} of them" in asked
    every = {"_all": ["false", "true"]}
    part = desk.part(f"{home(run)}/apply", "sum", every)
    assert f"({waiting} so far)" in part.text
    desk.post(f"{home(run)}/apply", every | {"_do": "apply"})
    assert len(now(desk, run).named) == waiting


def test_sent_twice_it_is_applied_once(desk, run):
    marks = desk.marks(f"{home(run)}/apply") | {"_do": "apply"}
    answers = [
        desk.open(f"{home(run)}/apply", method="POST", data=marks) for _ in range(2)
    ]
    assert {each.headers["Location"] for each in answers} == {
        f"{home(run)}?done=applied"
    }
    assert now(desk, run).version == 3


def test_what_was_applied_otherwise_meanwhile_is_told(desk, run):
    marks = desk.marks(f"{home(run)}/apply") | {"_do": "apply"}
    desk.services.repricings.apply(run.id, expected=None)
    other = marks | {"include": "ring-2-5g|5"}
    answer = desk.open(f"{home(run)}/apply", method="POST", data=other)
    assert answer.status_code == 412
    assert "It is no preview any more" in answer.text


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"include": "ring-50s|5"}, "not in review"),
        ({"include": "nobody|5"}, "no band"),
        ({"include": "nobody"}, "names a band that cannot be"),
        ({"_version": "x"}, "load the page again"),
        ({"_version": "7"}, "Somebody changed this"),
    ],
)
def test_what_cannot_be_applied_is_told_in_words(desk, run, form, said):
    before = prices(desk)
    answer = desk.post(f"{home(run)}/apply", {"_do": "apply"} | form)
    assert answer.status_code in {412, 422}
    assert said.casefold() in answer.text.casefold()
    assert prices(desk) == before


def test_a_preview_that_no_longer_holds_says_which_listings_changed(desk, run):
    marks = desk.marks(f"{home(run)}/apply") | {"_do": "apply"}
    edited = desk.services.listings.get("ring-50s")
    form = "sku,from,to,price\nring-50s,10,12,170"
    desk.services.listings.import_csv(form.encode())
    assert edited.revision
    answer = desk.open(f"{home(run)}/apply", method="POST", data=marks)
    assert answer.status_code == 409
    for page in (answer, desk.get(home(run)), desk.get(f"{home(run)}/apply")):
        assert "This preview no longer holds" in page.text
        assert '<a href="/bench/listings/ring-50s">ring-50s</a>' in page.text
        assert 'href="/bench/repricings/new"' in page.text


def test_undoing_asks_first_and_brings_every_price_back(desk, run):
    before = prices(desk)
    assert "There is nothing to undo" in desk.get(f"{home(run)}/undo").text
    desk.services.repricings.apply(run.id, expected=None)
    asked = desk.get(f"{home(run)}/undo").text
    assert "Put 3 old prices back?" in asked
    assert prices(desk) != before
    marks = desk.marks(f"{home(run)}/undo")
    answers = [
        desk.open(f"{home(run)}/undo", method="POST", data=marks) for _ in range(2)
    ]
    assert {each.headers["Location"] for each in answers} == {
        f"{home(run)}?done=undone"
    }
    assert prices(desk) == before
    page = desk.get(answers[0].headers["Location"]).text
    assert "The prices from before are in force again." in page


def test_what_was_edited_since_is_not_undone_and_listed(desk, run):
    desk.services.repricings.apply(run.id, expected=None)
    marks = desk.marks(f"{home(run)}/undo")
    form = "sku,from,to,price\nring-50s,10,12,999"
    desk.services.listings.import_csv(form.encode())
    for page in (
        desk.open(f"{home(run)}/undo", method="POST", data=marks),
        desk.get(f"{home(run)}/undo"),
    ):
        assert "It cannot be undone" in page.text
        assert ">ring-50s from 10</a>" in page.text
    assert prices(desk)["ring-50s", 10] == 999


def test_an_undo_of_another_version_is_refused(desk, run):
    desk.services.repricings.apply(run.id, expected=None)
    answer = desk.post(f"{home(run)}/undo", {"_version": "9"})
    assert answer.status_code == 412
    assert now(desk, run).status == "applied"


class Gate:
    """Rests between chunks until it is opened."""

    def __init__(self):
        self.reached, self.opened = threading.Event(), threading.Event()

    def __call__(self, _):
        self.reached.set()
        assert self.opened.wait(20)


def slowly(desk, gate):
    """From here on prices are made ready one listing at a time."""
    found = desk.services.repricings.running._apply
    assert isinstance(found, RepricingApply)
    found._pace = Pace(at_once=0, size=1, pause_s=1, sleep=gate)
    return found


def ended(run):
    """Wait until the thread of a run is done."""
    for each in threading.enumerate():
        if each.name == f"repricing {run.id}":
            each.join(20)


def test_a_long_apply_can_be_left_and_found_again(desk, run):
    gate, before = Gate(), prices(desk)
    slowly(desk, gate)
    answer = desk.post(f"{home(run)}/apply", {"_do": "apply"})
    assert answer.headers["Location"] == f"{home(run)}?done=begun"
    assert gate.reached.wait(20)
    page = desk.get(home(run)).text
    assert 'data-poll="2"' in page
    assert "Look again" in page
    assert re.search(r"<span>\d of 5</span>", page)
    assert prices(desk) == before
    assert "being applied" in desk.get(RUNS).text
    assert "It is no preview any more" in desk.get(f"{home(run)}/apply").text
    twice = {"_do": "apply", "_version": "1"}
    again = desk.post(f"{home(run)}/apply", twice, drawn=f"{RUNS}/new")
    assert again.headers["Location"] == f"{home(run)}?done=begun"
    gate.opened.set()
    ended(run)
    page = desk.get(home(run)).text
    assert "data-poll" not in page
    assert 'data-said="The new prices are in force."' in page
    assert prices(desk) != before


def test_an_apply_that_was_cut_short_is_gone_on_with(desk, run, monkeypatch):
    killed = slowly(desk, Gate())
    monkeypatch.setattr(killed, "_make_ready", lambda run: None)
    monkeypatch.setattr(killed, "_switched", lambda run: run)
    named = {"_do": "apply", "include": "ring-2-5g|5"}
    assert desk.post(f"{home(run)}/apply", named).status_code == 303
    ended(run)
    monkeypatch.undo()
    store = desk.services.repricings.running
    found = type(store).progress
    monkeypatch.setattr(
        type(store), "progress", lambda self, run: replace(found(self, run), quiet=True)
    )
    page = desk.get(home(run))
    assert "It seems to have been cut short" in page.text
    assert "data-poll" not in page.text
    sent = re.search(r'name="include" value="([^"]+)"', page.text)[1]
    killed._pace = Pace()
    going_on = {"_do": "apply", "_version": "2", "include": sent}
    desk.post(f"{home(run)}/apply", going_on, drawn=home(run))
    ended(run)
    assert now(desk, run).status == "applied"
