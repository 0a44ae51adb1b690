"""The quote desk: worked out or refused in plain words, and promised once."""

from __future__ import annotations

import shutil
from dataclasses import replace
from decimal import Decimal

import pytest

from api.app import PAGES, compose, create_app
from api.ports import QuoteFilter
from api.settings import Settings
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.browser.bench_site import COIN, blank
from tests.browser.quotes import Clock
from tests.http.workshop import BOOK
from tests.web.desk import Desk
from tests.web.quoting import ALL, NEW, RING, SET, promise_in, promised


@pytest.fixture(scope="module")
def desk(filled_file, tmp_path_factory):
    """One bench for all tests here: working a price out leaves nothing behind."""
    copy = tmp_path_factory.mktemp("desk") / "fineweight.sqlite3"
    shutil.copy(filled_file, copy)
    settings = Settings(database=str(copy))
    services = compose(settings, clock=Clock())
    made = Desk(create_app(settings, services, pages=(*PAGES, blank)), services)
    yield made
    services.close()


@pytest.fixture(autouse=True)
def _english(desk):
    desk.headers.clear()


def newest(desk):
    now = desk.services.clock.now()
    return desk.services.quotes.page(QuoteFilter(now=now), limit=1).quotes[0]


def estimate(desk, values):
    """The part that is drawn while one types."""
    return desk.part(NEW, "figures", values)


def test_without_a_price_book_the_desk_leads_to_one(empty_desk):
    assert 'href="/bench/begin"' in empty_desk.get(NEW).text
    assert (
        'href="/bench/begin"' in empty_desk.post(NEW, RING, drawn="/bench/style").text
    )


def test_coins_are_grouped_by_country_and_the_workshops_own_come_first(desk):
    coin = replace(desk.services.coins.get(COIN).coin, key="worn_schilling")
    desk.services.coins.add(coin)
    page = desk.get(NEW).text
    own = page.index('<optgroup label="The workshop’s own">')
    assert own < page.index('value="worn_schilling"') < page.index('label="Australia"')
    assert page.count("<optgroup") > 10


def test_nothing_is_promised_on_an_empty_form(desk):
    page = desk.get(NEW)
    assert "Choose a coin and a finger size" in page.text
    assert "promise-" not in page.text


def test_figures_come_with_where_they_are_from(desk):
    page = estimate(desk, RING).text
    for told in (
        "€164.95", "€50.40", "36.67", "the target margin", "€66.55", "21.78",
        "1.46 h", "version 1", "entered by hand", "€68.41", "€117.51",
        "87.54 min ÷ 60 × 32.00", "19.8 g × 0.900",
    ):  # fmt: skip
        assert told in page.replace("\xa0", " "), told


def test_the_shown_price_is_the_one_of_the_estimate(desk):
    page = estimate(desk, RING | {"lines-0-extras": "ring_box"}).text
    wish = Wish(size=ring_size("us", "10"), extras=("ring_box",))
    found = desk.services.estimates.estimate(COIN, wish).price.sale
    shown = promise_in(page).removeprefix("promise-")
    assert Decimal(shown) == found.charged


@pytest.mark.parametrize(
    ("typed", "field", "told"),
    [
        ({"_coin-0": ""}, "_coin-0", "is needed"),
        ({"lines-0-size-size": ""}, "lines-0-size-size", "is needed"),
        ({"lines-0-size-size": "many"}, "lines-0-size-size", "many"),
        ({"lines-0-quantity": "0"}, "lines-0-quantity", "1"),
        ({"_spot": "silver"}, "_spot", "is not a number"),
        ({"_channel": "none_such"}, "_channel", "none_such"),
        ({"lines-0-hole_mm": "1", "lines-0-band_width_mm": "2"}, "", "band_width_mm"),
        ({"deposit_share.pct": "200"}, "deposit_share.pct", "1"),
    ],
)
def test_what_cannot_be_used_is_told_beside_its_field(desk, typed, field, told):
    answer = desk.post(NEW, RING | typed)
    assert answer.status_code == 422
    assert "to mend; nothing was changed" in answer.text
    assert f'href="#f-{field}"' in answer.text if field else True
    assert told in answer.text
    assert "promise-" not in answer.text


