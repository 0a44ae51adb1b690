"""The customer's sheet: what it says, in which words, and what it keeps to itself."""

from __future__ import annotations

import json
import logging
import re
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from html import unescape

import pytest

from api import ports
from api.app import compose, create_app
from api.settings import Settings
from tests.browser.quotes import CANARIES, Clock, make_quotes
from tests.http.fakes import bearer
from tests.http.sheets import FRANC, SCHILLING, TOKEN, FakeQuotas, FakeQuotes
from tests.http.test_docs import Outline

ADDRESS = f"/quotes/{TOKEN}"
NOBODYS = (
    f"/quotes/{TOKEN[:-1]}A",
    f"/quotes/{TOKEN[:-1]}",
    f"/quotes/{TOKEN}A",
    f"/quotes/{TOKEN.swapcase()}",
    f"/quotes/{TOKEN}/",
    f"/quotes/{TOKEN}/more",
    f"/quotes//{TOKEN}",
    "/quotes/",
    "/quotes/2026-0017",
    "/quotes/a%00b",
    "/quotes/%ff%fe",
    "/quotes/..%2f..%2fdocs",
    "/quotes/%F0%9F%92%8D",
    f"/quotes/{'A' * 3000}",
)
DECIDED = datetime(2026, 11, 26, 9, tzinfo=UTC)


@pytest.fixture
def quotes(services):
    services.quotas, services.quotes = FakeQuotas(), FakeQuotes()
    return services.quotes


@pytest.fixture
def show(client, quotes):
    """The page of the sheet with some members changed."""

    def showing(**members):
        quotes.change(**members)
        answer = client.get(ADDRESS)
        assert answer.status_code == 200
        return answer.text

    return showing


def plain(markup: str) -> str:
    """The words of some markup, with every space the same."""
    words = unescape(re.sub(r"<[^>]+>", " ", markup))
    spaced = " ".join(re.sub("[\u202f\u00a0]", " ", words).split())
    return re.sub(r" (?=[.,])", "", spaced)


def rows(text: str, part: str) -> list[list[str]]:
    """The cells of the table's head, body or foot."""
    within = re.search(f"<{part}>(.*?)</{part}>", text, re.DOTALL)[1]
    cell = re.compile("<t[hd].*?>(.*?)</t[hd]>", re.DOTALL)
    found = re.findall("<tr.*?>(.*?)</tr>", within, re.DOTALL)
    return [[plain(one) for one in cell.findall(row)] for row in found]


def dates(text: str) -> dict[str, str]:
    return {
        plain(name): plain(value)
        for name, value in re.findall("<dt>(.*?)</dt><dd>(.*?)</dd>", text, re.DOTALL)
    }


def test_it_says_what_is_offered_by_whom_and_until_when(show):
    text = show()
    assert "<title>Quote 2026-0017 · A bench by the mill</title>" in text
    assert plain(re.search("<h1>(.*?)</h1>", text)[1]) == "Quote 2026-0017"
    assert plain(re.search("<header.*?</header>", text)[0]) == "A bench by the mill"
    assert dates(text) == {
        "Made on": "Thursday, 26 November 2026",
        "Valid until": "Saturday, 28 November 2026, 14:30 (Vienna time, UTC+1)",
        "Ready by": "Friday, 18 December 2026",
    }
    assert 'datetime="2026-11-28T13:30:59+00:00"' in text


def test_the_pieces_are_a_table_with_headers(show):
    text = show()
    assert rows(text, "thead") == [["Piece", "Quantity", "Each", "Together"]]
    assert rows(text, "tbody") == [
        [
            "Austria, 50 schilling ring size US 10 with Ring box, Engraving",
            "1",
            "94.95",
            "94.95",
        ],
        [
            "Switzerland, 5 francs ring size UK T 1/2 Your own coin. Lost at times.",
            "2",
            "574.95",
            "1 149.90",
        ],
    ]
    assert text.count('scope="col"') == 4
    assert text.count('<th scope="row"') == 2 + len(rows(text, "tfoot"))


def test_the_sums_are_those_of_the_quote(show):
    assert rows(show(), "tfoot") == [
        ["Pieces", "1 244.85"],
        ["Shipping", "6.90"],
        ["Total to pay", "1 251.75 EUR"],
        ["Tax of 20 %, included in the total", "208.63"],
        ["Deposit, due on acceptance", "625.88"],
        ["Balance after that", "625.87"],
    ]


def test_tax_on_top_is_said_to_be_added(show):
    text = show(tax_inclusive=False, tax=Decimal("250.35"), tax_rate=Decimal("0.055"))
    assert rows(text, "tfoot")[:4] == [
        ["Pieces", "1 244.85"],
        ["Shipping", "6.90"],
        ["Tax of 5.5 %, added", "250.35"],
        ["Total to pay", "1 251.75 EUR"],
    ]
    assert "The pieces, in EUR, before tax" in plain(text)
    assert "included" not in text


