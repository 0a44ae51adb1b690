"""Quotes that were made: the list, each one, and what becomes of it."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from api.ports import QuoteFilter
from api.ports.jobs import JobFilter
from api.services.quotes.terms import LineAsk, QuoteTerms
from pricing.ring_size import ring_size
from pricing.wish import Wish
from tests.browser.quotes import Clock
from tests.web.quoting import ALL, COIN, SET, promise_in, promised


def stored(desk):
    """Quotes by their status, newest first."""
    wanted = QuoteFilter(now=desk.services.clock.now())
    found = desk.services.quotes.page(wanted, limit=100).quotes
    return {quote.status: quote for quote in reversed(found)}


def make(desk, count=1, **terms):
    asks = [LineAsk(coin=COIN, wish=Wish(size=ring_size("us", "8")))]
    return [
        desk.services.quotes.create(asks, QuoteTerms(**terms)) for _ in range(count)
    ]


def address(quote, then=""):
    return f"{ALL}/{quote.id}{then}"


def test_the_list_names_rings_totals_and_states(desk):
    page = desk.get(ALL).text
    assert "1 × Austria 50 schilling, .900, US 10" in page
    assert page.count("€176.85") == 2
    assert ">accepted<" in page
    assert ">open<" in page
    assert "For a wedding." in page


def test_an_empty_list_leads_to_the_desk(empty_desk):
    page = empty_desk.get(ALL).text
    assert "Nothing is promised yet." in page
    assert f'href="{ALL}/new"' in page


def test_the_list_is_sifted_by_status_and_text(desk):
    (quote,) = make(desk, customer_note="A <ring> for Käthe")
    found = desk.get(f"{ALL}?text=käthe").text
    assert quote.number in found
    assert "A &lt;ring&gt; for Käthe" in found
    assert quote.number not in desk.get(f"{ALL}?status=accepted").text
    assert "No quote is like that." in desk.get(f"{ALL}?text=%3Cb%3E").text
    assert desk.get(f"{ALL}?status=odd&past=x").status_code == 200


def test_pages_of_the_list_join_without_a_gap(desk):
    made = make(desk, 23, customer_note="many")
    first = desk.get(f"{ALL}?text=many").text
    older = (
        re.search(r'rel="next" href="([^"]+)"', first).group(1).replace("&amp;", "&")
    )
    second = desk.get(older).text
    assert 'rel="prev"' in second
    for quote in made:
        assert (quote.number in first) != (quote.number in second)
    newer = re.search(r'rel="prev" href="([^"]+)"', second).group(1)
    assert made[-1].number in desk.get(newer.replace("&amp;", "&")).text


def test_a_held_price_is_marked(desk):
    (listing,) = desk.services.window.listings.page(limit=1).listings
    quote = desk.services.window.holds.hold(listing.sku, ring_size("us", "8"), 1)
    assert "held for the shop" in desk.get(ALL).text
    page = desk.get(address(quote)).text
    assert f"The shop holds this price for a buyer: 1 × {listing.sku}." in page


def test_a_quote_begins_with_the_customers_sheet(desk):
    quote = stored(desk)["open"]
    page = desk.get(address(quote)).text
    sheet = f"http://localhost/quotes/{quote.sheet_token}"
    assert f'value="{sheet}"' in page
    assert page.index("The customer’s sheet") < page.index("As it was promised")
    assert desk.get(f"/quotes/{quote.sheet_token}").status_code == 200


def test_the_sheet_can_be_sent_as_a_file_without_any_cost(desk):
    quote = stored(desk)["open"]
    answer = desk.get(address(quote, "/sheet"))
    named = f'attachment; filename="quote-{quote.number}.html"'
    assert answer.headers["Content-Disposition"] == named
    assert quote.number in answer.text
    assert "176.85" in answer.text
    assert "51.45" not in answer.text  # the margin
    assert "works on this machine alone" in desk.get(address(quote)).text


def test_a_quote_shows_what_it_stood_on_whatever_is_so_today(desk):
    quote = stored(desk)["open"]
    before = desk.get(address(quote)).text
    desk.services.spot_prices.enter("XAG", 40, "EUR")
    after = desk.get(address(quote)).text
    once = re.compile('name="_[a-z]+" value="[^"]*"')
    assert once.sub("", before) == once.sub("", after)
    assert "27.50\xa0EUR" in after


def test_of_a_set_one_line_is_shown_in_full(desk):
    answer = promised(desk, SET)
    page = desk.get(answer.headers["Location"]).text
    here = answer.headers["Location"].partition("?")[0]
    assert "It is promised." in page
    assert '<h2 id="the-ring">Austria 50 schilling, .900, US 10</h2>' in page
    for line in ("1", "9"):  # the last one where there are not so many
        other = desk.get(f"{here}?line={line}").text
        assert '<h2 id="the-ring">Austria 50 schilling, .900, UK M 1/2</h2>' in other
    assert "US 10</h2>" in desk.get(f"{here}?line=x").text


def test_an_unknown_quote_is_not_there(desk):
    for then in ("", "/accept", "/decline", "/renew"):
        assert desk.get(f"{ALL}/{'A' * 22}{then}").status_code == 404


def test_a_quote_is_accepted_after_one_more_look(desk):
    quote = stored(desk)["open"]
    look = address(quote, "/accept")
    assert "This is final" in desk.get(look).text
    answer = desk.post(look)
    assert answer.headers["Location"] == address(quote, "?done=accepted")
    page = desk.get(answer.headers["Location"]).text
    assert "It is accepted." in page
    assert "Open a job for it" in page


def test_a_quote_is_declined_for_a_reason(desk):
    quote = stored(desk)["open"]
    answer = desk.post(address(quote, "/decline"), {"reason": "Chose <another>."})
    page = desk.get(answer.headers["Location"]).text
    assert "It is put aside." in page
    assert "Chose &lt;another&gt;." in page
    assert "/renew" in page


def test_a_reason_that_is_too_long_comes_back(desk):
    quote = stored(desk)["open"]
    answer = desk.post(address(quote, "/decline"), {"reason": "x" * 201})
    assert answer.status_code == 422
    assert f'value="{"x" * 201}"' in answer.text


@pytest.mark.parametrize("then", ["/accept", "/decline"])
def test_a_decision_on_another_version_is_not_taken(desk, then):
    quote = stored(desk)["open"]
    answer = desk.post(address(quote, then), {"_version": "7"})
    assert answer.status_code == 412
    assert "Somebody changed this" in answer.text
    assert desk.services.quotes.get(quote.id).status == "open"


def test_what_is_decided_is_not_decided_again(desk):
    quote = stored(desk)["accepted"]
    answer = desk.post(address(quote, "/decline"), {"_version": f"{quote.version}"})
    assert answer.status_code == 409
    assert "is accepted and cannot be declined" in answer.text


def test_a_renewal_shows_both_prices_before_it_is_promised(desk):
    quote = stored(desk)["open"]
    desk.services.spot_prices.enter("XAG", 60, "EUR")
    page = desk.get(address(quote, "/renew")).text
    assert "€176.85" in page
    assert "with silver at 27.50\xa0EUR" in page
    assert "with silver at 60.00\xa0EUR" in page
    seen = promise_in(page)
    answer = desk.post(address(quote, "/renew"), {"_do": seen})
    new = stored(desk)["open"]
    assert answer.headers["Location"] == address(new, "?done=renewed")
    assert f"promise-{new.total}" == seen
    assert quote.number in desk.get(address(new)).text
    old = desk.get(address(quote)).text
    assert "took its place" in old


def test_a_renewal_at_a_price_that_was_not_seen_changes_nothing(desk):
    quote = stored(desk)["open"]
    answer = desk.post(address(quote, "/renew"), {"_do": "promise-1.00"})
    assert answer.status_code == 409
    assert "nothing was changed" in answer.text
    assert desk.services.quotes.get(quote.id).status == "open"


def test_a_renewal_is_worked_out_for_another_spot(desk):
    quote = stored(desk)["open"]
    look = address(quote, "/renew")
    page = desk.post(look, {"spot-price": "55", "_do": "work"}).text
    assert "with silver at 55.00\xa0EUR" in page
    part = desk.part(look, "renewal", {"spot-price": "55"}).text
    assert promise_in(part) == promise_in(page)
    bad = desk.part(look, "renewal", {"spot-price": "much"})
    assert "is not a number" in bad.text


def test_an_accepted_quote_is_not_renewed(desk):
    quote = stored(desk)["accepted"]
    answer = desk.post(
        address(quote, "/renew"), {"_do": "promise-176.85", "_version": "2"}
    )
    assert answer.status_code == 409


def test_a_job_is_opened_once_for_an_accepted_quote(desk):
    quote = stored(desk)["accepted"]
    answer = desk.post(address(quote, "/job"), drawn=address(quote))
    (job,) = desk.services.bench.jobs.page(JobFilter(quote_id=quote.id), limit=5).jobs
    assert answer.headers["Location"] == f"/bench/jobs/{job.id}"
    page = desk.get(address(quote)).text
    assert f"Go to job {job.number}" in page
    assert "Open a job for it" not in page


def test_a_quote_past_its_time_can_only_be_renewed(desk_on, filled_file, tmp_path):
    copy, clock = tmp_path / "late.sqlite3", Clock()
    shutil.copy(filled_file, copy)
    desk = desk_on(copy, clock=clock)
    clock.time = stored(desk)["open"].valid_until + timedelta(minutes=1)
    quote = stored(desk)["open"]
    page = desk.get(address(quote)).text
    assert ">expired<" in page
    assert "Its time passed" in page
    assert "/accept" not in page
    assert "/renew" in page
    answer = desk.post(address(quote, "/accept"))
    assert answer.status_code == 409
    assert "can no longer be accepted" in answer.text


def test_what_cannot_be_made_anew_is_told(desk):
    quote = stored(desk)["open"]
    coin = desk.services.coins.get(COIN).coin
    thin = replace(coin, gross_mass_g=Decimal("0.4"))
    desk.services.coins.replace(COIN, thin, expected=0)
    page = desk.get(address(quote, "/renew"))
    assert page.status_code == 200
    assert "It cannot be renewed" in page.text
    assert "make a new quote" in page.text


def test_a_renewal_waits_for_a_spot_price_that_is_not_stale(
    desk_on, filled_file, tmp_path
):
    copy, clock = tmp_path / "stale.sqlite3", Clock()
    shutil.copy(filled_file, copy)
    desk = desk_on(copy, clock=clock)
    quote = stored(desk)["open"]
    clock.time = quote.valid_until + timedelta(days=60)
    page = desk.get(address(quote, "/renew")).text
    assert "Enter one on the page Spot, or type one here." in page
    assert "promise-" not in page
    given = desk.post(address(quote, "/renew"), {"spot-price": "30", "_do": "work"})
    assert "with silver at 30.00\xa0EUR" in given.text
