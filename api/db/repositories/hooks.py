"""Hooks, what there is to tell, and the messages made of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from sqlalchemy import Connection, delete, func, insert, select, update

from api.db.hook_mapping import (
    happening_of,
    happening_values,
    hook_of,
    hook_values,
    message_of,
    message_values,
    waiting_of,
)
from api.db.hook_tables import happenings, hook_messages, hooks
from api.db.quote_mapping import stored_quote
from api.db.repositories.hook_lease import HookLease
from api.db.repositories.hook_waiting import all_waiting
from api.db.repositories.in_parts import in_parts
from api.db.tables import listings, quotes, repricing_bands
from api.ports import StoredQuote
from api.ports.hooks import Happening, Hook, HookMessage, Waiting


class HookRepository(HookLease):
    """Hooks as of one transaction."""

    def __init__(self, connection: Connection) -> None:
        super().__init__(connection)
        self._connection = connection

    def all(self) -> tuple[Hook, ...]:
        """Every hook, oldest first."""
        query = select(hooks).order_by(hooks.c.seq)
        return tuple(hook_of(row) for row in self._connection.execute(query))

    def get(self, hook_id: str) -> Hook | None:
        """The hook of this id."""
        query = select(hooks).where(hooks.c.id == hook_id)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else hook_of(row)

    def add(self, hook: Hook) -> None:
        """Store a new hook."""
        self._connection.execute(insert(hooks), hook_values(hook))

    def replace(self, hook: Hook, *, expected: int) -> bool:
        """Whether the hook was there at version ``expected`` and is replaced."""
        here = (hooks.c.id == hook.id) & (hooks.c.version == expected)
        values = hook_values(hook) | {"version": expected + 1}
        change = update(hooks).where(here).values(values).returning(hooks.c.seq)
        return self._connection.execute(change).one_or_none() is not None

    def remove(self, hook_id: str, *, expected: int) -> bool:
        """Whether the hook was there at that version and is gone with its messages."""
        here = (hooks.c.id == hook_id) & (hooks.c.version == expected)
        there = self._connection.execute(select(hooks.c.seq).where(here)).one_or_none()
        if there is None:
            return False
        of_hook = hook_messages.c.hook == hook_id
        self._connection.execute(delete(hook_messages).where(of_hook))
        self._connection.execute(delete(hooks).where(here))
        return True

    def note(self, happening: Happening) -> None:
        """Write down something to be told."""
        self._connection.execute(insert(happenings), happening_values(happening))

    def next_happening(self) -> Happening | None:
        """The oldest that is not told yet."""
        query = select(happenings).order_by(happenings.c.seq).limit(1)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else happening_of(row)

    def reached(self, seq: int, listing: int) -> None:
        """It is told up to this listing."""
        change = update(happenings).where(happenings.c.seq == seq)
        self._connection.execute(change.values(reached=listing))

    def forget_happening(self, seq: int) -> None:
        """It is told."""
        self._connection.execute(delete(happenings).where(happenings.c.seq == seq))

    def listings_of(
        self, run: int, *, past: int, limit: int
    ) -> tuple[tuple[int, str], ...]:
        """Published listings whose prices a run moves: ``seq`` and sku, in order."""
        bands = repricing_bands.c
        moved = select(bands.listing).where(
            bands.run == run, bands.listing == listings.c.seq, bands.moves
        )
        query = (
            select(listings.c.seq, listings.c.sku)
            .where(
                listings.c.seq > past,
                listings.c.published,
                listings.c.removed_at.is_(None),
                moved.exists(),
            )
            .order_by(listings.c.seq)
            .limit(limit)
        )
        return tuple((row.seq, row.sku) for row in self._connection.execute(query))

    def expired(self, *, after: datetime, until: datetime) -> tuple[StoredQuote, ...]:
        """Open quotes whose time ended after the one moment and by the other."""
        query = (
            select(quotes)
            .where(
                quotes.c.status == "open",
                quotes.c.valid_until > after,
                quotes.c.valid_until <= until,
            )
            .order_by(quotes.c.valid_until, quotes.c.seq)
        )
        return tuple(stored_quote(row) for row in self._connection.execute(query))

    def add_messages(self, messages: Sequence[HookMessage]) -> None:
        """Store messages; they are sent in the order given."""
        for message in messages:  # one by one, so that their places rise
            self._connection.execute(insert(hook_messages), message_values(message))

    def get_message(self, message_id: str) -> HookMessage | None:
        """The message of this id."""
        query = select(hook_messages).where(hook_messages.c.id == message_id)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else message_of(row)

    def heads(self) -> tuple[HookMessage, ...]:
        """Of each hook the waiting message that is to be sent before its others."""
        firsts = (
            select(func.min(hook_messages.c.seq))
            .where(hook_messages.c.status == "waiting")
            .group_by(hook_messages.c.hook)
        )
        query = (
            select(hook_messages)
            .where(hook_messages.c.seq.in_(firsts))
            .order_by(hook_messages.c.seq)
        )
        return tuple(message_of(row) for row in self._connection.execute(query))

    def waiting(self) -> Mapping[str, Waiting]:
        """What waits, by the id of its hook; nothing where nothing does."""
        rows = self._connection.execute(all_waiting())
        return {row.hook: waiting_of(row) for row in rows}

    def tried(self, message: HookMessage) -> None:
        """Write down what came of a try."""
        change = update(hook_messages).where(hook_messages.c.id == message.id)
        self._connection.execute(change.values(message_values(message)))

    def fail_waiting(self, hook_id: str, reason: str) -> int:
        """Give up all that waits for a hook; how many there were [count]."""
        table = hook_messages.c
        change = (
            update(hook_messages)
            .where(table.hook == hook_id, table.status == "waiting")
            .values(status="failed", reason=reason)
            .returning(table.seq)
        )
        return len(self._connection.execute(change).all())

    def failures(self, hook_id: str, *, limit: int) -> tuple[HookMessage, ...]:
        """Messages that were given up, oldest first."""
        table = hook_messages.c
        query = (
            select(hook_messages)
            .where(table.hook == hook_id, table.status == "failed")
            .order_by(table.seq)
            .limit(limit)
        )
        return tuple(message_of(row) for row in self._connection.execute(query))

    def again(self, hook_id: str, ids: Collection[str] | None, *, now: datetime) -> int:
        """Let failed messages, or all of them, wait again; how many [count]."""
        table = hook_messages.c
        change = (
            update(hook_messages)
            .where(table.hook == hook_id, table.status == "failed")
            .values(status="waiting", tries=0, due=now, answered=None, reason="")
            .returning(table.seq)
        )
        if ids is None:
            return len(self._connection.execute(change).all())
        return sum(
            len(self._connection.execute(change.where(table.id.in_(part))).all())
            for part in in_parts(ids)
        )

    def forget(self, *, before: datetime) -> None:
        """Drop messages that were delivered or given up before."""
        old = (hook_messages.c.status != "waiting") & (hook_messages.c.due < before)
        self._connection.execute(delete(hook_messages).where(old))
