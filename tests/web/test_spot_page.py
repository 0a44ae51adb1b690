"""The page of the spot price: entered, doubted, held, decided, and looked back on."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest

from tests.browser.quotes import Clock
from tests.web.feeding import ASSAY, hold, in_force

SPOT, RATES = "/bench/spot", "/bench/spot/rates"


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def bench(desk_on, filled_copy, clock, source):
    """A filled workshop with silver at 27.50 EUR and feeds that answer."""
    desk = desk_on(filled_copy, clock=clock, outside={"fetcher": source})
    desk.services.spot_prices.enter("XAG", Decimal("27.50"), "EUR", note="the board")
    return desk


def test_the_price_in_force_is_told_with_all_about_it(bench, clock):
    clock.time += timedelta(hours=3)
    page = bench.get(SPOT).text
    until = "until a newer price is fetched or entered"
    for told in ("27.50", "3 hours old, by hand", "“the board”", "fresh", until):
        assert told in page
    assert "26 hours" in page
    assert "after 72" in page


def test_an_old_price_is_said_to_be_old(bench, clock):
    clock.time += timedelta(days=9)
    page = bench.get(SPOT).text
    assert "stale" in page
    assert "nothing is priced with it" in page


def test_an_empty_workshop_is_asked_for_its_first_price(empty_desk):
    page = empty_desk.get(SPOT)
    assert page.status_code == 200
    assert "No price is in force" in page.text
    answer = empty_desk.post(SPOT, {"price": "27.5", "currency": "EUR"})
    assert answer.headers["Location"] == f"{SPOT}?done=entered"
    assert in_force(empty_desk.services) == (Decimal("27.5"), "EUR")
    assert "27.50\xa0EUR" in empty_desk.get(SPOT).text


def test_a_price_counts_as_it_was_typed(bench):
    typed = {
        "price": "28,10",
        "currency": "EUR",
        "note": "Anna’s <board>",
        "expires_at": "2026-12-24T12:00",
    }
    answer = bench.post(SPOT, typed, headers={"Accept-Language": "de-AT"})
    assert answer.status_code == 303
    entry = bench.services.spot_prices.current_entry()
    assert (entry.price, entry.note) == (Decimal("28.10"), "Anna’s <board>")
    assert entry.expires_at.isoformat() == "2026-12-24T11:00:00+00:00"
    page = bench.get(SPOT).text
    assert "It counts until" in page
    assert "Anna’s &lt;board&gt;" in page


def test_without_a_currency_it_is_in_that_of_the_one_in_force(bench):
    bench.post(SPOT, {"price": "28"})
    assert in_force(bench.services) == (28, "EUR")


@pytest.mark.parametrize(
    ("name", "typed", "told"),
    [
        ("price", "", "This is needed"),
        ("price", "many", "is not a number"),
        ("price", "-3", "3"),
        ("currency", "euro", "three capital letters"),
        ("expires_at", "2020-01-01T00:00", "later instant"),
    ],
)
def test_what_cannot_be_comes_back_as_typed(bench, name, typed, told):
    values = {"price": "28", "note": "kept <as> typed", name: typed}
    answer = bench.post(SPOT, values)
    assert answer.status_code in {400, 422}
    assert f'href="#f-{name}"' in answer.text
    assert told in answer.text
    assert "kept &lt;as&gt; typed" in answer.text
    assert in_force(bench.services) == (Decimal("27.50"), "EUR")


def test_a_strange_price_is_asked_about_and_entered_if_it_is_right(bench):
    values = {"price": "275", "currency": "EUR"}
    answer = bench.post(SPOT, values)
    assert answer.status_code == 422
    assert "is 900.0 % above the 27.50 in force" in answer.text
    assert 'value="sure"' in answer.text
    assert in_force(bench.services)[0] == Decimal("27.50")
    bench.post(SPOT, values | {"_do": "sure"})
    assert in_force(bench.services)[0] == 275


def test_being_sure_is_offered_only_where_nothing_else_is_wrong(bench):
    answer = bench.post(SPOT, {"price": "275", "currency": "euro"})
    assert 'value="sure"' not in answer.text


def test_sending_twice_enters_once(bench):
    marks = bench.marks(SPOT)
    for _ in range(2):
        answer = bench.post(SPOT, {"price": "28"} | marks)
        assert answer.status_code == 303
    assert len(bench.services.spot_prices.history(limit=10)) == 3


def test_a_typed_price_is_told_in_grams_and_compared(bench):
    part = bench.part(SPOT, "heard", {"price": "28.05", "currency": "EUR"}).text
    assert "0.9018" in part
    assert "2\xa0% above the one in force" in part
    part = bench.part(SPOT, "heard", {"price": "0.88", "currency": "EUR"}).text
    assert "a price per gram read as one per troy ounce" in part
    assert (
        bench.part(SPOT, "heard", {"price": "1", "currency": "ZZZ"}).text.strip() == ""
    )
    part = bench.part(SPOT, "heard", {"price": "30", "currency": "USD"}).text
    assert "one in force" not in part


def test_the_history_goes_on_page_by_page_and_is_drawn(bench, clock):
    for number in range(30):
        clock.time += timedelta(days=1)
        bench.services.spot_prices.enter(
            "XAG", Decimal(27) + number / Decimal(10), "EUR"
        )
    page = bench.get(SPOT).text
    assert page.count("Enter again") == 25
    assert "The price of one troy ounce of silver" in page
    older = re.search(r'rel="next" href="([^"]+)"', page).group(1)
    second = bench.get(older.replace("&amp;", "&")).text
    assert second.count("Enter again") == 7
    assert 'rel="prev"' in second
    assert bench.get(f"{SPOT}?before=many").status_code == 200


def test_a_former_price_is_put_into_the_form_again(bench):
    first = bench.services.spot_prices.current_entry()
    bench.services.spot_prices.enter("XAG", Decimal(29), "EUR")
    page = bench.get(f"{SPOT}?again={first.id}").text
    assert re.search('value="27.50?"', page)
    assert 'value="the board"' in page
    assert bench.get(f"{SPOT}?again=99999999999999999999").status_code == 200
    assert bench.get(f"{SPOT}?again=²").status_code == 200


def test_a_held_price_waits_and_tells_why(bench, source):
    entry = hold(bench.services, source)
    page = bench.get(SPOT).text
    assert "A price waits for you" in page
    assert "The assay &lt;office&gt;" in page
    told = bench.get(f"{SPOT}/held/{entry}").text
    assert "a change of at most 8 % passes unasked" in told
    assert "45.45\xa0% above" in told


@pytest.mark.parametrize(
    ("deed", "price", "said"),
    [("accept", 40, "was taken"), ("reject", Decimal("27.50"), "was put aside")],
)
def test_a_held_price_is_decided_once(bench, source, deed, price, said):
    place = f"{SPOT}/held/{hold(bench.services, source)}"
    marks = bench.marks(place)
    bench.services.clock.time += timedelta(minutes=1)
    answer = bench.post(place, {"_do": deed})
    assert answer.headers["Location"].startswith(f"{SPOT}?done={deed}ed")
    assert said in bench.get(answer.headers["Location"]).text
    assert in_force(bench.services)[0] == price
    assert said in bench.get(place).text
    again = bench.post(place, marks | {"_do": "accept"})
    assert again.status_code == 409
    assert "already" in again.text


def test_a_decision_needs_one_of_its_buttons(bench, source):
    place = f"{SPOT}/held/{hold(bench.services, source)}"
    answer = bench.post(place, {"_do": ""})
    assert answer.status_code == 422
    assert bench.services.standings.of().waiting == 1


@pytest.mark.parametrize("entry", ["9999", "x", "99999999999999999999", "0"])
def test_a_price_that_is_not_there_is_not_found(bench, entry):
    assert bench.get(f"{SPOT}/held/{entry}").status_code == 404


def test_a_price_in_another_currency_is_told_in_the_books_too(bench):
    enter = bench.services.spot_prices.enter
    enter("XAG", Decimal(30), "USD")
    assert "For the price book" not in bench.get(SPOT).text
    enter("USD", Decimal("0.9"), "EUR")
    page = bench.get(SPOT).text
    assert "For the price book" in page
    assert "27.00\xa0EUR" in page


def test_a_rate_is_entered_and_its_history_shown(bench):
    assert "There are no rates" in bench.get(RATES).text
    answer = bench.post(RATES, {"metal": "USD", "price": "0.9", "currency": "EUR"})
    assert answer.headers["Location"] == f"{RATES}?of=USD&in=EUR&done=entered"
    page = bench.get(answer.headers["Location"]).text
    assert "One USD in EUR" in page
    assert "0.90\xa0EUR" in page
    answer = bench.post(RATES, {"metal": "USD", "price": "9", "currency": "EUR"})
    assert answer.status_code == 422
    assert 'value="sure"' in answer.text


def test_a_rate_names_its_currency(bench):
    answer = bench.post(RATES, {"metal": " ", "price": "0.9", "currency": "EUR"})
    assert answer.status_code == 422
    assert 'href="#f-metal"' in answer.text
    answer = bench.post(RATES, {"metal": "EUR", "price": "0.9", "currency": "EUR"})
    assert "price it in another currency" in answer.text
    answer = bench.post(RATES, {"metal": "XAG", "price": "28", "currency": "EUR"})
    assert answer.headers["Location"].startswith(f"{SPOT}?")


def test_a_held_rate_waits_on_the_page_of_rates(bench, source):
    rate = {"metal": "USD", "price": "/silver/price"}
    services = bench.services
    services.spot_prices.enter("USD", Decimal("0.9"), "EUR")
    services.feeds.put(
        "dollar", ASSAY | rate | {"limits": {"lowest": "0.1"}}, expected=None
    )
    source.price = "1.00"
    [result] = services.spot_prices.fetch("dollar")
    assert result.outcome == "held"
    page = bench.get(RATES).text
    assert "for one USD" in page
    place = f"{SPOT}/held/{result.entry_id}"
    assert "for one USD" in bench.get(place).text
    answer = bench.post(place, {"_do": "reject"})
    assert answer.headers["Location"].startswith(RATES)
