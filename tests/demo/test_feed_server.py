"""The demo's feed: invented, the same on every day, and on this machine alone."""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
import tomllib
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest

from api.feeds.reading import read_feed
from api.services.feeds.document import read_feed_document
from pricing.market_days import MarketCalendar
from tests.architecture.source import ROOT

WEDNESDAY, SUNDAY = date(2026, 11, 25), date(2026, 11, 29)
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


@pytest.fixture
def feed_server(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    return importlib.import_module("feed_server")


@pytest.fixture
def feed():
    document = tomllib.loads((ROOT / "demo/feed.toml").read_text("utf-8"))
    return read_feed_document(document, key=document.pop("key"))


@pytest.mark.parametrize("today", [WEDNESDAY, SUNDAY, date(2027, 1, 1)])
def test_the_walk_is_of_market_days_and_ends_at_the_same_price(feed_server, today):
    days = feed_server.walk(today)
    assert len(days) == feed_server.DAYS == 30
    assert list(days) == sorted(days)
    assert all(MarketCalendar().is_open(day) for day in days)
    assert list(days.values())[-1] == Decimal("27.50")
    assert today - list(days)[-1] <= timedelta(days=3)


def test_the_walk_is_the_same_on_every_day(feed_server):
    first, second = feed_server.walk(WEDNESDAY), feed_server.walk(SUNDAY)
    assert list(first.values()) == list(second.values())


def test_no_step_of_it_would_be_held(feed_server, feed):
    prices = list(feed_server.walk(WEDNESDAY).values())
    assert all(abs(b / a - 1) < feed.limits.jump for a, b in pairwise(prices))
    assert len(set(prices)) > 20


def test_what_it_says_is_read_by_its_description(feed_server, feed):
    [reading] = read_feed(feed, feed_server.answer(NOW), "application/json")
    assert (reading.price, reading.as_of) == (Decimal("27.50"), NOW)


def test_it_serves_one_address_until_it_is_closed(feed_server):
    with feed_server.serving() as url:
        assert url.startswith("http://127.0.0.1:")
        with urlopen(url) as answer:  # noqa: S310 - our own server
            said = json.load(answer)
        assert len(said["silver"]["days"]) == 30
        with pytest.raises(HTTPError):
            urlopen(url + "/other")  # noqa: S310 - our own server
    with pytest.raises(OSError, match="refused"):
        urlopen(url)  # noqa: S310 - as above


def test_it_can_be_started_by_itself():
    command = [sys.executable, str(ROOT / "demo/feed_server.py"), "0"]
    environ = os.environ | {"PYTHONUNBUFFERED": "yes", "PYTHONUTF8": "1"}
    with subprocess.Popen(
        command, env=environ, stdout=subprocess.PIPE, encoding="utf-8"
    ) as started:
        try:
            assert "/silver.json; stop with Ctrl-C" in started.stdout.readline()
        finally:
            started.terminate()
