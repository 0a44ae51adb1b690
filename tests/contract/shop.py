"""A shop with listings, and repricings of it, straight in the storage."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import count

from api.ports import Band, Deed, Listing, Repricing, RepricingCase
from tests.contract.quoting import NOON, with_a_book

_ids = map("run-{}".format, count(1))
UP = Decimal("5.00")


def band(smallest, largest, price):
    sizes = {"size_from": Decimal(smallest), "size_to": Decimal(largest)}
    return Band(**sizes, price=Decimal(price))


SMALL, LARGE = band("5", "9.5", "89.95"), band("9.75", "12", "99.95")


def listing(sku="a", *bands, **more):
    """A listing that is not stored yet, with two bands unless they are given."""
    plain = Listing(
        sku=sku,
        title=f"Ring {sku}",
        kind="made_to_order",
        coin="morgan",
        channel="own_shop",
        policy="retail",
        bands=bands or (SMALL, LARGE),
        created_at=NOON,
        changed_at=NOON,
        changed_by="maker",
    )
    return replace(plain, **more)


def opened(storage, *listings):
    """The storage with a price book and these listings, two plain ones by default."""
    with_a_book(storage)
    stock(storage, *(listings or (listing("a"), listing("b"))))
    return storage


def stock(storage, *listings, why="created"):
    """Add listings, all at once."""

    def adding(unit):
        rev = unit.revisions.bump("listings")
        unit.listings.add([replace(x, changed_rev=rev) for x in listings], why=why)

    storage.write(adding)


def get(storage, sku="a"):
    return storage.read(lambda unit: unit.listings.get(sku))


def edit(storage, sku="a", *, expected=None, at=NOON, **changes):
    """Whether a listing is replaced by itself with changes."""
    old = get(storage, sku)

    def replacing(unit):
        rev = unit.revisions.bump("listings")
        new = replace(old, changed_rev=rev, changed_at=at, **changes)
        return unit.listings.replace(new, expected=expected or old.revision)

    return storage.write(replacing)


def priced(old, *prices):
    """The bands of a listing with other prices."""
    pairs = zip(old.bands, prices, strict=True)
    return tuple(replace(each, price=Decimal(price)) for each, price in pairs)


def remove(storage, sku="a", *, expected=None):
    old = get(storage, sku)

    def removing(unit):
        rev = unit.revisions.bump("listings")
        told = {"rev": rev, "at": NOON, "by": "maker"}
        return unit.listings.remove(sku, expected=expected or old.revision, **told)

    return storage.write(removing)


def prices(storage):
    """Every price in force, in one statement: by sku and size, as text."""
    every = storage.read(lambda unit: [*unit.listings.each()])
    return {
        (each.sku, str(one.size_from), str(one.size_to)): str(one.price)
        for each in every
        for one in each.bands
    }


def dearer(before, *but, by=UP):
    """Prices as they have to be after a run that raises all but some skus."""
    return {
        where: price if where[0] in but else str(Decimal(price) + by)
        for where, price in before.items()
    }


def plus(case, decision="raise", step=UP):
    """A case that is to cost more."""
    price = None if decision == "blocked" else case.price + step
    told = {"decision": decision, "reason": "because"}
    return RepricingCase(
        spec=case.spec.id, old_price=case.price, new_price=price, **told
    )


def mixed(case):
    """A decision of each kind, by the price."""
    decisions = {70: "hold", SMALL.price: "raise", LARGE.price: "review", 60: "blocked"}
    return plus(case, decisions[case.price])


def preview(storage, decide=plus, *, skus=None):
    """A stored preview that decides so about each case in use."""

    def previewing(unit):
        used = unit.listings.cases_in_use(skus)
        run = Repricing(
            id=next(_ids),
            created_at=NOON,
            created_by="maker",
            currency="EUR",
            spot='{"price":"27.50"}',
            spot_price=Decimal("27.50"),
            book_version=1,
            listings_rev=unit.revisions.all().listings,
            skus=skus,
        )
        stored = unit.repricings.add(run, [decide(case) for case in used])
        filled = unit.repricings.fill_bands(stored.seq, skus=skus)
        assert filled == sum(case.bands for case in used)
        return stored

    return storage.write(previewing)


def begin(storage, run, *named):
    return _switched(storage, lambda u, deed: u.repricings.begin(run, named, deed=deed))


def chunk(storage, run, after=0, size=1):
    return storage.write(
        lambda unit: unit.repricings.apply_chunk(
            run.seq, after=after, size=size, at=NOON
        )
    )


def ready(storage, run, *, after=0, size=1):
    """Make all bands ready, chunk by chunk; how many chunks there were."""
    for number in count():
        after = chunk(storage, run, after, size)
        if after is None:
            return number
    raise AssertionError


def switch(storage, run):
    return _switched(storage, lambda u, deed: u.repricings.switch(run, deed=deed))


def apply(storage, run, *named, size=1):
    """The run in force; None where it could not begin."""
    begun = begin(storage, run, *named)
    if begun is None:
        return None
    ready(storage, begun, size=size)
    return switch(storage, begun)


def at_once(storage, run, *named):
    """The same in one go."""
    return _switched(
        storage, lambda u, deed: u.repricings.apply_at_once(run, named, deed=deed)
    )


def give_up(storage, run):
    return storage.write(lambda unit: unit.repricings.give_up(run))


def clear(storage, run, size=1):
    """Take back what was made ready, chunk by chunk."""
    after = 0
    while after is not None:
        after = storage.write(
            lambda unit, a=after: unit.repricings.clear_chunk(
                run.seq, after=a, size=size
            )
        )


def undo(storage, run):
    return _switched(storage, lambda u, deed: u.repricings.undo(run, deed=deed))


def touched(storage, run, limit=100):
    return storage.read(
        lambda unit: unit.repricings.touched_since(run.seq, limit=limit)
    )


def against(storage, run, limit=100):
    return storage.read(lambda unit: unit.repricings.stands_against(run, limit=limit))


def _switched(storage, work):
    def switching(unit):
        rev = unit.revisions.bump("listings")
        return work(unit, Deed(by="bench key", at=NOON, rev=rev))

    return storage.write(switching)


def by_id(storage, run):
    return storage.read(lambda unit: unit.repricings.get(run.id))
