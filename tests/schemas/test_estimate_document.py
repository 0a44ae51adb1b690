"""Whatever is priced can be written, and what is written is what was worked out."""

from __future__ import annotations

import json
from dataclasses import fields as dataclass_fields
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from marshmallow import fields

from api.schemas.estimate_document import EstimateDocument, estimate_document
from api.schemas.estimate_money import RULES, CrossingText
from pricing.catalogue import catalogue_coin
from pricing.errors import PricingError
from pricing.estimate import estimate
from pricing.price_book import read_price_book
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.wish import Wish
from tests.http.workshop import BOOK, component
from tests.oracles.random_rings import random_case
from tests.strategies.price_books import price_books

COIN = catalogue_coin("us_dollar_1921_1935")
WISH = Wish(size=us_size(Decimal(10)), include=frozenset({"risk"}))


def written(found):
    """The document of an estimate as it is sent, held to its schema."""
    told = json.loads(json.dumps(estimate_document(found)))
    component("Estimate").validate(told)
    return told


@pytest.mark.parametrize("seed", range(60))
def test_every_estimate_fits_its_description(seed):
    drawn = random_case(seed)
    told = written(estimate(drawn.book, drawn.coin, drawn.spot, drawn.wish))
    lines = [Decimal(line["amount"]) for line in told["cost"]["lines"]]
    assert sum(lines) == Decimal(told["cost"]["per_piece"])


@given(price_books())
@settings(max_examples=60)
def test_an_estimate_from_any_valid_book_fits_its_description(book):
    spot = Spot(price=Decimal("27.123456"), currency=book.currency.code)
    try:
        found = estimate(book, COIN, spot, replace(WISH, include=frozenset()))
    except PricingError:
        return
    written(found)


def book_with(**changes):
    return read_price_book(BOOK | changes, version=7)


def test_figures_with_all_the_digits_a_book_may_have_are_written():
    policy = BOOK["policies"][0] | {
        "target_margin": "0.351234567",
        "floor_margin": "0.201234567",
        "quantity_breaks": [],
    }
    forming = {"punches_mm": ["15.123456789"]}
    stage = {"key": "a", "title": "A", "setup_minutes": "1", "batch": 7}
    stages = [stage | {"removes": "slug", "minutes": "8.123456789"}]
    book = book_with(policies=[policy], forming=forming, stages=stages)
    spot = Spot(price=Decimal("28.123456"), currency="EUR")
    wish = replace(WISH, band_width_mm=Decimal("11.4"))
    told = written(estimate(book, COIN, spot, wish))
    assert told["margin"]["target"] == "0.351234567"
    assert told["margin"]["floor"] == "0.201234567"
    assert told["forming"]["hole_mm"] == "15.123456789"
    assert told["spot"]["price"] == "28.123456"
    assert told["spoilage"]["stages"][0]["minutes"] == "8.27"


def test_texts_as_long_as_a_book_may_have_are_written():
    long = "x" * 200
    book = json.loads(json.dumps(BOOK))
    for consumable in book["consumables"]:
        consumable["title"] = consumable["unit"] = long
    book["channels"][0] |= {"title": long}
    book["channels"][0]["fees"][0]["label"] = long
    coin = replace(COIN, name=long)
    spot = Spot(price=Decimal(28), currency="EUR")
    written(estimate(read_price_book(book), coin, spot, WISH))


def test_the_document_says_what_the_estimate_says():
    found = estimate(
        book_with(), COIN, Spot(price=Decimal("27.50"), currency="EUR"), WISH
    )
    told = written(found)
    assert told["book_version"] == 7
    assert Decimal(told["price"]["unit"]) == found.price.sale.unit
    assert Decimal(told["margin"]["amount"]) == found.price.sale.margin
    assert told["price"]["bound_by"] == found.price.bound_by
    assert [stage["stage"] for stage in told["spoilage"]["stages"]] == [
        stage.key for stage in found.spoilage.stages
    ]
    [fold] = [s for s in told["spoilage"]["stages"] if s["stage"] == "fold"]
    assert fold["redo_to"] == "anneal_1"
    assert told["risk"]["seed"] == found.risk.seed


def test_an_exact_break_even_is_written_to_four_decimals():
    field = CrossingText()
    assert field._serialize(Decimal(100) / 3) == "33.3333"
    assert field._serialize(None) is None
    far = Decimal("1234567890123456789012345678.12345")
    assert field._serialize(far) == "1234567890123456789012345678.1235"


def test_the_names_of_rules_are_those_of_a_policy():
    book = book_with()
    found = estimate(book, COIN, Spot(price=Decimal(28), currency="EUR"), WISH)
    assert {rule.name for rule in found.price.rules} <= set(RULES)
    policy = {field.name for field in dataclass_fields(found.policy)}
    assert set(RULES) <= policy


def every_field(schema, path=()):
    for name, field in schema.fields.items():
        yield (*path, name), field
        inner = field.inner if isinstance(field, fields.List) else field
        if isinstance(inner, fields.Nested):
            yield from every_field(inner.schema, (*path, name))


def test_every_member_of_an_estimate_says_what_it_is():
    silent = [
        path
        for path, field in every_field(EstimateDocument())
        if not field.metadata.get("description")
    ]
    assert silent == []
