import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from pricing.catalogue import catalogue_coin
from pricing.estimate import estimate
from pricing.price_book import document, read_price_book
from pricing.ring_size import ring_size
from pricing.spot import Spot
from pricing.wish import Wish

DEMO = Path(__file__).parents[3] / "demo" / "price_book.toml"
SPOT = Spot(price=Decimal("27.50"), currency="EUR")


@pytest.fixture(scope="module")
def book():
    return read_price_book(tomllib.loads(DEMO.read_text("utf-8")))


def test_the_demo_book_shows_a_whole_route_two_channels_and_two_policies(book):
    assert 12 <= len(book.stages) <= 14
    assert [channel.key for channel in book.channels] == ["own_shop", "craft_fair"]
    assert [policy.key for policy in book.policies] == ["retail", "trade"]
    assert {"ring_box", "engraving"} <= {extra.key for extra in book.extras}
    assert {Decimal("15.875"), Decimal("19.05")} <= set(book.forming.punches_mm)


def test_every_consumable_and_tool_of_the_demo_book_is_used(book):
    uses = {use.key for stage in book.stages for use in stage.consumables}
    assert uses == {consumable.key for consumable in book.consumables}
    owned = {tool.key for tool in book.tools}
    assert {key for stage in book.stages for key in stage.tools} == owned


def test_the_demo_book_is_written_as_it_was_read(book):
    again = read_price_book(document(book))
    assert document(again) == document(book)


@pytest.mark.parametrize("size", ["7", "10", "12"])
def test_a_ring_of_a_20_g_coin_takes_80_to_110_minutes(book, size):
    wish = Wish(size=ring_size("us", size))
    found = estimate(book, catalogue_coin("at_50s_1959_1973"), SPOT, wish)
    assert 80 <= found.cost.attended_minutes <= 110


@pytest.mark.parametrize("channel", ["own_shop", "craft_fair"])
@pytest.mark.parametrize("policy", ["retail", "trade"])
def test_every_channel_and_policy_of_the_demo_book_gives_a_price(book, channel, policy):
    wish = Wish(
        size=ring_size("us", "10"),
        channel=channel,
        policy=policy,
        quantity=5,
        extras=tuple(extra.key for extra in book.extras),
    )
    found = estimate(book, catalogue_coin("at_50s_1959_1973"), SPOT, wish)
    assert found.price.sale.margin_rate >= Decimal("0.20")
