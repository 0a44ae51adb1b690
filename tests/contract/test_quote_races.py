"""Many callers, two servers, one database: each quote is made and taken once."""

from __future__ import annotations

import time
from collections import Counter
from contextlib import closing

import pytest

from api.app import compose, upgrade
from api.ports import QuoteFilter
from api.settings import Settings
from tests.contract.two_servers import WAIT_S, at_once, post, two_servers
from tests.http.quoting import PAIR, QUOTES
from tests.http.workshop import seed

CALLERS = 50

pytestmark = pytest.mark.slow


@pytest.fixture
def ready(any_database):
    """A database with a workshop in it, and the header of its bench key."""
    upgrade(Settings(database=any_database))
    token = seed(any_database)["bench"]
    return any_database, {"Authorization": f"Bearer {token}"}


def stored(database):
    """Every stored quote by its number."""
    with closing(compose(Settings(database=database))) as services:
        wanted = QuoteFilter(now=services.clock.now())
        found = services.storage.read(
            lambda unit: unit.quotes.page(wanted, limit=1000, past=None)
        )
    return {quote.number: quote for quote in found}


def test_quotes_are_made_and_taken_once(ready):
    database, key = ready
    with two_servers(database) as addresses:
        the_same_request_many_times(database, addresses, key)
        many_requests(database, addresses, key)
        many_renewals(database, addresses, key)
        many_acceptances(database, addresses, key)


def the_same_request_many_times(database, addresses, key):
    headers = key | {"Idempotency-Key": "all-of-them-the-same"}

    def make(number):
        return post(addresses[number % 2], QUOTES, PAIR, headers)

    answers = at_once(CALLERS, make)
    told = Counter(answer.status_code for answer in answers)
    assert set(told) <= {201, 409}, told
    assert len({answer.text for answer in answers if answer.status_code == 201}) == 1
    for answer in answers:
        if answer.status_code == 409:
            assert answer.json()["type"].endswith("/idempotency-in-progress")
            assert answer.headers["Retry-After"] == "1"
    assert len(stored(database)) == 1
    assert make(0).status_code == 201


def many_requests(database, addresses, key):
    before = len(stored(database))

    def make(number):
        headers = key | {"Idempotency-Key": f"one-of-many-{number:03}"}
        ends = time.monotonic() + WAIT_S
        while time.monotonic() < ends:
            answer = post(addresses[number % 2], QUOTES, PAIR, headers)
            if answer.status_code == 201:
                return answer.json()["number"]
            assert answer.status_code == 409, answer.text
        raise AssertionError("it was never let through")

    numbers = at_once(CALLERS, make)
    made = sorted(int(number.partition("-")[2]) for number in numbers)
    assert made == list(range(before + 1, before + CALLERS + 1))
    assert set(numbers) <= set(stored(database))


def many_renewals(database, addresses, key):
    before = stored(database)
    [number, *_] = before

    def renew(caller):
        path = f"{QUOTES}/{before[number].id}/renew"
        name = f"renewal-of-one-{caller % 25:03}"  # each is sent twice
        headers = key | {"If-Match": '"quote-1"', "Idempotency-Key": name}
        answer = post(addresses[caller % 2], path, None, headers)
        return answer.status_code, answer.json().get("id")

    told = Counter(at_once(CALLERS, renew))
    made = {quote for status, quote in told if status == 201}
    assert len(made) == 1, told
    assert {status for status, _ in told} <= {201, 409, 412}, told
    after = stored(database)
    assert len(after) == len(before) + 1
    assert (after[number].status, after[number].version) == ("renewed", 2)


def many_acceptances(database, addresses, key):
    quotes = stored(database)
    number = next(name for name, one in quotes.items() if one.status == "open")
    quote = quotes[number]

    def accept(caller):
        path = f"{QUOTES}/{quote.id}/accept"
        match = '"quote-1"' if caller % 4 else "*"
        headers = key | {"If-Match": match}
        if caller % 5 == 0:
            headers |= {"Idempotency-Key": f"acceptance-{caller:03}"}
        return post(addresses[caller % 2], path, None, headers).status_code

    told = Counter(at_once(CALLERS, accept))
    assert told[200] == 1
    assert set(told) <= {200, 409, 412}, told
    after = stored(database)[number]
    assert (after.status, after.version) == ("accepted", 2)
