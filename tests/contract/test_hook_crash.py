"""Killed at any point, everything that was committed is told, under one id each.

As elsewhere it shows process crashes only; power failures rest on `synchronous`.
"""

from __future__ import annotations

from contextlib import closing
from decimal import Decimal
from ipaddress import ip_network
from time import monotonic

import pytest
import requests

from api.app import compose
from api.settings import Settings
from tests.contract.killing import report_of
from tests.contract.two_servers import server, two_servers
from tests.hooks.receiver import Receiver, is_signed
from tests.services.promising import BOOK
from tests.services.selling import asked, band
from tests.thoroughness import thorough

KILLS = thorough(quick=8, full=200)
LOCAL = {"hook_networks": "127.0.0.0/8", "hook_http": "on"}
FEW = 12


def begun(database, receiver, path="/"):
    """A shop with one published listing and a hook; its secret and a bench key."""
    settings = Settings(
        database=database, hook_networks=(ip_network("127.0.0.0/8"),), hook_http=True
    )
    with closing(compose(settings)) as services:
        services.price_books.replace(BOOK, expected=None)
        services.spot_prices.enter("XAG", Decimal(27), "EUR")
        new = asked(band(price="100"), published=True)
        services.listings.create(new)
        hook = services.hooks.add(receiver.url(path), ["listing.prices_changed"])
        return hook.secrets[0], services.keys.create("bench", "test")[1]


def price_in(came):
    [listing] = came.document["data"]["listings"]
    return Decimal(listing["bands"][0]["price"])


@pytest.mark.slow
@pytest.mark.parametrize("path", ["/200", "/fickle"])
def test_whatever_was_committed_is_told_after_a_kill(tmp_path, path):
    database = str(tmp_path / "rings.db")
    with Receiver() as receiver:
        secret, _ = begun(database, receiver, path)
        report = report_of("hook_crash_worker.py", database, KILLS, within_s=600)
        came = list(receiver.came)
    assert KILLS <= report["told"] <= report["changes"]
    bodies = {each.id: each.body for each in came}
    assert len(bodies) == report["changes"]  # each is told
    assert all(bodies[each.id] == each.body for each in came)
    # Some come more often: killed after sending, or refused the first time.
    more = len(bodies) if path == "/fickle" else KILLS // 3
    assert len(came) >= len(bodies) + more
    assert all(is_signed(each, secret) for each in came)
    versions = [each.document["data"]["version"] for each in came]
    assert versions == sorted(versions)
    assert price_in(came[-1]) == Decimal(report["last"])


@pytest.mark.slow
def test_of_two_servers_one_delivers_and_each_message_comes_once(
    any_database, open_database
):
    open_database(any_database)
    with Receiver() as receiver:
        secret, key = begun(any_database, receiver)
        with two_servers(any_database, **LOCAL) as addresses:
            for number in range(FEW):
                change(addresses[number % 2], key, 200 + number)
            receiver.wait_for(FEW)
        came = list(receiver.came)
    assert len({each.id for each in came}) == len(came) == FEW
    assert all(is_signed(each, secret) for each in came)
    assert price_in(came[-1]) == 200 + FEW - 1


@pytest.mark.slow
@pytest.mark.parametrize("path", ["/hang", "/200"])
def test_a_server_ends_within_a_second_though_an_endpoint_hangs(tmp_path, path):
    database = str(tmp_path / "rings.db")
    with Receiver() as receiver:
        _, key = begun(database, receiver, path)
        with server(database, **LOCAL) as address:
            change(address, key, 200)
            receiver.wait_for(1)
            begun_at = monotonic()
        assert monotonic() - begun_at < 1


def change(address, key, price):
    """Give the listing a price over HTTP."""
    place, who = f"{address}/v1/listings/ring-1", {"Authorization": f"Bearer {key}"}
    seen = requests.get(place, headers=who, timeout=30)
    new = {
        name: seen.json()[name]
        for name in ("title", "kind", "coin", "channel", "policy", "published")
    }
    new["bands"] = [{"from": "5", "to": "9.5", "price": f"{price}.00"}]
    match = {"If-Match": seen.headers["ETag"]}
    done = requests.put(place, json=new, headers=who | match, timeout=30)
    assert done.status_code == 200, done.text
