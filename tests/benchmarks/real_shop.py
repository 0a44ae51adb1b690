"""A shop whose bands are of real coins and can be priced; filled by the database."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import islice, product

from sqlalchemy import Connection, insert, text

from api.app.composition import Services
from api.db import SqlStorage
from api.db.listing_mapping import spec_values
from api.db.listing_tables import listing_specs
from api.ports import Spec
from pricing.catalogue import catalogue
from pricing.errors import InvalidInput, NotMakeable
from pricing.price_book import PriceBook
from pricing.reprice import compile_band
from tests.benchmarks.many_listings import BANDS_EACH, LISTINGS, NUMBERS
from tests.benchmarks.workshop import SPOT, book, document

WIDE = Decimal("1.5")  # what a band spans, seven sizes of a quarter
DEARER = Decimal("29.10")
EXTRAS = ((), ("ring_box",))
ENTERED = "1000000"  # as it is stored; the first preview says what it has to be
# A spec by a number that jumps about, as neighbours in a shop seldom share one.
BANDS = """INSERT INTO listing_bands (listing, spec, locked, price)
{numbers} SELECT (i - 1) / {each} + 1, CAST(i AS BIGINT) * 7919 % {specs} + 1, {no},
    {price} FROM n"""
# Some are right at another spot, some far off: every decision comes up.
PRICED = """UPDATE listing_bands SET price = (SELECT
    c.new_price * (92 + c.spec % 19) / 100 / {step} * {step} + {ending}
    FROM repricing_cases c WHERE c.spec = listing_bands.spec AND c.run = {run})"""
STEP, ENDING = 50_000, 49_500  # 5.00 and 4.95 as they are stored


def specs(count: int) -> list[Spec]:
    """So many different specs that can be priced."""
    return list(islice(_makeable(book()), count))


def _makeable(priced: PriceBook) -> Iterator[Spec]:
    sizes = [Decimal(half) / 2 for half in range(8, 26)]
    channels = [each.key for each in priced.channels]
    policies = [each.key for each in priced.policies]
    coins = [coin for coin in catalogue().values() if coin.metal == "XAG"]
    sold = product(EXTRAS, channels, policies)
    for (extras, channel, policy), size, coin in product(sold, sizes, coins):
        made = Spec(
            coin=coin.key,
            size_from=size,
            size_to=size + WIDE,
            channel=channel,
            policy=policy,
            extras=extras,
        )
        try:
            compile_band(
                priced, coin, size_from=size, size_to=size, channel=channel,
                policy=policy,
            )  # fmt: skip
            compile_band(priced, coin, size_from=made.size_to, size_to=made.size_to)
        except (NotMakeable, InvalidInput):
            continue
        yield made


def stock(services: Services, bands: int, made: list[Spec]) -> None:
    """Put so many bands [count] of these specs into an empty database, priced."""
    services.price_books.replace(document(), expected=None)
    services.spot_prices.enter("XAG", SPOT.price, SPOT.currency)
    storage = services.storage
    with storage.engine.begin() as connection:
        _fill(connection, storage.engine.dialect.name, bands, made)
    _price(services, storage)


def _fill(connection: Connection, name: str, bands: int, made: list[Spec]) -> None:
    no = "0" if name == "sqlite" else "false"
    said = {"no": no, "each": BANDS_EACH, "specs": len(made), "price": ENTERED}
    numbers = NUMBERS[name].format(count=-(-bands // BANDS_EACH))
    connection.execute(text(LISTINGS.format(numbers=numbers, **said)))
    connection.execute(insert(listing_specs), [spec_values(each) for each in made])
    numbers = NUMBERS[name].format(count=bands)
    connection.execute(text(BANDS.format(numbers=numbers, **said)))
    connection.execute(text("ANALYZE"))


def _price(services: Services, storage: SqlStorage) -> None:
    """Give each band a price near the one that the rules ask for."""
    run = services.repricings.preview()
    with storage.engine.begin() as connection:
        connection.execute(text(PRICED.format(run=run.seq, step=STEP, ending=ENDING)))
    storage.write(lambda unit: unit.revisions.bump("listings"))
