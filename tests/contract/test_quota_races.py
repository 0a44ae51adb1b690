"""Two servers on one database let as many requests through as one, and not one less."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from typing import Any

import pytest
import requests

from api.app import compose, upgrade
from api.settings import Settings
from tests.contract.two_servers import WAIT_S, at_once, post, two_servers
from tests.http.listing import LISTINGS, RING
from tests.http.quoting import QUOTES
from tests.http.window import BANDS, PRICES, WINDOW
from tests.http.workshop import seed

QUOTA = 12
ATTEMPTS = 4
SPARE_S = 5
"""How long before its end a window is not begun any more [s]."""
REFUSED_S = 0.5
"""After having been refused for so long, nothing will be given back any more [s]."""
RING_PRICE = {"sku": "ring-1", "size": {"system": "us", "size": "8"}}

pytestmark = pytest.mark.slow


@dataclass(frozen=True)
class Asking:
    """How a policy's requests are made: one of them, and what it is answered with."""

    scope: str
    ask: Callable[[str, dict[str, str], int], Any]
    passed: int


def _quotes(address, key, _):
    return requests.get(address + QUOTES, headers=key, timeout=WAIT_S)


def _price(address, key, number):
    query = {"sku": "ring-1", "system": "us", "size": "8", "quantity": str(number + 1)}
    return requests.get(address + PRICES, query, headers=key, timeout=WAIT_S)


def _hold(address, key, number):
    headers = key | {"Idempotency-Key": f"one-of-many-{number:03}"}
    return post(address, f"{WINDOW}/quotes", RING_PRICE, headers)


POLICIES = {
    "quotes": Asking("bench", _quotes, 200),
    "window": Asking("window", _price, 200),
    "holds": Asking("window", _hold, 201),
}


@pytest.fixture
def ready(any_database):
    """A database with a ring in its window, and the header of its bench key."""
    upgrade(Settings(database=any_database))
    token = seed(any_database)["bench"]
    return any_database, {"Authorization": f"Bearer {token}"}


def new_key(database, scope):
    with closing(compose(Settings(database=database))) as services:
        _, token = services.keys.create(scope, "a page")
    return {"Authorization": f"Bearer {token}"}


def left_s(answer):
    """How long the window of a counted request goes on [s]."""
    return int(answer.headers["RateLimit"].partition(";t=")[2])


def in_one_window(database, addresses, asking, rest):
    """The answers to a first request and to the ``rest``, all within one window.

    Windows begin at a moment of its own for each key. Where one ends while its
    requests are under way, as it may on a busy machine, that says nothing.
    """
    for _ in range(ATTEMPTS):
        key = new_key(database, asking.scope)
        first = asking.ask(addresses[0], key, 0)
        ends = time.monotonic() + left_s(first) - 1  # it is rounded up
        if ends < time.monotonic() + SPARE_S:
            continue
        answers = rest(
            lambda number, address, key=key: asking.ask(address, key, number + 1)
        )
        if time.monotonic() < ends:
            return [first, *answers]
    pytest.fail("no window was long enough; is the machine very busy?")


def three_times_the_quota(addresses):
    """Asks both servers in turn, all at once."""

    def rest(ask):
        return at_once(3 * QUOTA - 1, lambda number: ask(number, addresses[number % 2]))

    return rest


def test_two_servers_let_as_many_requests_through_as_one(ready):
    database, bench = ready
    quotas = {f"quota_{name}": str(QUOTA) for name in POLICIES}
    with two_servers(database, **quotas) as addresses:
        ring = RING | {"published": True, "bands": BANDS}
        assert post(addresses[0], LISTINGS, ring, bench).status_code == 201
        for name, asking in POLICIES.items():
            rest = three_times_the_quota(addresses)
            answers = in_one_window(database, addresses, asking, rest)
            told = Counter(answer.status_code for answer in answers)
            assert told[429] == 2 * QUOTA, (name, told)
            passed = [answer for answer in answers if answer.status_code != 429]
            left = {a.headers["RateLimit"].partition(";t=")[0] for a in passed}
            assert left == {f'"{name}";r={number}' for number in range(QUOTA)}
            # A hold may be told to come again while another is being written.
            allowed = {asking.passed} | ({409, 503} if name == "holds" else set())
            assert {answer.status_code for answer in passed} <= allowed, (name, told)


def test_what_one_server_counted_ahead_is_there_for_the_other(ready):
    database, bench = ready
    quota, asking = 120, POLICIES["window"]
    with two_servers(database, quota_window=str(quota)) as addresses:
        ring = RING | {"published": True, "bands": BANDS}
        assert post(addresses[0], LISTINGS, ring, bench).status_code == 201

        def rest(ask):
            def asked_of(address, times):
                return pool.map(lambda _: ask(0, address).status_code, range(times))

            with ThreadPoolExecutor(8) as pool:
                told = [*asked_of(addresses[0], quota // 2)]
                passed = time.monotonic()
                while time.monotonic() < passed + REFUSED_S:
                    told += asked_of(addresses[1], 8)
                    if 200 in told[-8:]:
                        passed = time.monotonic()
            return told

        _, *told = in_one_window(database, addresses, asking, rest)
    assert told.count(200) == quota - 1
