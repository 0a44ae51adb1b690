"""What every storage does with listings: kept whole, edited once, found again."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, IntegrityError

from api.ports import Conflict, ListingFilter, Place, StorageCollision
from tests.contract.quoting import DAY, NOON, at_once
from tests.contract.shop import (
    LARGE,
    SMALL,
    apply,
    band,
    edit,
    get,
    listing,
    opened,
    preview,
    priced,
    prices,
    remove,
    stock,
    undo,
)

MANY = 1201


@pytest.fixture
def shop(any_storage):
    return opened(any_storage)


def skus(storage, *, limit=99, past=None, newer=False, **wanted):
    asked = ListingFilter(**wanted)
    found = storage.read(
        lambda unit: unit.listings.page(asked, limit=limit, past=past, newer=newer)
    )
    counted = storage.read(lambda unit: unit.listings.count(asked))
    assert counted >= len(found)
    return "".join(each.sku for each in found)


def moves(storage, sku="a", *, limit=99, past=None):
    """What happened to prices, newest first: why, size, from and to."""
    found = storage.read(
        lambda unit: unit.listings.history(sku, limit=limit, past=past)
    )
    return [
        (each.why, str(each.size_from), each.old and str(each.old),
         each.new and str(each.new))
        for each in found
    ]  # fmt: skip


def test_a_listing_comes_back_as_it_was_stored(any_storage):
    whole = listing(
        "Ä-1.x_Y",
        band("0", "0", "0.0001"),
        band("0.25", "16", "922337203685477.5807"),
        title="«Ring» \\ 100 %_'",
        kind="ready_made",
        extras=("ring_box", "engraving"),
        locked=True,
        published=True,
        actual_cost=Decimal("31.4150"),
        changed_at=NOON + DAY,
    )
    opened(any_storage, whole, listing("b", actual_cost=None, extras=()))
    found = get(any_storage, "Ä-1.x_Y")
    ids = [one.id for one in found.bands]
    assert found.seq >= 1
    assert ids == sorted({*ids})
    plain = tuple(replace(one, id=0) for one in found.bands)
    assert replace(found, seq=0, changed_rev=0, bands=plain) == whole
    assert found.changed_rev == any_storage.revisions().listings == 1
    assert get(any_storage, "b").bands[0].price == SMALL.price
    for nobody in ("ä-1.x_y", "B", ""):
        assert get(any_storage, nobody) is None


def test_bands_are_in_order_of_size_however_they_are_given(any_storage):
    opened(any_storage, listing("a", LARGE, band("4", "4.75", "80"), SMALL))
    sizes = [one.size_from for one in get(any_storage).bands]
    assert sizes == [Decimal(4), Decimal(5), Decimal("9.75")]


def test_equal_specs_are_one(shop):
    stock(
        shop,
        listing("c", policy="fairs"),
        listing("d", extras=("ring_box",)),
        listing("e", channel="fair"),
        listing("f", coin="peace"),
        listing("g", SMALL),
    )
    stock(shop, listing("h", policy="fairs"), listing("i", coin="peace"))
    specs = shop.read(lambda unit: unit.listings.specs_in_use())
    assert len(specs) == len({each.id for each in specs}) == 10
    assert {replace(each, id=0) for each in specs} == {
        get(shop, sku).spec(one) for sku in "acdef" for one in (SMALL, LARGE)
    }


def test_a_sku_in_use_is_refused_and_nothing_stored(shop):
    with pytest.raises(Conflict, match="'b'"):
        stock(shop, listing("c"), listing("b"))
    assert skus(shop) == "ba"
    stock(shop, listing("B"))
    assert skus(shop) == "Bba"


def test_one_of_many_that_add_one_sku_at_once_does(any_storage):
    opened(any_storage)

    def adding(number):
        try:
            stock(any_storage, listing("new", title=f"of {number}"))
        except (Conflict, StorageCollision):
            return None
        return f"of {number}"

    done = [each for each in at_once(adding, 6) if each]
    assert done == [get(any_storage, "new").title]


def test_an_edit_counts_and_keeps_what_stays(shop):
    before = get(shop)
    wider = band("10", "13", "109.95")
    assert edit(shop, title="Other", bands=(before.bands[0], wider), at=NOON + DAY)
    after = get(shop)
    assert after.revision == before.revision + 1
    assert after.changed_rev == shop.revisions().listings == before.changed_rev + 1
    assert (after.title, after.seq, after.created_at) == ("Other", before.seq, NOON)
    assert after.bands[0] == before.bands[0]
    assert after.bands[1].id not in {one.id for one in before.bands}
    assert replace(after.bands[1], id=0) == wider
    assert skus(shop, text="OTHER") == "a"
    assert get(shop, "b").revision == 1


def test_an_edit_of_another_revision_changes_nothing(shop):
    before = get(shop)
    for expected in (2, 2**31 - 1, 2**40, -1):
        assert not edit(shop, title="Other", expected=expected)
        assert not remove(shop, expected=expected)
    assert get(shop) == before
    new = replace(before, sku="nobody")
    assert not shop.write(lambda unit: unit.listings.replace(new, expected=1))
    assert not shop.write(
        lambda unit: unit.listings.remove("c", expected=1, rev=9, at=NOON, by="x")
    )


def test_many_are_replaced_at_once_or_none(shop):
    a, b = get(shop), get(shop, "b")

    def replacing(unit, old_b):
        rev = unit.revisions.bump("listings")
        new_a = replace(a, bands=priced(a, "70", "80"), changed_rev=rev)
        new_b = replace(old_b, locked=True, changed_rev=rev)
        unit.listings.replace_all([new_a, new_b])

    with pytest.raises(Conflict, match="'b'"):
        shop.write(lambda unit: replacing(unit, replace(b, revision=2)))
    assert get(shop) == a
    shop.write(lambda unit: replacing(unit, b))
    assert [one.price for one in get(shop).bands] == [Decimal(70), Decimal(80)]
    assert (get(shop).revision, get(shop, "b").revision) == (2, 2)
    assert get(shop, "b").locked
    assert moves(shop)[0] == ("imported", "5.00", "89.95", "70.00")
    assert len(moves(shop, "b")) == 2
    cases = shop.read(lambda unit: unit.listings.cases_in_use(["b"]))
    assert [(each.bands, each.locked) for each in cases] == [(1, 1), (1, 1)]


def test_a_removed_listing_leaves_its_history_and_its_sku(shop):
    assert remove(shop)
    assert get(shop) is None
    assert skus(shop) == "b"
    assert ("a", "5.00", "9.50") not in prices(shop)
    stock(shop, listing("a", band("6", "7", "50")))
    again = get(shop)
    assert again.revision == 1
    assert moves(shop) == [
        ("created", "6.00", None, "50.00"),
        ("removed", "5.00", "89.95", None),
        ("removed", "9.75", "99.95", None),
        ("created", "5.00", None, "89.95"),
        ("created", "9.75", None, "99.95"),
    ]
    assert remove(shop)
    assert skus(shop) == "b"


def test_every_change_of_a_price_is_in_the_history_and_nothing_else(shop):
    old = get(shop)
    edit(shop, bands=priced(old, "79.95", "99.95"))
    edit(shop, title="Other", channel="fair")
    run = apply(shop, preview(shop))
    undo(shop, run)
    edit(shop, bands=(band("5", "9.25", "79.95"),))
    assert moves(shop) == [
        ("edited", "5.00", None, "79.95"),
        ("edited", "5.00", "79.95", None),
        ("edited", "9.75", "99.95", None),
        ("undone", "5.00", "84.95", "79.95"),
        ("undone", "9.75", "104.95", "99.95"),
        ("applied", "5.00", "79.95", "84.95"),
        ("applied", "9.75", "99.95", "104.95"),
        ("edited", "5.00", "89.95", "79.95"),
        ("created", "5.00", None, "89.95"),
        ("created", "9.75", None, "99.95"),
    ]
    found = shop.read(lambda unit: unit.listings.history("a", limit=99, past=None))
    of_runs = {each.run for each in found if each.why in {"applied", "undone"}}
    assert of_runs == {run.id}
    assert {(each.spot, each.book_version) for each in found if each.run} == {
        ('{"price":"27.50"}', 1)
    }
    assert {each.by for each in found} == {"maker", "bench key"}


def test_the_history_comes_in_pages_of_whole_moments(shop):
    for price in ("1", "2", "3"):
        edit(shop, bands=priced(get(shop), price, price))
    read, past = [], None
    while page := shop.read(
        lambda unit, p=past: unit.listings.history("a", limit=1, past=p)
    ):
        assert len({each.rev for each in page}) == 1
        read += page
        past = page[-1].rev
    assert [str(each.new) for each in read[::2]] == ["3.00", "2.00", "1.00", "89.95"]
    whole = shop.read(lambda unit: unit.listings.history("a", limit=99, past=None))
    assert tuple(read) == whole
    assert moves(shop, "nobody") == []


@pytest.mark.parametrize("deed", ["UPDATE price_changes SET rev = 9",
                                  "DELETE FROM price_changes"])  # fmt: skip
def test_the_history_is_never_changed(shop, deed):
    with (
        pytest.raises(IntegrityError, match="never changed"),
        shop.engine.begin() as connection,
    ):
        connection.execute(text(deed))
    assert len(moves(shop)) == 2


def test_a_row_of_the_history_is_not_replaced_in_sqlite(storage):
    opened(storage)
    again = "INSERT OR REPLACE INTO price_changes SELECT * FROM price_changes"
    with (
        pytest.raises(DBAPIError, match="never changed"),
        storage.engine.begin() as connection,
    ):
        connection.execute(text(again))


def test_what_no_listing_can_be_is_not_stored(shop):
    for wrong in (
        listing("c", kind="other"),
        listing("c", band("5", "6", "0")),
        listing("c", band("6", "5", "9")),
    ):
        with pytest.raises(IntegrityError):
            stock(shop, wrong)
    assert skus(shop) == "ba"


def test_listings_are_found_by_what_they_are(shop):
    stock(
        shop,
        listing("C", kind="ready_made", title="100 % Silber_ring"),
        listing("d", coin="peace", locked=True),
        listing("e", channel="fair", published=True),
        listing("f", policy="fairs", title="ÖSTERREICH"),
    )
    assert skus(shop) == "fedCba"
    assert skus(shop, kind="ready_made") == "C"
    assert skus(shop, coin="peace") == "d"
    assert skus(shop, channel="fair") == "e"
    assert skus(shop, policy="fairs") == "f"
    assert skus(shop, locked=True) == "d"
    assert skus(shop, locked=False, published=False) == "fCba"
    assert skus(shop, published=True) == "e"
    assert skus(shop, text="öster") == "f"
    assert skus(shop, text="% s") == "C"
    assert skus(shop, text="c") == "fC"
    assert skus(shop, text="i_b") == ""
    assert skus(shop, coin="peace", locked=False) == ""
    found = shop.read(lambda unit: unit.listings.find(["a", "d", "zz", "a"]))
    assert {*found} == {"a", "d"}
    assert found["d"] == get(shop, "d")


def test_pages_go_on_where_they_were(shop):
    stock(shop, *(listing(sku) for sku in "cdef"))
    page = shop.read(
        lambda unit: unit.listings.page(ListingFilter(), limit=2, past=None)
    )
    assert [each.sku for each in page] == ["f", "e"]
    assert [one.price for one in page[0].bands] == [SMALL.price, LARGE.price]
    last = page[-1].seq
    assert skus(shop, limit=2, past=last) == "dc"
    assert skus(shop, limit=1, past=last, newer=True) == "f"


def test_all_are_told_by_sku_though_there_are_many(any_storage):
    names = [f"ring-{number}" for number in range(MANY)] + ["Z", "a", "-", "Ä"]
    opened(any_storage, *(listing(name, SMALL) for name in names))
    told = any_storage.read(lambda unit: [*unit.listings.each()])
    assert [each.sku for each in told] == sorted(names)
    assert {one.price for each in told for one in each.bands} == {SMALL.price}
    every = any_storage.read(lambda unit: unit.listings.cases_in_use())
    some = any_storage.read(lambda unit: unit.listings.cases_in_use(names[:-4]))
    assert [each.bands for each in every] == [MANY + 4]
    assert [each.bands for each in some] == [MANY]
    assert every[0].spec == some[0].spec


def test_cases_are_specs_at_prices_in_force(shop):
    stock(shop, listing("c", band("5", "9.5", "70"), locked=True), listing("d", SMALL))
    apply(shop, preview(shop, skus=("c", "d")))
    cases = shop.read(lambda unit: unit.listings.cases_in_use())
    told = [(str(c.spec.size_from), str(c.price), c.bands, c.locked) for c in cases]
    assert told == [
        ("5.00", "70.00", 1, 1),
        ("5.00", "89.95", 2, 0),
        ("5.00", "94.95", 1, 0),
        ("9.75", "99.95", 2, 0),
    ]
    assert shop.read(lambda unit: unit.listings.cases_in_use(["nobody"])) == ()


def test_the_bands_of_a_case_are_told_by_id(shop):
    stock(shop, listing("c", band("5", "9.5", "70")))
    case = shop.read(lambda unit: unit.listings.cases_in_use())[1]
    assert case.bands == 2

    def places(**how):
        return shop.read(
            lambda unit: unit.listings.places(case.spec.id, case.price, **how)
        )

    first, second = places(limit=9)
    assert [first[1], second[1]] == [Place("a", Decimal(5)), Place("b", Decimal(5))]
    assert places(limit=1) == (first,)
    assert places(limit=9, past=first[0]) == (second,)
    apply(shop, preview(shop, skus=("a",)))
    assert places(limit=9) == (second,)


def test_what_changed_since_a_count_is_told_by_sku(shop):
    def since(rev, limit=9):
        return shop.read(lambda unit: unit.listings.changed_since(rev, limit=limit))

    start = shop.revisions().listings
    assert since(start) == ()
    stock(shop, listing("C"))
    edit(shop, "b", title="Other")
    remove(shop, "a")
    assert since(start) == ("C", "a", "b")
    assert since(start, limit=2) == ("C", "a")
    assert since(start + 1) == ("a", "b")
    apply(shop, preview(shop))
    assert since(start + 3) == ()
