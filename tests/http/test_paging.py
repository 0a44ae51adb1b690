"""Paging: every entry once, however the list grows; cursors that lead nowhere else."""

from __future__ import annotations

import json
import re
import time
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import count

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.cursors import Listing, Place
from api.errors import Refused
from api.ports import QuoteFilter, StoredQuote
from tests.http.quoting import QUOTES, decide, made

LINK = re.compile(r'<([^>]+)>; rel="([a-z]+)"')
NOW = datetime(2026, 12, 1, 12, tzinfo=UTC)
_thousands = count(20_000, 1000)


def links(answer) -> dict[str, str]:
    return {rel: address for address, rel in LINK.findall(answer.headers["Link"])}


def numbers(answer) -> list[str]:
    assert answer.status_code == 200, answer.text
    return [quote["number"] for quote in answer.json["quotes"]]


def walk(workshop, address, rel="next"):
    """The pages from an address on, in one direction."""
    while address:
        answer = workshop.get(address)
        yield numbers(answer)
        address = links(answer).get(rel)


def stored(number):
    """A quote as small as one can be."""
    order = dict.fromkeys(
        ("goods", "shipping", "tax", "total", "net", "fees", "cost", "margin"), "1.00"
    )
    order |= {"bench_hours": "1", "coins_to_start": [], "deposit": None}
    order |= {"margin_rate": None}
    kept = {"format": 1, "rules_version": 1, "order": order, "show_spot": False}
    kept |= {"renews": None}
    return StoredQuote(
        id=f"quote-of-the-pages-{number:06}",
        number=f"2026-{number:04}",
        created_at=NOW + timedelta(seconds=number),
        created_by="a",
        valid_until=NOW + timedelta(days=300),
        currency="EUR",
        total=Decimal("1.00"),
        tax=Decimal(0),
        deposit=None,
        book_version=1,
        bench_hours=Decimal(1),
        make_by=None,
        sheet_token=f"sheet-{number:06}",
        document=json.dumps(kept),
    )


def fill(workshop, numbers_, *, note=""):
    def add(unit):
        for number in numbers_:
            unit.quotes.add(replace(stored(number), customer_note=note))

    workshop.services.storage.write(add)


@pytest.fixture
def seven(workshop):
    fill(workshop, range(1, 8))
    return workshop


def test_pages_are_followed_to_the_end_and_back(seven):
    pages = list(walk(seven, f"{QUOTES}?limit=3"))
    assert pages == [
        ["2026-0007", "2026-0006", "2026-0005"],
        ["2026-0004", "2026-0003", "2026-0002"],
        ["2026-0001"],
    ]
    second = links(seven.get(f"{QUOTES}?limit=3"))["next"]
    third = links(seven.get(second))["next"]
    back = list(walk(seven, links(seven.get(third))["prev"], "prev"))
    assert back == pages[1::-1]


def test_only_links_that_lead_somewhere_are_there(seven):
    first = seven.get(f"{QUOTES}?limit=5")
    last = seven.get(links(first)["next"])
    assert set(links(first)) == {"first", "next"}
    assert set(links(last)) == {"first", "prev"}
    assert set(links(seven.get(QUOTES))) == {"first"}
    assert numbers(seven.get(links(last)["first"])) == numbers(first)


def test_a_page_that_ends_with_the_last_has_no_next(seven):
    assert set(links(seven.get(f"{QUOTES}?limit=7"))) == {"first"}


def test_an_empty_list_is_a_page_too(workshop):
    answer = workshop.get(f"{QUOTES}?status=declined")
    assert numbers(answer) == []
    assert links(answer) == {"first": f"{QUOTES}?status=declined"}


def test_filters_stay_and_the_limit_may_change(seven):
    address = f"{QUOTES}?text=2026-000&limit=2"
    following = links(seven.get(address))["next"]
    assert "text=2026-000" in following
    wider = following.replace("limit=2", "limit=4")
    assert len(numbers(seven.get(wider))) == 4


@pytest.mark.parametrize("limit", ["1", "100"])
def test_limits_at_both_ends_are_taken(seven, limit):
    assert numbers(seven.get(f"{QUOTES}?limit={limit}"))


@pytest.mark.parametrize("limit", ["0", "101", "-1", "many"])
def test_a_limit_out_of_range_is_refused(workshop, limit):
    answer = workshop.get(f"{QUOTES}?limit={limit}")
    assert answer.status_code == 422
    assert answer.json["errors"][0]["parameter"] == "limit"


def cursor_of(address):
    return re.search("cursor=([^&]+)", address)[1]


def refused(workshop, address):
    answer = workshop.get(address)
    assert answer.status_code == 400, answer.text
    assert answer.json["type"] == "/docs/problems/unknown-cursor"
    assert answer.json["errors"][0]["parameter"] == "cursor"
    return True


