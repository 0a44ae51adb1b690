"""A wish's document: written with all that was asked for, read whole or refused."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.errors import InvalidInput
from pricing.ring_size import SYSTEMS, ring_size, us_size
from pricing.wish import MOST_PIECES, OwnCoin, Wish
from pricing.wish_document import read_wish, wish_document

SIZE = {"system": "us", "size": "10"}
SIZES = {
    "us": ("10", "9½", " 9 1/2 ", "0", "24", "7.125000000"),
    "uk": ("t", "T 1/2", "Z+1½", "z"),
    "iso": ("41", "62"),
    "jp": ("1", "21"),
    "ch": ("0", "22", "22.5"),
    "diameter_mm": ("19.76", "20"),
    "circumference_mm": ("62.1",),
}
KEYS = st.from_regex(r"[a-z0-9][a-z0-9_]{0,39}", fullmatch=True)
BILLIONTH = Decimal("1e-9")
FIGURES = st.integers(1, 10**21 - 1).map(lambda n: n * BILLIONTH)
AMOUNTS = st.just(Decimal(0)) | FIGURES
WISHES = st.builds(
    Wish,
    size=st.sampled_from(SYSTEMS).flatmap(
        lambda system: st.sampled_from(SIZES[system]).map(
            lambda size: ring_size(system, size)
        )
    ),
    quantity=st.integers(1, MOST_PIECES),
    channel=st.none() | KEYS,
    policy=st.none() | KEYS,
    extras=st.lists(KEYS, max_size=5).map(tuple),
    own_coin=st.none() | st.builds(OwnCoin, compensation=AMOUNTS),
    hole_mm=st.none() | FIGURES,
    band_width_mm=st.none() | FIGURES,
    confidence=st.integers(1, 10**9 - 1).map(lambda n: n * BILLIONTH),
    coin_paid=st.none() | AMOUNTS,
    include=st.sets(st.just("risk")).map(frozenset),
)


def faults(document, **more):
    with pytest.raises(InvalidInput) as refused:
        read_wish(document, **more)
    assert refused.value.path == refused.value.faults[0].path
    return {fault.dotted: fault.message for fault in refused.value.faults}


@given(WISHES)
def test_a_wish_written_as_text_and_read_back_is_the_same(wish):
    kept = json.loads(json.dumps(wish_document(wish)))
    assert read_wish(kept) == wish
    assert wish_document(read_wish(kept)) == kept


def test_figures_keep_the_digits_they_were_asked_for_with():
    wish = Wish(size=us_size(Decimal("9.50")), hole_mm=Decimal("17.500"))
    assert wish_document(wish) == {
        "size": {"system": "us", "size": "9.50"},
        "quantity": 1,
        "hole_mm": "17.500",
        "confidence": "0.95",
    }


def test_everything_asked_for_is_written():
    wish = Wish(
        size=ring_size("uk", "T 1/2"),
        quantity=3,
        channel="fair",
        policy="trade",
        extras=("box", "box", "engraving"),
        own_coin=OwnCoin(compensation=Decimal(40)),
        band_width_mm=Decimal(8),
        confidence=Decimal("0.9"),
        coin_paid=Decimal("12.50"),
        include=frozenset({"risk"}),
    )
    assert wish_document(wish) == {
        "size": {"system": "uk", "size": "T 1/2"},
        "quantity": 3,
        "channel": "fair",
        "policy": "trade",
        "extras": ["box", "box", "engraving"],
        "own_coin": {"compensation": "40"},
        "band_width_mm": "8",
        "confidence": "0.9",
        "coin_paid": "12.50",
        "include": ["risk"],
    }


def test_a_size_is_enough():
    assert read_wish({"size": SIZE}) == Wish(size=us_size(Decimal(10)))


def test_an_own_coin_without_a_compensation_is_owed_nothing_for():
    read = read_wish({"size": SIZE, "own_coin": {}})
    assert read.own_coin == OwnCoin(compensation=Decimal(0))


def test_every_fault_is_told_by_its_path():
    found = faults(
        {
            "size": {"system": "xx", "size": "10"},
            "quantity": 0,
            "channel": "Own shop",
            "extras": ["box", 7],
            "own_coin": {"compensation": "-1"},
            "hole_mm": "0",
            "confidence": "1",
            "coin_paid": 12.5,
            "include": ["risk", "colour"],
            "colour": "red",
        }
    )
    assert list(found) == [
        "size.system",
        "quantity",
        "channel",
        "extras[1]",
        "own_coin.compensation",
        "hole_mm",
        "confidence",
        "coin_paid",
        "include[1]",
        "colour",
    ]
    assert "at least 1 and at most 1000" in found["quantity"]
    assert found["include[1]"] == "'colour' is no further result; use one of: risk"


@pytest.mark.parametrize(
    ("size", "where"),
    [
        (None, "size"),
        ("10", "size"),
        ({}, "size.system"),
        ({"system": "us"}, "size.size"),
        ({"system": "us", "size": 10}, "size.size"),
        ({"system": "us", "size": "1" * 201}, "size.size"),
        ({"system": "us", "size": "99"}, "size.size"),
        ({"system": "uk", "size": "T 3/4"}, "size.size"),
        ({"system": 3, "size": "10"}, "size.system"),
        ({"system": "us", "size": "10", "us": "10"}, "size.us"),
    ],
)
def test_a_size_that_is_none_is_refused(size, where):
    assert where in faults({"size": size})


def test_a_document_that_is_no_table_is_refused():
    assert list(faults(["size"])) == [""]
    with pytest.raises(InvalidInput, match="the wish: a list is not a table"):
        read_wish(["size"])


def test_paths_begin_where_the_document_stands():
    assert list(faults({}, path=("wishes", 2))) == ["wishes[2].size"]
