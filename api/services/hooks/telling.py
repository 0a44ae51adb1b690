"""From what happened to messages, one for each endpoint that wants to know."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Sequence
from datetime import datetime

from api.ports import UnitOfWork
from api.ports.hooks import Happening, Hook, HookEvent, HookMessage
from api.services.hooks.events import EXPIRED, PRICES
from api.services.hooks.payloads import price_bodies, quote_body
from api.services.price_book import PriceBooks

AT_ONCE = 500
"""Listings of a run that are told in one transaction [count]."""


class HookTelling:
    """Makes messages."""

    def __init__(self, books: PriceBooks) -> None:
        self._books = books

    def tell_next(self, unit: UnitOfWork, now: datetime) -> bool:
        """Whether there was something to be told, and it, or a part, is told."""
        found = unit.hooks.next_happening()
        if found is None:
            return False
        hooks = [h for h in unit.hooks.all() if h.wants(found.event, found.at)]
        if found.quote:
            self._tell_quote(unit, found, hooks, now)
        elif found.run is None:
            self._tell_listings(unit, found, hooks, now)
        elif hooks and self._tell_run(unit, found, hooks, now):
            return True
        unit.hooks.forget_happening(found.seq)
        return True

    def tell_expired(self, unit: UnitOfWork, now: datetime) -> bool:
        """Whether quotes ended since the last time, and they are told."""
        ended = unit.hooks.expired(after=told_until(unit, now), until=now)
        hooks = unit.hooks.all()
        for quote in ended:
            at = quote.valid_until
            wanting = [hook for hook in hooks if hook.wants(EXPIRED, at)]
            _add(unit, wanting, EXPIRED, [quote_body(EXPIRED, quote, at)], now=now)
        unit.hooks.set_expired_until(now)
        return bool(ended)

    def _tell_quote(
        self, unit: UnitOfWork, found: Happening, hooks: Sequence[Hook], now: datetime
    ) -> None:
        quote = unit.quotes.get(found.quote)
        if quote is not None:
            bodies = [quote_body(found.event, quote, found.at)]
            _add(unit, hooks, found.event, bodies, now=now)

    def _tell_run(
        self, unit: UnitOfWork, found: Happening, hooks: Sequence[Hook], now: datetime
    ) -> bool:
        """Whether there were listings left that the run moves, and some are told."""
        run = 0 if found.run is None else found.run
        rows = unit.hooks.listings_of(run, past=found.reached, limit=AT_ONCE)
        if not rows:
            return False
        self._tell_skus(unit, found, [sku for _, sku in rows], hooks, now=now)
        unit.hooks.reached(found.seq, rows[-1][0])
        return True

    def _tell_listings(
        self, unit: UnitOfWork, found: Happening, hooks: Sequence[Hook], now: datetime
    ) -> None:
        if hooks:
            self._tell_skus(unit, found, found.skus, hooks, now=now)

    def _tell_skus(
        self,
        unit: UnitOfWork,
        found: Happening,
        skus: Sequence[str],
        hooks: Sequence[Hook],
        *,
        now: datetime,
    ) -> None:
        there = unit.listings.find(skus)
        bodies = price_bodies(
            [(sku, there.get(sku)) for sku in skus],
            version=unit.revisions.all().listings,
            unit=self._books.current().currency,
            at=found.at,
        )
        _add(unit, hooks, PRICES, bodies, now=now)


def told_until(unit: UnitOfWork, now: datetime) -> datetime:
    """Up to when quotes that ended were told; before, nobody wanted to know."""
    since = min((hook.since for hook in unit.hooks.all()), default=now)
    return max(unit.hooks.expired_until() or since, since)


def _add(
    unit: UnitOfWork,
    hooks: Iterable[Hook],
    event: HookEvent,
    bodies: Iterable[str],
    *,
    now: datetime,
) -> None:
    bodies = tuple(bodies)
    for hook in hooks:
        unit.hooks.add_messages(
            [
                HookMessage(
                    id=f"msg_{secrets.token_hex(16)}",
                    hook=hook.id,
                    event=event,
                    body=body,
                    created_at=now,
                    due=now,
                )
                for body in bodies
            ]
        )
