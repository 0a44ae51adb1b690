from __future__ import annotations

import importlib
from pathlib import Path

import pytest

from api.ports import QuoteFilter

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def promises(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    return importlib.import_module("promises")


@pytest.fixture
def services(monkeypatch, tmp_path):
    """The demo's workshop, once its feed was asked."""
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    story = importlib.import_module("story")
    with importlib.import_module("feed_server").serving() as url:
        _, services, _ = story.open_workshop(tmp_path / "demo", url)
        assert story.fetch(services).outcome == "accepted"
        yield services
        services.close()


def statuses(services):
    wanted = QuoteFilter(now=services.clock.now())
    page = services.quotes.page(wanted, limit=10)
    return [services.quotes.status(quote) for quote in page.quotes]


def test_a_pair_is_promised_with_half_of_its_price_in_advance(promises, services):
    pair = promises.pair(services)
    sheet = services.quotes.sheet(pair)
    assert [piece.size for piece in sheet.pieces] == ["US 10", "US 6.5"]
    assert sheet.deposit == sheet.balance
    assert sheet.deposit + sheet.balance == sheet.total == pair.total
    assert "Quote " + pair.number in promises.told(services, pair)


def test_one_is_accepted_and_one_renewed_as_silver_moves(promises, services):
    told = promises.accept(services, promises.pair(services))
    assert "is accepted" in told
    assert "due now" in told
    single = promises.single(services)
    told = promises.renew(services, single)
    assert f"takes the place of {single.number}" in told
    assert "27.50   36.40" in told
    assert statuses(services) == ["open", "renewed", "accepted"]
    assert services.spot_prices.current().price == 27.50
