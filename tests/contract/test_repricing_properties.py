"""What holds for every shop, whatever its listings, prices and silver are."""

from __future__ import annotations

import shutil
from contextlib import closing, contextmanager
from decimal import Decimal
from tempfile import TemporaryDirectory
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import event, text

from api.db import open_storage, upgrade
from api.ports import Place
from api.services.repricings.refusals import Overtaken
from pricing.estimate import estimate
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.wish import Wish
from tests.services.feeding import NOON
from tests.services.promising import BOOK, COIN, DOLLAR
from tests.services.repricing import POLICIES, Shop
from tests.thoroughness import thorough

pytestmark = pytest.mark.slow

MOVING = {"raise", "lower"}
MOVABLE = [POLICIES[0] | {"max_step": "0.40"}, POLICIES[1] | {"max_step": "0.25"}]
QUARTER = Decimal("0.25")


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    """The file of a shop without listings."""
    file = tmp_path_factory.mktemp("properties") / "shop.sqlite3"
    clock = SimpleNamespace(now=lambda: NOON)
    with closing(open_storage(str(file))) as storage:
        upgrade(storage.engine)
        shop = Shop(storage, clock)
        shop.books.replace(BOOK | {"policies": MOVABLE}, expected=None)
        shop.silver("27.50")
    return file


prices = st.decimals(60, 260, places=2).map(str)
spots = st.decimals("12", "70", places=2)


@st.composite
def bands(draw):
    """Up to three bands that do not overlap, of at most six sizes."""
    at, made = draw(st.integers(16, 30)), []
    for _ in range(draw(st.integers(1, 3))):
        last = at + draw(st.integers(0, 5))
        ends = (str(at * QUARTER), str(last * QUARTER))
        made.append((*ends, draw(prices)))
        at = last + draw(st.integers(1, 3))
    return made


@st.composite
def shops(draw):
    """Listings; some share all but their price, some cannot be priced."""
    count = draw(st.integers(1, 5))
    return [
        {
            "sku": f"R{number}",
            "bands": draw(bands()),
            "locked": draw(st.booleans()),
            "policy": draw(st.sampled_from(["retail", "trade", "retail", "gone"])),
            "coin": draw(st.sampled_from([COIN, COIN, DOLLAR, "gone"])),
            "channel": draw(st.sampled_from(["own_shop", "fair"])),
        }
        for number in range(count)
    ]


@contextmanager
def shop_of(empty, asked):
    """A new shop with these listings, in a file of its own."""
    with TemporaryDirectory() as folder:
        file = f"{folder}/shop.sqlite3"
        shutil.copyfile(empty, file)
        with closing(open_storage(file)) as storage:
            event.listen(storage.engine, "connect", _hurry)
            shop = Shop(storage, SimpleNamespace(now=lambda: NOON))
            shop.list(*(_listing(shop, **each) for each in asked))
            yield shop


def _hurry(connection, _):
    """The disk is not what these tests are about."""
    connection.execute("PRAGMA synchronous = OFF")


def _listing(shop, sku, bands, **members):
    return shop.listing(sku, *bands, **members)


def in_review(shop, run):
    return [
        Place(band.sku, band.size_from)
        for band in shop.bands(run)
        if band.decision == "review"
    ]


def everything(shop):
    """Each row that says anything of the listings' prices in force, byte for byte."""
    listings = shop.storage.read(lambda unit: tuple(unit.listings.each()))
    return [
        (each.sku, each.revision, each.changed_rev, band)
        for each in listings
        for band in each.bands
    ]


@settings(max_examples=thorough(20, 60))
@given(asked=shops(), spot=spots, data=st.data())
def test_what_is_applied_is_what_was_previewed_and_is_undone_exactly(
    empty, asked, spot, data
):
    with shop_of(empty, asked) as shop:
        before, rows = shop.prices(), everything(shop)
        run = shop.repricings.preview(spot)
        assert everything(shop) == rows
        review = in_review(shop, run)
        named = (
            data.draw(st.lists(st.sampled_from(review), unique=True)) if review else []
        )
        foretold = dict(before)
        for band in shop.bands(run):
            place = Place(band.sku, band.size_from)
            assert band.old_price == before[place]
            assert band.moves == (band.decision in MOVING)
            if band.moves or place in named:
                foretold[place] = band.new_price
        applied = shop.applied(run, named)
        assert shop.prices() == foretold
        locked = {each["sku"] for each in asked if each["locked"]}
        for place, price in shop.prices().items():
            if place[0] in locked or (place in review and place not in named):
                assert price == before[place]
        _check_stored(shop, run, named)
        shop.repricings.undo(run.id, expected=applied.version)
        assert everything(shop) == rows


