"""How long what the window answers may be shown again, and by what it is known."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest

from tests.http.listing import RING
from tests.http.window import BANDS, SHOWN_AT, price, publish
from tests.http.window import SHOWN as LISTED
from tests.http.workshop import BOOK, SPOT

CHANGED = {name: value for name, value in RING.items() if name != "sku"}


@pytest.fixture
def still(timed_workshop):
    """A storefront whose clock only the test moves."""
    publish(timed_workshop)
    return timed_workshop


@pytest.mark.parametrize("path", SHOWN_AT)
def test_what_has_not_changed_is_not_sent_again(still, clock, path):
    first = still.get(path, key="window")
    tag = first.headers["ETag"]
    assert re.fullmatch(r'"window-[0-9a-f]{32}"', tag)
    again = still.get(path, key="window", headers={"If-None-Match": tag})
    assert (again.status_code, again.data) == (304, b"")
    assert again.headers["ETag"] == tag
    assert again.headers["Cache-Control"] == first.headers["Cache-Control"]
    for header in ("RateLimit", "RateLimit-Policy", "Access-Control-Allow-Origin"):
        assert header in again.headers
    clock.advance(seconds=1)
    assert still.get(path, key="shop").headers["ETag"] == tag
    bands = [BANDS[0] | {"price": "190.95"}, BANDS[1]]
    body = {"published": True, "bands": bands}
    still.change("/v1/listings/ring-1", CHANGED | body)
    changed = still.get(path, key="window", headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["ETag"] != tag


@pytest.mark.parametrize("path", SHOWN_AT)
def test_a_tag_says_nothing_of_what_is_not_shown(still, path):
    before = still.get(path, key="window").headers["ETag"]
    still.services.spot_prices.enter("XAG", SPOT * 2, "EUR")
    same = {"published": True, "bands": BANDS, "extras": ["ring_box"], "locked": True}
    still.change("/v1/listings/ring-1", CHANGED | same)
    assert still.get(path, key="window").headers["ETag"] == before


def test_two_installations_have_tags_of_their_own(still, bare_workshop):
    other = bare_workshop
    other.services.price_books.replace(BOOK, expected=None)
    publish(other)
    path = f"{LISTED}/ring-1"
    here, there = still.get(path), other.get(path)
    assert here.json == there.json
    assert here.headers["ETag"] != there.headers["ETag"]


@pytest.mark.parametrize("seconds", [0, 7, 59, 3599])
@pytest.mark.parametrize("left", [None, 5, 45, 3600])
def test_no_cache_outlives_a_price(still, clock, seconds, left):
    clock.advance(seconds=seconds)
    if left is not None:
        until = clock.now() + timedelta(seconds=left)
        still.services.spot_prices.enter("XAG", SPOT, "EUR", expires_at=until)
    for path in SHOWN_AT:
        answer = still.get(path, key="window")
        assert answer.headers["Vary"] == "Authorization"
        found = re.fullmatch(r"private, max-age=(\d+)", answer.headers["Cache-Control"])
        age = int(found[1])
        assert 0 <= age <= 60
        assert age <= (left or 60)
        told = price(still).json["valid_until"]
        assert clock.now() < datetime.fromisoformat(told)
        assert clock.now() + timedelta(seconds=age) <= datetime.fromisoformat(told)


def test_refusals_are_never_kept(still):
    for answer in (
        price(still, "14"),
        price(still, sku="nothing"),
        still.get(f"{LISTED}/nothing", key="window"),
        price(still, key=None),
    ):
        assert answer.headers["Cache-Control"] == "no-store"