def test_tax_within_is_said_to_be_included(show):
    text = show()
    assert "The pieces, in EUR, tax included" in plain(text)
    assert "before tax" not in text
    assert "added" not in text


@pytest.mark.parametrize("inclusive", [True, False])
def test_where_there_is_no_tax_it_says_so(show, inclusive):
    text = show(tax_rate=Decimal(0), tax=Decimal(0), tax_inclusive=inclusive)
    assert ["Tax", "none"] in rows(text, "tfoot")
    assert not re.search("included|added|before tax", text)


def test_amounts_have_the_decimals_of_their_currency(show):
    text = show(currency="JPY", total=Decimal(12500), goods=Decimal(12000))
    assert ["Total to pay", "12 500 JPY"] in rows(text, "tfoot")
    assert ["Pieces", "12 000"] in rows(text, "tfoot")


def test_what_is_not_agreed_is_not_there(show):
    text = show(
        deposit=None,
        balance=Decimal("1251.75"),
        make_by=None,
        customer_note="",
        cautions=(),
        spot=None,
        renews=None,
        pieces=(SCHILLING,),
    )
    words = plain(text)
    for word in (
        "Deposit",
        "Balance",
        "Ready",
        "note",
        "know",
        "silver at",
        "place of",
    ):
        assert word not in words
    assert "own coin" not in words
    assert "None" not in words
    assert "h2" not in text


def test_notes_cautions_silver_and_what_it_renews_are_told(show):
    words = plain(show())
    assert "A note for you Measure in the evening. Then measure again." in words
    assert "Good to know 900 silver. A wide band fits tighter." in words
    assert (
        "Reckoned with silver at 27.50 EUR a troy ounce, the price of "
        "Wednesday, 25 November 2026, 09:00 (Vienna time, UTC+1)."
    ) in words
    assert "takes the place of 2026-0009, whose total was 1 300.00 EUR." in words


def test_a_silver_price_may_be_without_a_time(show, quotes):
    spot = type(quotes.shown.spot)(price=Decimal("27.1234"), as_of=None)
    words = plain(show(spot=spot))
    assert "Reckoned with silver at 27.1234 EUR a troy ounce." in words


@pytest.mark.parametrize(
    ("status", "words"),
    [
        ("open", "Open. To accept, tell A bench by the mill this number"),
        ("accepted", "Accepted on Thursday, 26 November 2026."),
        ("declined", "Declined on Thursday, 26 November 2026."),
        (
            "expired",
            "Expired on Saturday, 28 November 2026. These prices no longer hold: ask A",
        ),
        ("renewed", "Replaced on Thursday, 26 November 2026 by quote 2026-0031."),
    ],
)
def test_what_became_of_it_is_told_in_words(show, status, words):
    newer = "2026-0031" if status == "renewed" else None
    told = plain(show(status=status, decided_at=DECIDED, renewed_by=newer))
    assert words in told
    assert ("Was valid until" in told) is (status != "open")
    assert ("Ready by" in told) is (status in {"open", "accepted"})


def test_whatever_was_written_into_it_is_text_and_nothing_else(show, quotes):
    evil = "</p><script>alert(1)</script>{{7*7}}{% raw %}\"'><img src=x onerror=y>"
    told = replace(FRANC, coin=evil, size=evil, extras=(evil,), own_coin_text=evil)
    caution = replace(quotes.shown.cautions[0], text=evil)
    renews = replace(quotes.shown.renews, number=evil)
    text = show(
        number=evil,
        workshop=evil,
        customer_note=evil,
        pieces=(told,),
        cautions=(caution,),
        renews=renews,
    )
    page = Outline(text)
    assert not page.tags & {"script", "img"}
    assert not page.inline
    assert text.count("&lt;script&gt;") == text.count("{{7*7}}")
    assert text.count("{{7*7}}") >= 9
    assert "alert(1)" in unescape(re.search("<title>(.*?)</title>", text)[1])


def test_foreign_scripts_are_set_apart_and_lines_of_a_note_kept(show):
    arabic = "\u0645\u0631\u062d\u0628\u0627"
    text = show(
        workshop=arabic,
        customer_note=f"{arabic} \U0001f48d\nTwo",
        pieces=(replace(SCHILLING, coin=arabic, extras=(arabic,)),),
    )
    assert text.count(f"<bdi>{arabic}</bdi>") == 5
    assert f'<p class="written" dir="auto">{arabic} \U0001f48d\nTwo</p>' in text


def test_the_page_is_well_made(show):
    page = Outline(show())
    assert page.lang == "en"
    assert page.headings == ["h1", "h2", "h2"]
    assert len(page.ids) == len(set(page.ids))
    assert {"main", "header", "footer", "caption", "dl"} <= page.tags


