"""Repricings that nobody sees: being filled, or let go; the storage's part of it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, insert

from api.db.mapping import Values
from api.db.repositories.repricing_cases import add_cases
from api.db.repositories.repricing_filling import (
    FILLING,
    drop_chunk,
    end_filling,
    expendable,
    fill_chunk,
    left_behind,
    let_go,
)
from api.db.repricing_mapping import repricing_values
from api.db.repricing_tables import repricings
from api.ports import Filled, Repricing, RepricingCase


class UnseenRepricings:
    """The repricings of one transaction, as far as nobody sees them."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def begin_filling(
        self, run: Repricing, cases: Sequence[RepricingCase]
    ) -> Repricing:
        """The same, seen by nobody until `end_filling`."""
        unseen = {"status": FILLING, "reached_at": run.created_at}
        return self.added(run, cases, repricing_values(run) | unseen)

    def fill_chunk(
        self, run: int, *, after: int, size: int, at: datetime
    ) -> Filled | None:
        """Give the run the next ``size`` bands or a few more, from whole listings."""
        return fill_chunk(self._connection, run, after=after, size=size, at=at)

    def end_filling(self, run: Repricing) -> Repricing | None:
        """The run as a preview that all can see; None unless it is being filled."""
        return end_filling(self._connection, run.seq)

    def left_behind(self, before: datetime) -> tuple[int, ...]:
        """Runs whose filling gave no sign of life since a moment."""
        return left_behind(self._connection, before)

    def drop_chunk(self, run: int, *, size: int) -> bool:
        """Drop ``size`` bands or a few more of a run that is being filled."""
        return drop_chunk(self._connection, run, size=size)

    def expendable(
        self, *, before: datetime, keep: int, limit: int
    ) -> tuple[Repricing, ...]:
        """Previews made before a moment, or not among the newest ``keep`` [count]."""
        return expendable(self._connection, before=before, keep=keep, limit=limit)

    def let_go(self, runs: Collection[int], *, at: datetime) -> None:
        """Let nobody see these any more, if they are previews."""
        let_go(self._connection, runs, at)

    def added(
        self, run: Repricing, cases: Sequence[RepricingCase], values: Values
    ) -> Repricing:
        """Store a run with these columns, and its cases."""
        added = insert(repricings).values(**values).returning(repricings.c.seq)
        seq: int = self._connection.execute(added).scalar_one()
        add_cases(self._connection, seq, cases)
        return replace(run, seq=seq)
