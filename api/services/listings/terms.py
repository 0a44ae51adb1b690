"""What is asked of a listing, and what is wrong with it whatever the book says."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from api.ports import LISTING_KINDS
from api.services.plain_text import plain_line
from pricing import money
from pricing.band_size import sizes_between
from pricing.errors import InvalidInput, Path, PricingError
from pricing.money import ZERO, Currency

MOST_BANDS = 40
"""Most bands of a listing [count]."""
MOST_EXTRAS = 20
"""Most extras of a listing [count]."""
LARGEST_PRICE = Decimal(10**9)
"""What a price, or an actual cost, has to stay under [currency]."""
RESERVED = frozenset({"import", "export", "floors", "new", ".", ".."})
"""What no listing may be called, because addresses say something else by it."""

_SKU = re.compile(r"[A-Za-z0-9._-]{1,64}", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class BandAsk:
    """Sizes that share a price, both ends included.

    Attributes:
        size_from, size_to: [US size, whole quarters].
        price: [currency]; None keeps the one it has, or has it worked out.
    """

    size_from: Decimal
    size_to: Decimal
    price: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListingAsk:
    """A listing as it is to be; the members are those of `Listing`."""

    sku: str
    title: str
    kind: str
    coin: str
    channel: str
    policy: str
    extras: tuple[str, ...] = ()
    locked: bool = False
    published: bool = False
    actual_cost: Decimal | None = None
    bands: tuple[BandAsk, ...]


def raise_errors(errors: Sequence[PricingError]) -> None:
    """Raise one error for all of them; none where there are none.

    Figures that cannot be come together and before all else, so that they are mended
    at once; of other kinds the first is told.
    """
    figures = [error for error in errors if isinstance(error, InvalidInput)]
    if len(figures) > 1:
        faults = tuple(fault for error in figures for fault in error.faults)
        raise InvalidInput(f"{len(faults)} values cannot be used", faults=faults)
    for error in (*figures, *errors):
        raise error


def shape_errors(ask: ListingAsk, unit: Currency) -> Iterator[InvalidInput]:
    """Everything that can be seen without the price book.

    Args:
        ask: what is asked for.
        unit: the currency that prices are in.
    """
    yield from _name_errors(ask)
    if len(set(ask.extras)) < len(ask.extras) or len(ask.extras) > MOST_EXTRAS:
        said = f"up to {MOST_EXTRAS} extras are taken, each of them once"
        yield InvalidInput(said, path=("extras",))
    if ask.actual_cost is not None:
        yield from _cost_errors(ask, ask.actual_cost, unit)
    if not 1 <= len(ask.bands) <= MOST_BANDS:
        said = f"a listing has 1 to {MOST_BANDS} bands, not {len(ask.bands)}"
        yield InvalidInput(said, path=("bands",))
    for place, band in enumerate(ask.bands):
        yield from _band_errors(band, unit, ("bands", place))
    yield from _overlaps(ask.bands)


def _name_errors(ask: ListingAsk) -> Iterator[InvalidInput]:
    if not _SKU.fullmatch(ask.sku) or ask.sku in RESERVED:
        yield InvalidInput(
            f"'{ask.sku[:64]}' cannot name a listing; use 1 to 64 letters, digits, "
            "points, hyphens and underscores, and none of "
            f"{', '.join(sorted(RESERVED))}",
            path=("sku",),
        )
    try:
        plain_line(ask.title, "title", blank=False)
    except InvalidInput as error:
        yield error
    if ask.kind not in LISTING_KINDS:
        said = f"'{ask.kind[:40]}' is no kind; use {' or '.join(LISTING_KINDS)}"
        yield InvalidInput(said, path=("kind",))


def _cost_errors(
    ask: ListingAsk, cost: Decimal, unit: Currency
) -> Iterator[InvalidInput]:
    path = ("actual_cost",)
    if ask.kind != "ready_made":
        yield InvalidInput(
            "only a ready_made piece has cost something already; leave it out",
            path=path,
        )
    yield from _amount_errors(cost, unit, path=path, least=ZERO)


def _band_errors(band: BandAsk, unit: Currency, at: Path) -> Iterator[InvalidInput]:
    try:
        sizes_between(band.size_from, band.size_to)
    except InvalidInput as error:
        error.place(*at)
        yield error
    if band.price is not None:
        yield from _amount_errors(
            band.price, unit, path=(*at, "price"), least=unit.step
        )


def _amount_errors(
    given: Decimal, unit: Currency, *, path: Path, least: Decimal
) -> Iterator[InvalidInput]:
    if not least <= given < LARGEST_PRICE or given != money.amount(given, unit):
        yield InvalidInput(
            f"{given:f} is no amount that a ring can have in {unit.code}; give "
            f"{least:f} or more, in whole steps of {unit.step:f}, under "
            f"{LARGEST_PRICE}",
            path=path,
        )


def _overlaps(bands: Sequence[BandAsk]) -> Iterator[InvalidInput]:
    in_order = sorted(enumerate(bands), key=lambda each: each[1].size_from)
    for (_, lower), (place, upper) in pairwise(in_order):
        if upper.size_from <= lower.size_to:
            yield InvalidInput(
                f"the band from {money.trimmed(upper.size_from)} begins within the one "
                f"from {money.trimmed(lower.size_from)} to "
                f"{money.trimmed(lower.size_to)}; let it begin above that",
                path=("bands", place, "from"),
            )