def test_it_needs_no_script_and_loads_only_the_pages_own_files(show, client):
    page = Outline(show())
    assert not page.tags & {"script", "iframe", "style", "form", "img"}
    assert not page.inline
    assert not page.links
    for address in page.loaded:
        assert address.startswith("/static/")
        assert client.get(address).status_code == 200


def test_no_search_engine_cache_or_other_site_learns_of_it(client, quotes):
    answer = client.get(ADDRESS)
    assert answer.content_type == "text/html; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["X-Robots-Tag"] == "noindex"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert '<meta name="robots" content="noindex">' in answer.text
    assert "Set-Cookie" not in answer.headers
    assert "ETag" not in answer.headers
    policy = client.get("/docs").headers["Content-Security-Policy"]
    assert answer.headers["Content-Security-Policy"] == policy


def test_head_tells_the_same_without_the_page(client, quotes):
    asked, told = client.get(ADDRESS), client.head(ADDRESS)
    assert told.status_code == 200
    assert told.data == b""
    assert told.headers["Content-Length"] == asked.headers["Content-Length"]
    assert _headers(told) == _headers(asked)


@pytest.mark.parametrize("key", ports.SCOPES)
def test_no_key_shows_more_of_it(client, quotes, key):
    assert client.get(ADDRESS, headers=bearer(key)).data == client.get(ADDRESS).data


@pytest.mark.parametrize("address", NOBODYS)
def test_every_address_that_is_nobodys_shows_the_same_page(client, quotes, address):
    unknown = client.get(NOBODYS[0])
    assert unknown.status_code == 404
    answer = client.get(address)
    assert answer.status_code == 404
    assert answer.data == unknown.data
    assert _headers(answer).keys() == _headers(unknown).keys()
    assert client.head(address).status_code == 404
    page = Outline(answer.text)
    assert page.headings == ["h1"]
    assert "There is no quote at this address" in answer.text


def test_what_cannot_be_an_address_is_looked_up_like_one_that_can(client, quotes):
    for address in ("/quotes/a%00b", "/quotes/%ff", f"/quotes/{'A' * 3000}"):
        quotes.asked.clear()
        client.get(address)
        assert quotes.asked == ["-"]


def test_what_went_wrong_is_told_on_a_page(client, quotes):
    quotes.fail_with = ports.StorageUnavailable("locked by canary")
    busy = client.get(ADDRESS)
    assert busy.status_code == 503
    assert busy.headers["Retry-After"]
    assert "Busy just now" in busy.text
    quotes.fail_with = RuntimeError("canary")
    broken = client.get(ADDRESS)
    assert broken.status_code == 500
    assert "This page cannot be shown" in broken.text
    refused = client.post(ADDRESS)
    assert refused.status_code == 405
    assert "GET" in refused.headers["Allow"]
    for answer in (busy, broken, refused):
        assert answer.content_type == "text/html; charset=utf-8"
        assert answer.headers["X-Robots-Tag"] == "noindex"
        assert "canary" not in answer.text


def test_one_address_may_look_so_often_and_is_told_on_a_page(client, services, quotes):
    services.quotas.passed = False
    answer = client.get(ADDRESS)
    assert answer.status_code == 429
    assert answer.headers["Retry-After"] == "30"
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.content_type == "text/html; charset=utf-8"
    assert "Too many looks in a short time" in answer.text
    assert services.quotas.asked == [("sheets", "address 127.0.0.1")]
    assert quotes.asked == []


def test_the_log_does_not_tell_where_it_is(client, quotes, caplog):
    with caplog.at_level(logging.INFO, logger="api.requests"):
        client.get(ADDRESS)
        client.get(f"{ADDRESS}/more")
    lines = [json.loads(line) for line in caplog.messages]
    assert [line["path"] for line in lines] == ["/quotes/…"] * 2
    assert TOKEN not in caplog.text


def test_no_page_of_a_real_quote_tells_what_the_bench_alone_may_know(tmp_path):
    clock, settings = Clock(), Settings(database=str(tmp_path / "sheets.sqlite3"))
    with closing(compose(settings, clock=clock)) as services:
        made = make_quotes(services, clock)
        client = create_app(settings, services).test_client()
        for name, quote in made.items():
            for method in ("GET", "HEAD", "POST", "OPTIONS"):
                answer = client.open(f"/quotes/{quote.sheet_token}", method=method)
                answer.headers.remove("X-Request-Id")  # of any digits
                told = f"{answer.text} {answer.headers}".replace(quote.sheet_token, "")
                shown = {"31.4159"} if name == "many" else set()
                assert not {one for one in CANARIES if one in told} - shown
        newer = made["renewal"].number
        renewed = client.get(f"/quotes/{made['renewed'].sheet_token}").text
        assert f"by quote {newer}." in plain(renewed)
        assert made["renewal"].sheet_token not in renewed


def _headers(answer):
    kept = answer.headers.items()
    own = ("X-Request-Id", "RateLimit", "RateLimit-Policy")
    return {name: value for name, value in kept if name not in own}