def test_a_cursor_that_was_changed_is_refused(seven):
    cursor = cursor_of(links(seven.get(f"{QUOTES}?limit=2"))["next"])
    said, mark, signature = cursor.partition(".")
    text = urlsafe_b64decode(said + "=" * (-len(said) % 4)).replace(b"6", b"2")
    other = urlsafe_b64encode(text).rstrip(b"=").decode()
    for changed in (f"{other}{mark}{signature}", said, cursor[:-1], "x", f"{cursor}A"):
        assert refused(seven, f"{QUOTES}?limit=2&cursor={changed}")


def test_a_cursor_with_other_filters_is_refused(seven):
    address = links(seven.get(f"{QUOTES}?limit=2&status=open"))["next"]
    assert refused(seven, address.replace("status=open", "status=expired"))
    assert refused(seven, address.replace("status=open&", ""))
    assert refused(seven, f"{address}&text=2026")


def test_a_cursor_of_another_installation_or_list_is_refused():
    def listing(path=QUOTES, secret=b"a", **query):
        return Listing(path=path, query=query, secret=secret)

    said = listing().links([5], older=True, newer=False)["Link"]
    cursor = cursor_of(LINK.search(said)[1])
    assert listing(cursor=cursor).place() == Place(5)
    for other in (
        listing("/v1/coins", cursor=cursor),
        listing(secret=b"b", cursor=cursor),
        listing(cursor=cursor, status="open"),
    ):
        with pytest.raises(Refused, match="cursor"):
            other.place()


@given(st.text(max_size=60))
def test_no_text_made_up_is_a_cursor(text):
    with pytest.raises(Refused):
        Listing(path=QUOTES, query={"cursor": text}, secret=b"secret").place()


@pytest.mark.parametrize("cursor", ["", "a" * 5000, "%00", "%0A"])
@pytest.mark.parametrize(
    "path", [QUOTES, "/v1/audit-entries", "/v1/listings", "/v1/repricings"]
)
def test_one_that_no_list_can_have_made_is_refused_like_any_other(
    workshop, path, cursor
):
    assert refused(workshop, f"{path}?cursor={cursor}")


def test_beside_another_fault_both_are_named(workshop):
    answer = workshop.get(f"{QUOTES}?limit=0&cursor=")
    assert answer.status_code == 422
    named = {each["parameter"] for each in answer.json["errors"]}
    assert named == {"limit", "cursor"}


def test_a_time_that_ends_before_it_begins_is_refused_by_both_names(workshop):
    early, late = "2026-12-01T12:00:00Z", "2026-12-01T12:00:00.001Z"
    query = {"created_from": late, "created_before": early}
    answer = workshop.get(QUOTES, query_string=query)
    assert answer.status_code == 422
    named = [each["parameter"] for each in answer.json["errors"]]
    assert named == ["created_before", "created_from"]
    for before in (late, "2026-12-01T13:00:00.001%2B01:00"):
        query = f"created_from={late}&created_before={before}"
        assert workshop.get(f"{QUOTES}?{query}").json == {"quotes": []}


def test_a_plus_that_became_a_blank_is_told_of(workshop):
    answer = workshop.get(f"{QUOTES}?created_from=2026-12-01T12:00:00+01:00")
    [fault] = answer.json["errors"]
    assert answer.status_code == 422
    assert "%2B" in fault["detail"]
    written = f"{QUOTES}?created_from=2026-12-01T12:00:00%2B01:00"
    assert workshop.get(written).status_code == 200
    assert "%2B" not in workshop.get(f"{QUOTES}?created_from=now").text


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(limit=st.integers(1, 4), made_between=st.lists(st.integers(0, 3), max_size=8))
def test_whoever_pages_while_others_make_quotes_sees_every_old_one_once(
    workshop, limit, made_between
):
    serial = count(next(_thousands))
    mine = f"of list {next(serial)}"

    def make(several):
        names = [next(serial) for _ in range(several)]
        fill(workshop, names, note=mine)
        return [f"2026-{name:04}" for name in names]

    there = make(6)[::-1]
    seen, pauses = [], iter(made_between)
    following = f"{QUOTES}?limit={limit}&text={mine.replace(' ', '+')}"
    while following:
        answer = workshop.get(following)
        seen += numbers(answer)
        following = links(answer).get("next")
        make(next(pauses, 0))
    assert seen == there


def test_one_that_leaves_the_filter_while_it_is_paged_leaves_no_gap(workshop):
    quotes = [made(workshop) for _ in range(4)]
    first = workshop.get(f"{QUOTES}?status=open&limit=2")
    decide(workshop, quotes[2], "accept")  # the last one of the page seen
    second = workshop.get(links(first)["next"])
    assert numbers(second) == [quotes[1]["number"], quotes[0]["number"]]


@pytest.mark.slow
def test_the_last_of_many_pages_costs_what_the_first_does(workshop):
    fill(workshop, range(1, 10_001))
    read = workshop.services.quotes.page
    wanted = QuoteFilter(now=NOW)

    def took(past):
        began = time.thread_time()  # whatever else the machine is doing
        assert read(wanted, limit=50, past=past).quotes
        return time.thread_time() - began

    pairs = [(took(None), took(51)) for _ in range(15)]  # beside each other
    first, last = (min(times) for times in zip(*pairs, strict=True))
    assert last <= 2 * first
