"""What the pages of the price book ask for: all that the book may hold."""

from __future__ import annotations

from marshmallow import fields

from api.schemas.coins import CoinBody
from api.schemas.price_book import PriceBookBody
from api.web.bench.book_parts import PARTS
from api.web.bench.coin_fields import COIN, KEY


def leaves(schema, path=()):
    """Every figure and text of a schema, lists as a star."""
    for name, kind in schema.load_fields.items():
        yield from leaf(kind, (*path, name))


def leaf(kind, path):
    if isinstance(kind, fields.List):
        inner = kind.inner
        listed = isinstance(inner, fields.Nested)
        yield from leaves(inner.schema, (*path, "*")) if listed else [path]
    elif isinstance(kind, fields.Nested):
        yield from leaves(kind.schema, path)
    else:
        yield path


def asked(part):
    start = (part.members[0], "*") if part.listed else ()
    for ask in part.asks():
        yield (*start, *ask.name.split("-"))
    for rows in part.lists():
        inside = (*start, *rows.name.split("-"))
        for ask in rows.asks:
            yield (*inside, "*", *ask.name.split("-")) if ask.name else inside


def test_every_member_of_a_book_has_a_field_and_no_field_is_without_a_member():
    found = [path for part in PARTS.values() for path in asked(part)]
    assert sorted(found) == sorted(leaves(PriceBookBody()))


def test_every_member_of_a_coin_has_a_field():
    found = [*asked(COIN), (KEY.name,)]
    assert sorted(found) == sorted(leaves(CoinBody()))


def test_shares_are_asked_for_as_per_cent():
    kinds = {path: ask.kind for part in PARTS.values() for path, ask in kinds_of(part)}
    for path, kind in kinds.items():
        if path[-1] in {"rate", "premium", "wear", "target_margin", "share", "markup"}:
            assert kind == "percent", path


def kinds_of(part):
    for ask in part.asks():
        yield tuple(ask.name.split("-")), ask
    for rows in part.lists():
        for ask in rows.asks:
            yield (rows.name, ask.name), ask