def test_what_was_typed_is_kept(desk):
    typed = RING | {
        "lines-0-size-size": "?",
        "customer_note": "For <b>Anna</b>",
        "lines-0-extras": "ring_box",
        "_own-0": "true",
        "lines-0-own_coin-compensation": "40",
    }
    page = desk.post(NEW, typed).text
    assert "For &lt;b&gt;Anna&lt;/b&gt;" in page
    assert 'value="ring_box" checked' in page
    assert 'value="40"' in page
    assert f'value="{COIN}" selected' in page


def test_a_ring_that_cannot_be_made_is_refused_with_what_can(desk):
    typed = RING | {"_coin-0": "us_dime_1892_1964", "lines-0-size-size": "14"}
    page = desk.post(NEW, typed)
    assert page.status_code == 422
    assert "cannot become a ring of US 14" in page.text
    assert "Take size US 5" in page.text
    taken = desk.post(NEW, typed | {"_do": "size-0-5"})
    assert taken.status_code == 200
    assert 'value="5"' in taken.text
    assert "promise-" in taken.text


def test_the_hole_that_is_offered_can_be_taken(desk):
    typed = RING | {"lines-0-hole_mm": "33", "lines-0-band_width_mm": ""}
    page = desk.post(NEW, typed).text
    offer = page.split('value="hole-0-')[1].split('"')[0]
    taken = desk.post(NEW, typed | {"_do": f"hole-0-{offer}"})
    assert f'value="{offer}"' in taken.text
    assert "promise-" in taken.text


def test_without_a_spot_price_it_is_said_where_to_enter_one(desk_on, tmp_path):
    desk = desk_on(tmp_path / "bare.sqlite3")
    desk.services.price_books.replace(BOOK, expected=None)
    page = desk.post(NEW, RING).text
    assert 'href="/bench/spot"' in page
    assert "is in force. Enter one on the page Spot, or type one here." in page
    given = desk.post(NEW, RING | {"_spot": "27.50"}).text
    assert "given for this price alone" in given


def test_a_coin_can_be_given_by_its_figures(desk):
    desk.headers["Accept-Language"] = "de-AT"
    figures = {
        "_coin-0": "",
        "lines-0-coin-name": "A medal",
        "lines-0-coin-gross_mass_g": "26,73",
        "lines-0-coin-diameter_mm": "38,1",
        "lines-0-coin-metal": "XAG",
        "lines-0-coin-fineness_permille": "900",
    }
    page = desk.post(NEW, RING | figures)
    assert page.status_code == 200
    assert "A medal, US 10" in page.text
    bad = desk.post(NEW, RING | figures | {"lines-0-coin-diameter_mm": "wide"})
    assert 'href="#f-lines-0-coin-diameter_mm"' in bad.text


def test_figures_beside_a_chosen_coin_do_not_count(desk):
    page = desk.post(NEW, RING | {"lines-0-coin-gross_mass_g": "500"}).text
    assert "€164.95" in page


def test_a_customers_own_coin_says_what_may_happen_to_it(desk):
    own = {"_own-0": "true", "lines-0-own_coin-compensation": "40"}
    page = estimate(desk, RING | own).text
    assert "The customer’s own coin" in page
    assert "Coins to start" not in page
    unticked = estimate(desk, RING | own | {"_own-0": "false"}).text
    assert "Coins to start" in unticked


def test_a_size_may_have_a_comma(desk):
    assert ", US 9.5<" in estimate(desk, RING | {"lines-0-size-size": "9,5"}).text


def test_luck_is_played_through_on_demand(desk):
    assert "Played through" in estimate(desk, RING | {"lines-0-include": "risk"}).text


def test_what_was_really_paid_shows_its_margin(desk):
    page = estimate(desk, RING | {"lines-0-coin_paid": "9.00"}).text
    assert "Margin on what was paid" in page


