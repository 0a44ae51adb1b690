"""The bands of listings and the specs they share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from sqlalchemy import Connection, bindparam, delete, insert, select, update

from api.db.listing_mapping import band, names_text, spec, spec_values
from api.db.listing_tables import listing_bands as bands
from api.db.listing_tables import listing_specs as specs
from api.db.prices_in_force import price_in_force, run_in_force
from api.db.repositories.in_parts import in_parts
from api.db.repositories.upserts import add_unless_there
from api.ports import Band, Listing, Spec

WITH_PRICES = select(
    bands.c.id,
    bands.c.listing,
    specs.c.size_from,
    specs.c.size_to,
    price_in_force().label("in_force"),
    run_in_force().label("run"),
).join_from(bands, specs)


def bands_of(
    connection: Connection, listings: Collection[int]
) -> Mapping[int, list[Band]]:
    """The bands of some listings by the listing's ``seq``, in order of size."""
    found: dict[int, list[Band]] = defaultdict(list)
    for part in in_parts(listings):
        query = WITH_PRICES.where(bands.c.listing.in_(part))
        for row in connection.execute(query.order_by(specs.c.size_from)):
            found[row.listing].append(band(row))
    return found


def with_ids(connection: Connection, wanted: Iterable[Spec]) -> dict[Spec, int]:
    """The ids of specs without one; new specs are stored first."""
    plain = {replace(each, id=0) for each in wanted}
    known = _known(connection, plain)
    missing = plain - known.keys()
    for each in sorted(missing, key=_order):
        add_unless_there(connection, specs, spec_values(each))
    return known | _known(connection, missing)


def add_bands(connection: Connection, listings: Sequence[Listing]) -> None:
    """Store the bands of new listings, which have their ``seq``."""
    ids = with_ids(connection, (x.spec(y) for x in listings for y in x.bands))
    rows = [
        {
            "listing": each.seq,
            "spec": ids[each.spec(one)],
            "locked": each.locked,
            "price": one.price,
        }
        for each in listings
        for one in each.bands
    ]
    if rows:
        connection.execute(insert(bands), rows)


def replace_bands(
    connection: Connection, pairs: Sequence[tuple[Listing, Listing]]
) -> None:
    """Bring bands from what was to what shall be; equal sizes keep their id."""
    gone: list[int] = []
    changed: list[tuple[int, Listing, Band]] = []
    added: list[Listing] = []
    for old, new in pairs:
        before, after = _by_sizes(old), _by_sizes(new)
        gone += [one.id for sizes, one in before.items() if sizes not in after]
        changed += [
            (before[sizes].id, new, one)
            for sizes, one in after.items()
            if sizes in before and _differ(old, before[sizes], new, one)
        ]
        more = tuple(one for sizes, one in after.items() if sizes not in before)
        added.append(replace(new, bands=more))
    for part in in_parts(gone):
        connection.execute(delete(bands).where(bands.c.id.in_(part)))
    _lock(connection, pairs)
    _enter(connection, changed)
    add_bands(connection, added)


def remove_bands(connection: Connection, listing: int) -> None:
    """Remove every band of a listing."""
    connection.execute(delete(bands).where(bands.c.listing == listing))


def _lock(connection: Connection, pairs: Iterable[tuple[Listing, Listing]]) -> None:
    rows = [
        {"b_listing": old.seq, "locked": new.locked}
        for old, new in pairs
        if old.locked != new.locked
    ]
    if rows:
        here = bands.c.listing == bindparam("b_listing")
        connection.execute(update(bands).where(here), rows)


def _enter(
    connection: Connection, changed: Sequence[tuple[int, Listing, Band]]
) -> None:
    """Make prices of bands entered ones, which no run has to do with."""
    ids = with_ids(connection, (listing.spec(one) for _, listing, one in changed))
    rows = [
        {
            "b_id": number,
            "spec": ids[listing.spec(one)],
            "price": one.price,
            "price_run": None,
            "next_price": None,
            "next_run": None,
        }
        for number, listing, one in changed
    ]
    if rows:
        here = bands.c.id == bindparam("b_id")
        connection.execute(update(bands).where(here), rows)


def _by_sizes(listing: Listing) -> dict[tuple[Decimal, Decimal], Band]:
    return {(one.size_from, one.size_to): one for one in listing.bands}


def _differ(old: Listing, before: Band, new: Listing, after: Band) -> bool:
    return before.price != after.price or old.spec(before) != new.spec(after)


def _known(connection: Connection, wanted: Collection[Spec]) -> dict[Spec, int]:
    # Asked for by coin and sizes, of which there are few; the rest is compared here.
    found: dict[Spec, int] = {}
    for part in in_parts(sorted({(each.coin, each.size_from) for each in wanted})):
        query = select(specs).where(
            specs.c.coin.in_({coin for coin, _ in part}),
            specs.c.size_from.in_({size for _, size in part}),
        )
        for row in connection.execute(query):
            found[replace(spec(row), id=0)] = row.id
    return {each: found[each] for each in wanted if each in found}


def _order(spec: Spec) -> tuple[object, ...]:
    return (
        spec.coin,
        spec.channel,
        spec.policy,
        names_text(spec.extras),
        spec.size_from,
        spec.size_to,
    )
