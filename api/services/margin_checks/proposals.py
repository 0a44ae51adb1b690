"""Proposed standards: what they would do to prices, and putting them into the book."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from api.ports import NotFound
from api.ports.margin_checks import RingMade
from api.services.coins import Coins
from api.services.margin_checks.check import MarginCheck
from api.services.plain_text import MOST_CHARACTERS
from api.services.price_book import PriceBooks
from api.services.price_trials import Figures, figures_of, spot_for
from api.services.snapshots import Snapshots
from api.services.spot.spot_prices import SpotPrices
from pricing.coin import Coin
from pricing.errors import InvalidInput
from pricing.margin_check.proposal import Proposal, apply_proposals
from pricing.money import trimmed
from pricing.price_book import PriceBook
from pricing.price_book.reading import read_price_book
from pricing.ring_size import RingSize, ring_size
from pricing.spot import Spot
from pricing.wish import Wish

RINGS_SHOWN = 3
"""Rings that show what proposals do to prices: those made most often [count]."""


_MOST_NAMED = 10
"""Paths that a refusal names [count]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """A ring at the spot in force, by the book in force and with a change to it.

    Costs and prices of a piece [currency]; None where it cannot be priced.
    """

    coin: str
    coin_name: str
    size: RingSize
    pieces: int
    cost: Decimal | None
    price: Decimal | None
    new_cost: Decimal | None
    new_price: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalEffect:
    """A proposal, and what it alone would do."""

    proposal: Proposal
    effects: tuple[Effect, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """All proposals of a check.

    Attributes:
        book_version: of the price book they are for.
        proposals: each with what it alone would do.
        together: what all of them would do.
    """

    check: MarginCheck
    book_version: int
    proposals: tuple[ProposalEffect, ...]
    together: tuple[Effect, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """Proposals that were put into a version of the price book."""

    book_version: int
    proposals: tuple[Proposal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ring:
    made: RingMade
    coin: Coin
    size: RingSize


class Standards:
    """Tries proposed standards, and puts them into the price book."""

    def __init__(
        self,
        snapshots: Snapshots,
        *,
        books: PriceBooks,
        coins: Coins,
        spots: SpotPrices,
    ) -> None:
        self._snapshots = snapshots
        self._books = books
        self._coins = coins
        self._spots = spots

    def proposed(self, check: MarginCheck) -> Proposed:
        """What the proposals of a check would do to the rings made most often."""
        stored, book = self._books.stored(), self._books.current()
        rings, spot = self._rings(check), spot_for(self._spots, book)
        before = [_figures(book, ring, spot) for ring in rings]
        document = json.loads(stored.document)

        def effects(proposals: Iterable[Proposal]) -> tuple[Effect, ...]:
            new = read_price_book(apply_proposals(document, proposals))
            after = [_figures(new, ring, spot) for ring in rings]
            return tuple(map(_effect, rings, before, after))

        return Proposed(
            check=check,
            book_version=book.version,
            proposals=tuple(
                ProposalEffect(proposal=each, effects=effects([each]))
                for each in check.proposals
            ),
            together=effects(check.proposals) if check.proposals else (),
        )

    def accept(
        self, check: MarginCheck, paths: Sequence[str], *, expected: int | None
    ) -> Accepted:
        """As `MarginChecks.accept`."""
        stored = self._books.stored()
        version = stored.about.version if expected is None else expected
        chosen = _chosen(check, paths)
        document: Mapping[str, Any] = json.loads(stored.document)
        book = self._books.replace(
            apply_proposals(document, chosen),
            expected=version,
            note=_note(check, chosen),
        )
        return Accepted(book_version=book.version, proposals=chosen)

    def _rings(self, check: MarginCheck) -> list[_Ring]:
        made = self._snapshots.read(
            lambda unit: unit.margin_checks.most_made(check.window, limit=RINGS_SHOWN)
        )
        found = []
        for each in made:
            try:
                coin = self._coins.get(each.coin).coin
            except NotFound:
                continue  # it was removed since
            size = ring_size("us", trimmed(each.size_us))
            found.append(_Ring(made=each, coin=coin, size=size))
        return found


def _figures(book: PriceBook, ring: _Ring, spot: Spot | None) -> Figures:
    """By the book's first channel and policy."""
    return figures_of(book, ring.coin, Wish(size=ring.size), spot)


def _effect(ring: _Ring, before: Figures, after: Figures) -> Effect:
    return Effect(
        coin=ring.made.coin,
        coin_name=ring.coin.label,
        size=ring.size,
        pieces=ring.made.pieces,
        cost=before.cost,
        price=before.price,
        new_cost=after.cost,
        new_price=after.price,
    )


def _chosen(check: MarginCheck, paths: Sequence[str]) -> tuple[Proposal, ...]:
    """The proposals of these paths, in the order they are proposed in."""
    known = {each.dotted: each for each in check.proposals}
    named = ", ".join([*known][:_MOST_NAMED]) or "nothing"
    if len(known) > _MOST_NAMED:
        named += f" and {len(known) - _MOST_NAMED} more"
    if not paths:
        said = f"no path is named; proposed for {check.name}: {named}"
        if not known:
            said = f"nothing is proposed for {check.name}"
        raise InvalidInput(said, path=("paths",))
    for place, path in enumerate(paths):
        if path not in known:
            raise InvalidInput(
                f"'{path[:60]}' is not proposed for {check.name}; proposed: {named}",
                path=("paths", place),
            )
    return tuple(each for path, each in known.items() if path in paths)


def _note(check: MarginCheck, chosen: Sequence[Proposal]) -> str:
    """Why the book has a new version, in the line that it keeps."""
    said = f"Margin check {check.name}: {', '.join(each.dotted for each in chosen)}"
    if len(said) <= MOST_CHARACTERS:
        return said
    return f"Margin check {check.name}: {len(chosen)} new standards"