def test_a_set_is_priced_together_and_opened_line_by_line(desk):
    page = desk.post(NEW, SET).text
    assert "Ring 1 of 2" in page
    assert 'name="lines-1-size-size" value="M 1/2"' in page
    opened = desk.post(NEW, SET | {"_do": "open-1"}).text
    assert "Ring 2 of 2" in opened
    assert 'name="lines-0-size-size" value="10"' in opened


def test_a_line_more_begins_as_the_one_before(desk):
    page = desk.post(NEW, RING | {"_do": "add"}).text
    assert "Ring 2 of 2" in page
    assert "promise-" in page


def test_a_line_less_closes_the_gap(desk):
    page = desk.post(NEW, SET | {"_do": "drop-0"}).text
    assert 'id="f-lines-0-size-size"' in page
    assert 'value="M 1/2"' in page
    assert "lines-1-" not in page


def test_the_last_line_stays(desk):
    assert desk.post(NEW, RING | {"_do": "drop-0"}).status_code == 200


def test_a_fault_opens_its_line(desk):
    page = desk.post(NEW, SET | {"lines-1-size-size": "?"}).text
    assert "Ring 2 of 2" in page
    assert 'href="#f-lines-1-size-size"' in page
    assert 'id="f-lines-1-size-size"' in page


def test_a_promise_leads_to_its_quote(desk):
    answer = promised(desk)
    quote = newest(desk)
    assert answer.headers["Location"] == f"{ALL}/{quote.id}?done=promised"
    assert quote.total == Decimal("171.85")


def test_terms_are_promised_with_it(desk):
    terms = {"customer_note": "Inside.", "deposit_share.pct": "50", "valid_hours": "5"}
    promised(desk, RING | terms | {"show_spot": "true"})
    quote = newest(desk)
    assert quote.customer_note == "Inside."
    assert quote.deposit == Decimal("85.93")
    assert (quote.valid_until - quote.created_at).total_seconds() == 5 * 3600


def test_a_promise_sent_twice_is_one_quote(desk):
    seen = promise_in(desk.post(NEW, RING).text)
    sent = desk.marks(NEW) | RING | {"_do": seen}
    before = newest(desk).seq
    first, second = (desk.client.post(ALL, data=sent) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert newest(desk).seq == before + 1


@pytest.mark.parametrize("seen", ["promise-1.00", "work", "promise-"])
def test_no_other_price_is_promised_than_was_seen(desk, seen):
    before = newest(desk).number
    answer = desk.post(ALL, RING | {"_do": seen}, drawn=NEW)
    assert answer.status_code == 409
    assert "nothing was promised" in answer.text
    assert "promise-171.85" in answer.text
    assert newest(desk).number == before


def test_a_promise_with_faults_comes_back_as_it_was(desk):
    answer = desk.post(
        ALL, RING | {"lines-0-size-size": "?", "_do": "promise-171.85"}, drawn=NEW
    )
    assert answer.status_code == 422
    assert 'value="?"' in answer.text


def test_an_address_may_begin_a_quote(desk):
    page = desk.get(f"{NEW}?coin={COIN}&size=10&system=us").text
    assert f'value="{COIN}" selected' in page
    assert "promise-171.85" in page
    assert "promise-" not in desk.get(f"{NEW}?coin=none_such&size=10").text


@pytest.mark.parametrize(("language", "system"), [("en-GB", "uk"), ("de-AT", "iso")])
def test_sizes_begin_in_the_system_of_the_country(desk, language, system):
    desk.headers["Accept-Language"] = language
    assert f'value="{system}" selected' in desk.get(NEW).text


@pytest.mark.parametrize(
    "odd", ["lines-0-{}", "lines-x-{0.a}", "_coin-0-}", "lines", "lines-99999-size"]
)
def test_names_that_no_form_has_do_no_harm(desk, odd):
    assert desk.post(NEW, RING | {odd: "1"}).status_code in {200, 422}
