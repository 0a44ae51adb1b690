"""What a quote keeps of what it stands on."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from api.schemas.estimate_document import estimate_document
from api.services.quotes.formats import kept
from api.services.quotes.members import asked_before
from pricing import RULES_VERSION
from pricing.catalogue import catalogue_coin
from pricing.coin_document import coin_document, read_coin
from pricing.errors import InvalidInput
from pricing.order import prepare_order
from tests.services.promising import COIN, DOLLAR, INLINE, ask, wish

OWN = {"own": "40", "size": "T 1/2", "system": "uk"}
ENGRAVED = {"quantity": 2, "extras": ("engraving", "box")}


@pytest.fixture
def document(promises):
    quote = promises.create(
        ask(**ENGRAVED),
        ask(DOLLAR, **OWN),
        ask(read_coin(INLINE)),
        deposit_share=Decimal("0.5"),
        show_spot=True,
    )
    return kept(quote)


def test_every_line_is_kept_as_its_estimate_is_written(promises, document):
    coins = [catalogue_coin(COIN), catalogue_coin(DOLLAR), read_coin(INLINE)]
    wishes = [wish(**ENGRAVED), wish(**OWN), wish()]
    order = prepare_order(
        promises.books.current(), list(zip(coins, wishes, strict=True))
    ).at(promises.spots.current())
    written = [estimate_document(line) for line in order.lines]
    for found, line in zip(document["lines"], written, strict=True):
        # How old the spot was, and what the market says, is not of the order alone.
        assert found.pop("validity")["policy_hours"] == line.pop("validity").pop(
            "policy_hours"
        )
        assert found == json.loads(json.dumps(line))
    assert document["coins"] == [coin_document(coin) for coin in coins]
    figures = document["order"]
    for name in ("goods", "shipping", "tax", "total", "net", "fees", "cost", "margin"):
        assert Decimal(figures[name]) == getattr(order, name)
    assert Decimal(figures["deposit"]) == order.total / 2
    assert Decimal(figures["margin_rate"]) == order.margin_rate
    assert (figures["pieces"], figures["confidence"]) == (4, "0.95")
    assert [
        (each["coin"], each["coin_name"], each["pieces"], each["coins"])
        for each in figures["coins_to_start"]
    ] == [
        (each.coin.key or None, each.coin.label, each.pieces, each.coins)
        for each in order.coins_to_start
    ]
    assert [each["coin"] for each in figures["coins_to_start"]] == [COIN, None]


def test_what_they_were_sold_by_is_kept(document):
    assert document["rules_version"] == RULES_VERSION
    assert document["workshop"] == {"title": "A bench", "timezone": "Europe/Vienna"}
    assert document["channel"] == {
        "title": "Own shop",
        "tax_rate": "0.20",
        "tax_inclusive": True,
    }
    assert (document["show_spot"], document["deposit_share"]) == (True, "0.5")
    assert document["renews"] is None


def test_what_a_customer_calls_things_is_kept(document):
    first, second, third = document["shown"]
    assert (first["size"], second["size"]) == ("US 10", "UK T 1/2")
    assert first["extras"] == ["Engraved inside", "box"]
    assert first["coin"] == catalogue_coin(COIN).label
    assert third == {"coin": INLINE["name"], "size": "US 10", "extras": []}


def test_what_was_asked_for_is_read_back(document):
    asks = asked_before(document)
    assert [each.coin for each in asks] == [COIN, DOLLAR, read_coin(INLINE)]
    assert [each.wish for each in asks] == [wish(**ENGRAVED), wish(**OWN), wish()]
    assert {each.spot_price for each in asks} == {None}


def test_a_wish_that_cannot_be_read_any_more_is_told_of_its_line(document):
    document["wishes"][1]["size"]["system"] = "cubit"
    with pytest.raises(InvalidInput) as refused:
        asked_before(document)
    assert refused.value.path[:2] == ("lines", 1)


def test_a_quote_of_own_coins_alone_has_no_coins_to_start(promises):
    document = kept(promises.create(ask(DOLLAR, **OWN)))
    assert document["order"]["coins_to_start"] == []
    assert document["order"]["deposit"] is None
    assert document["deposit_share"] is None
