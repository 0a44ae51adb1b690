"""A listing from what is asked: its keys looked up, its missing prices worked out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from api.ports import SpotUnavailable, StaleSpot
from api.services.actor import Actor, acting
from api.services.repricings.compiled_bands import CompiledBands
from api.services.spot.spot_prices import SpotPrices
from pricing.errors import InvalidInput, NoPossiblePrice, NotMakeable, UnknownKey
from pricing.reprice import compile_band
from tests.services.promising import BASE, BOOK, COIN, SPOT, Promises
from tests.services.selling import Seller, asked, band


@pytest.fixture
def seller(promises):
    return Seller(promises)


@pytest.fixture
def make(seller):
    """What becomes of what is asked, against a listing that is there."""

    def making(*bands, old=None, **members):
        made = seller.listings.making()
        return made.made(asked(*bands, **members), old, at=seller.clock.now())

    return making


def worked_out(promises, **spec):
    usual = {
        "size_from": Decimal(5),
        "size_to": Decimal("9.5"),
        "channel": "own_shop",
        "policy": "retail",
    }
    coin = promises.coins.get(COIN).coin
    compiled = compile_band(promises.books.current(), coin, **(usual | spec))
    return compiled.price_at(promises.spots.quoted(compiled.book).spot).unit


def test_a_price_left_out_is_that_of_the_dearest_size_at_the_spot_in_force(
    make, promises
):
    made = make(band(price=None), band("10", "12", None), extras=("box",))
    small = worked_out(promises, extras=("box",))
    large = worked_out(
        promises, size_from=Decimal(10), size_to=Decimal(12), extras=("box",)
    )
    assert [each.price for each in made.listing.bands] == [small, large]
    assert not made.errors


def test_what_is_given_is_taken_as_it_is(make, clock):
    with acting(Actor(by="Ada")):
        made = make(band("10", "12", "5"), band(price="189.950"), title=" A ring ")
    found = made.listing
    assert [(str(x.size_from), str(x.price)) for x in found.bands] == [
        ("5", "189.95"),
        ("10", "5.00"),
    ]
    assert (found.title, found.changed_by) == ("A ring", "Ada")
    assert found.created_at == found.changed_at == clock.now()
    assert made.changed
    assert made.members == ()


def test_nothing_is_worked_out_where_all_prices_are_given(make, monkeypatch):
    monkeypatch.setattr(CompiledBands, "of", None)
    monkeypatch.setattr(SpotPrices, "quoted", None)
    assert make(band(), band("10", "12")).listing


def test_what_bands_share_is_worked_out_once(seller, monkeypatch):
    worked, of = [], CompiledBands.of
    monkeypatch.setattr(
        CompiledBands, "of", lambda *args: worked.append(1) or of(*args)
    )
    making = seller.listings.making()
    for sku in ("a", "b", "c"):
        making.made(asked(band(price=None), sku=sku), None, at=seller.clock.now())
    assert len(worked) == 1


KEYS = {
    "coin": ({"coin": "nothing"}, ("coin",)),
    "channel": ({"channel": "nothing"}, ("channel",)),
    "policy": ({"policy": "nothing"}, ("policy",)),
    "an extra": ({"extras": ("box", "nothing")}, ("extras", 1)),
}


@pytest.mark.parametrize(("members", "path"), KEYS.values(), ids=KEYS)
def test_a_key_that_names_nothing_is_pointed_at(make, members, path):
    made = make(**members)
    [error] = made.errors
    assert isinstance(error, UnknownKey)
    assert error.path == path
    assert made.listing is None


def test_every_key_is_looked_up_before_anything_is_priced(make):
    made = make(
        band(price=None), coin="x", channel="x", policy="x", extras=("x", "box", "y")
    )
    assert [error.path[0] for error in made.errors] == [
        "coin",
        "channel",
        "policy",
        "extras",
        "extras",
    ]


def test_a_band_that_cannot_be_made_is_pointed_at_where_it_stands(make):
    made = make(band("12", "13"), band("0", "0.25", None))
    [error] = made.errors
    assert isinstance(error, NotMakeable)
    assert error.path == ("bands", 1)


def test_a_band_with_a_price_may_be_one_that_cannot_be_made(make):
    assert make(band("0", "0.25", "50")).listing


def test_a_rule_that_no_price_meets_is_told(make, promises):
    promises.change_book(policies=[{"key": "retail", "target_margin": "0.99"}])
    made = make(band(price=None))
    [error] = made.errors
    assert isinstance(error, NoPossiblePrice)
    assert error.path == ("bands", 0)


def test_what_is_no_figure_is_told_before_any_key_is_looked_up(make):
    made = make(band(price="0"), coin="nothing")
    assert [type(error) for error in made.errors] == [InvalidInput]


def test_without_a_spot_only_what_needs_none_is_priced(storage, clock):
    seller = Seller(Promises(storage, clock))
    seller.promises.books.replace(BOOK, expected=None)
    seller.promises.coins.add(replace(BASE, key="token"))

    def price(coin):
        ask = asked(band(price=None), coin=coin)
        return seller.listings.making().made(ask, None, at=clock.now())

    with pytest.raises(SpotUnavailable):
        price(COIN)
    assert price("token").listing


def test_an_old_spot_prices_nothing(make, clock):
    clock.advance(days=7)
    with pytest.raises(StaleSpot):
        make(band(price=None))
    assert make(band()).listing


@pytest.fixture
def old(seller):
    """A listing that is there, and whose keys are gone from the book by now."""
    found = seller.create(band(price=None), band("10", "12", "70"), extras=("box",))
    seller.promises.spots.enter("XAG", SPOT * 2, "EUR")
    return found


def test_the_same_again_is_no_change_whatever_became_of_its_keys(make, old, promises):
    promises.change_book(
        channels=[{"key": "x"}], policies=[{"key": "y", "target_margin": "0.1"}]
    )
    for bands in (
        (band(price=None), band("10", "12", None)),
        (band("10", "12", "70.0"), band(price=str(old.bands[0].price))),
    ):
        made = make(*bands, old=old, extras=("box",))
        assert made.listing is old
        assert not made.changed


def test_a_price_left_out_stays_where_all_it_follows_from_does(make, old):
    made = make(
        band(price=None),
        band("10", "12", "71"),
        old=old,
        title="Another",
        published=True,
        extras=("box",),
    )
    assert made.listing.bands[0].price == old.bands[0].price
    assert made.listing.bands[1].price == 71
    assert set(made.members) == {"title", "published"}
    assert made.moved
    assert (made.listing.seq, made.listing.revision) == (old.seq, old.revision)
    assert made.listing.created_at == old.created_at


@pytest.mark.parametrize(
    "members", [{"extras": ()}, {"policy": "trade"}, {"channel": "fair"}]
)
def test_a_price_left_out_is_worked_out_anew_where_that_changed(
    make, old, promises, members
):
    made = make(band(price=None), old=old, **({"extras": ("box",)} | members))
    wanted = {"extras": ("box",)} | members
    assert made.listing.bands[0].price == worked_out(promises, **wanted)


def test_other_sizes_are_priced_anew(make, old, promises):
    made = make(band("5", "9.25", None), old=old, extras=("box",))
    [found] = made.listing.bands
    assert found.price == worked_out(promises, size_to=Decimal("9.25"), extras=("box",))


def test_only_members_that_differ_are_told(make, old):
    same = band(price=None), band("10", "12", None)
    made = make(*same, old=old, extras=("box",), locked=True)
    assert (made.members, made.moved) == (("locked",), False)
