"""What is described of coins and price books is what the model reads."""

from __future__ import annotations

import json
import tomllib

import pytest
from hypothesis import given
from marshmallow import ValidationError, fields

from api.schemas.coins import CoinBody, CoinChoice
from api.schemas.described import Described, Figure, MeanOrFigure
from api.schemas.price_book import PriceBookBody
from pricing.catalogue import catalogue, catalogue_coin
from pricing.coin import Coin
from pricing.coin_document import coin_document, read_coin
from pricing.errors import BookRefused, InvalidInput
from pricing.price_book import document, read_price_book
from pricing.price_book.fields import Fields
from pricing.price_book.limits import AMOUNT, QUANTILE, SIGNED
from tests.architecture.source import ROOT
from tests.http.workshop import component
from tests.strategies.price_books import price_books

BOOK = tomllib.loads((ROOT / "demo/price_book.toml").read_text("utf-8"))
# A table for every table that a book may hold, so that each is opened.
EVERY_TABLE = {
    "labour": {},
    "consumables": [{}],
    "tools": [{}],
    "stages": [
        {
            "minutes_per": {},
            "consumables": [{"quantity_per": {}}],
            "scrap": {},
            "redo": {},
        }
    ],
    "recovery": {},
    "after_sale": {},
    "coin_buying": {},
    "channels": [{"tax": {}, "fees": [{}], "shipping": {}}],
    "policies": [
        {
            "multipliers": {},
            "rounding": {},
            "stale_spot": {},
            "dead_band": {},
            "quantity_breaks": [{}],
        }
    ],
    "extras": [{}],
    "forming": {},
    "calibrations": [{}],
}


@pytest.fixture
def asked_for(monkeypatch):
    """The members the reader asks each table for, by the path of the table."""
    found = {}
    refuse = Fields.refuse_unknown

    def noting(table):
        path = tuple(part for part in table._path if isinstance(part, str))
        found[path] = set(table._known)
        refuse(table)

    monkeypatch.setattr(Fields, "refuse_unknown", noting)
    return found


def members(schema, path=()):
    """The described members of each table, by the path of the table."""
    found = {path: set(schema.fields)}
    for name, field in schema.fields.items():
        inner = field.inner if isinstance(field, fields.List) else field
        if isinstance(inner, fields.Nested):
            found |= members(inner.schema, (*path, name))
    return found


def test_the_members_of_a_price_book_are_those_the_reader_asks_for(asked_for):
    with pytest.raises(BookRefused):
        read_price_book(EVERY_TABLE)
    assert members(PriceBookBody()) == asked_for


def test_the_members_of_a_coin_are_those_the_reader_asks_for(asked_for):
    with pytest.raises(InvalidInput):
        read_coin({"holes": [{}], "alloy": {}})
    assert members(CoinBody()) == asked_for


def needed(schema):
    return {name for name, field in schema.fields.items() if field.required}


def test_what_is_called_needed_is_what_the_reader_misses():
    with pytest.raises(BookRefused) as refused:
        read_price_book({})
    missed = {fault.path[0] for fault in refused.value.faults}
    assert needed(PriceBookBody()) == missed
    with pytest.raises(InvalidInput) as refused:
        read_coin({"metal": "base"})
    missed = {fault.path[0] for fault in refused.value.faults}
    assert needed(CoinBody()) == missed - {"density_g_cm3", "paid"}  # by the metal


def test_the_book_of_the_demo_fits_its_description():
    component("PriceBookBody").validate(BOOK)


@given(price_books())
def test_every_valid_book_fits_its_description(book):
    component("PriceBookBody").validate(json.loads(json.dumps(document(book))))


@pytest.mark.parametrize("coin", catalogue().values(), ids=lambda coin: coin.key)
def test_every_published_coin_fits_its_description(coin):
    component("CoinBody").validate(json.loads(json.dumps(coin_document(coin))))


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("title", ""),
        ("title", " "),
        ("title", "x" * 201),
        ("currency", "euro"),
        ("labour", {"rate_per_hour": 32.5}),
        ("labour", {"rate_per_hour": "1e3"}),
        ("labour", {"rate_per_hour": "-1"}),
        ("labour", {}),
        ("stages", []),
        ("extras", [{"key": "Ring box"}]),
        ("colour", "black"),
    ],
)
def test_the_description_refuses_what_the_reader_does(member, value):
    spoilt = BOOK | {member: value}
    assert not component("PriceBookBody").is_valid(spoilt)
    with pytest.raises(BookRefused):
        read_price_book(spoilt)


def test_a_figure_may_be_a_whole_number_and_null_where_it_may_be_left_out():
    figure = Figure(AMOUNT, "…")
    assert figure.keywords()["type"] == ["string", "integer", "null"]
    assert Figure(AMOUNT, "…", needed=True).keywords()["type"] == ["string", "integer"]
    assert Figure(SIGNED, "…").keywords()["pattern"].startswith("^-?")
    assert MeanOrFigure(QUANTILE, "…").keywords()["pattern"].startswith("^mean$|")
    whole = BOOK | {"labour": {"rate_per_hour": 32, "overhead_per_hour": None}}
    assert read_price_book(whole).labour.rate_per_hour == 32
    component("PriceBookBody").validate(whole)


def test_a_described_document_is_handed_on_as_it_came():
    given_ = {"whatever": 1.5}
    assert Described().load(given_) is given_
    assert Described().dump(given_) is given_


@pytest.mark.parametrize("value", [[], "x", None, 7, True])
def test_a_described_document_is_an_object(value):
    with pytest.raises(ValidationError, match="has to be an object"):
        Described().load(value)


def test_a_choice_of_coin_is_a_key_or_a_coin():
    choice = CoinChoice()
    assert choice.deserialize("at_50s_1959_1973") == "at_50s_1959_1973"
    known = catalogue_coin("at_50s_1959_1973")
    coin = choice.deserialize(coin_document(known))
    assert isinstance(coin, Coin)
    assert coin == known
    with pytest.raises(ValidationError, match="the key of a coin in quotes"):
        choice.deserialize(7)