def _check_stored(shop, run, named):
    """What the run says of itself is what its bands say one by one."""
    bands = shop.bands(shop.repricings.get(run.id))
    for decision, count in run.counts.items():
        assert count == sum(band.decision == decision for band in bands)
    without_a_word = [band for band in bands if band.decision in MOVING]
    change = sum(band.new_price - band.old_price for band in without_a_word)
    assert run.value_change == change
    moved = {Place(band.sku, band.size_from) for band in bands if band.moves}
    assert moved == {
        *named,
        *(Place(band.sku, band.size_from) for band in without_a_word),
    }
    assert shop.storage.read(lambda unit: unit.repricings.counts(run.seq)) == {
        name: count for name, count in run.counts.items() if count
    }


@settings(max_examples=thorough(15, 40))
@given(asked=shops(), spot=spots, data=st.data())
def test_an_edit_after_the_preview_is_never_overwritten(empty, asked, spot, data):
    with shop_of(empty, asked) as shop:
        run = shop.repricings.preview(spot)
        sku = data.draw(st.sampled_from([each["sku"] for each in asked]))
        if data.draw(st.booleans()):
            shop.reprice_by_hand(sku, data.draw(prices))
        else:
            shop.edit(sku, title="Another title")
        rows = everything(shop)
        with pytest.raises(Overtaken) as refused:
            shop.applied(run, in_review(shop, run))
        assert [each.sku for each in refused.value.changed] == [sku]
        assert everything(shop) == rows
        assert shop.repricings.get(run.id) == run


@settings(max_examples=thorough(15, 40))
@given(asked=shops(), spot=spots, data=st.data())
def test_an_edited_price_is_never_undone(empty, asked, spot, data):
    with shop_of(empty, asked) as shop:
        run = shop.repricings.preview(spot)
        applied = shop.applied(run, in_review(shop, run))
        sku = data.draw(st.sampled_from([each["sku"] for each in asked]))
        old = shop.get(sku).bands[0].price
        price = data.draw(prices.filter(lambda each: Decimal(each) != old))
        shop.reprice_by_hand(sku, price)
        rows = everything(shop)
        moved = [band for band in shop.bands(applied) if band.moves]
        first = (sku, shop.get(sku).bands[0].size_from)
        if first not in [(band.sku, band.size_from) for band in moved]:
            shop.repricings.undo(run.id, expected=applied.version)
            assert shop.prices()[first] == Decimal(price)
            return
        with pytest.raises(Overtaken):
            shop.repricings.undo(run.id, expected=applied.version)
        assert everything(shop) == rows


@settings(max_examples=thorough(12, 30))
@given(asked=shops(), spot=spots)
def test_no_band_costs_less_than_any_of_its_sizes(empty, asked, spot):
    with shop_of(empty, asked) as shop:
        run = shop.repricings.preview(spot)
        for band in shop.bands(run):
            if band.decision not in {*MOVING, "review"}:
                continue
            listing = shop.get(band.sku)
            book, coin = shop.books.current(), shop.coins.get(listing.coin).coin
            size = band.size_from
            while size <= band.size_to:
                assert band.new_price >= _price((book, coin), listing, size, spot)
                size += QUARTER


def _price(ground, listing, size, spot):
    """What one ring of this size is asked for, priced by itself."""
    book, coin = ground
    wish = Wish(size=us_size(size), channel=listing.channel, policy=listing.policy)
    found = estimate(book, coin, Spot(price=spot, currency="EUR"), wish)
    return found.price.sale.unit


@settings(max_examples=thorough(12, 30))
@given(asked=shops(), steps=st.lists(spots, min_size=1, max_size=4))
def test_of_several_runs_the_last_two_are_undone_in_turn(empty, asked, steps):
    with shop_of(empty, asked) as shop:
        states, runs = [shop.prices()], []
        for spot in steps:
            run = shop.repricings.preview(spot)
            runs.append(shop.applied(run, in_review(shop, run)))
            states.append(shop.prices())
        for run, state in list(zip(runs, states, strict=False))[::-1][:2]:
            shop.repricings.undo(run.id, expected=run.version)
            assert shop.prices() == state
        with shop.storage.engine.connect() as connection:
            half = text("SELECT count(*) FROM repricings WHERE status = 'applying'")
            assert connection.execute(half).scalar_one() == 0
