"""Recorded prices: added, read, decided once, never changed otherwise."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from sqlalchemy import (
    ColumnElement,
    Connection,
    Subquery,
    and_,
    func,
    insert,
    or_,
    select,
    update,
)

from api.db.mapping import close, spot_entry, spot_values
from api.db.tables import spot_prices as spots
from api.ports import MANUAL, Close, Decision, Series, SpotEntry, SpotStatus

_ACCEPTED = spots.c.status == "accepted"
_LASTING = _ACCEPTED & spots.c.expires_at.is_(None)


class SpotRepository:
    """The prices of one transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, entry: SpotEntry) -> SpotEntry:
        """The entry with the id it was given; ids rise."""
        added = insert(spots).values(**spot_values(entry)).returning(spots.c.id)
        return replace(entry, id=self._connection.execute(added).scalar_one())

    def get(self, entry_id: int) -> SpotEntry | None:
        """The entry of this id, or None."""
        return self._first(spots.c.id == entry_id)

    def candidates(self, now: datetime) -> tuple[SpotEntry, ...]:
        """What can be in force from ``now`` on, newest entry first."""
        newest, last = _newest_lasting(), _last_by_hand()
        query = (
            select(spots)
            .outerjoin(newest, _same_pair(newest))
            .outerjoin(last, _same_pair(last))
            .where(
                _ACCEPTED,
                or_(
                    spots.c.expires_at > now,
                    _LASTING & (spots.c.as_of == newest.c.as_of),
                    _LASTING & (spots.c.id == last.c.id),
                ),
            )
            .order_by(spots.c.id.desc())
        )
        return tuple(spot_entry(row) for row in self._connection.execute(query))

    def history(
        self,
        metal: str,
        *,
        limit: int,
        before: int | None,
        status: SpotStatus | None = None,
    ) -> tuple[SpotEntry, ...]:
        """Newest first, at most ``limit``, with ids under ``before``."""
        query = select(spots).where(spots.c.metal == metal)
        if before is not None:
            query = query.where(spots.c.id < before)
        if status is not None:
            query = query.where(spots.c.status == status)
        query = query.order_by(spots.c.id.desc()).limit(limit)
        return tuple(spot_entry(row) for row in self._connection.execute(query))

    def decide(self, entry_id: int, decision: Decision) -> bool:
        """Whether the entry was there and held, and is decided now."""
        waiting = (spots.c.id == entry_id) & (spots.c.status == "held")
        change = update(spots).where(waiting)
        change = change.values(
            status=decision.status, decided_by=decision.by, decided_at=decision.at
        )
        return self._connection.execute(change).rowcount == 1

    def newest(self, series: Series) -> SpotEntry | None:
        """The newest accepted entry by ``as_of``."""
        return self._first(_ACCEPTED & _of(series))

    def recorded(
        self, series: Series, *, as_of: datetime, price: Decimal
    ) -> SpotEntry | None:
        """The last entry of that very moment and price, whatever became of it."""
        same = (spots.c.as_of == as_of) & (spots.c.price == price)
        return self._first(_of(series) & same)

    def unmoved_since(self, series: Series, price: Decimal) -> datetime | None:
        """Since when every accepted entry has this price; None if the last has not."""
        accepted = _ACCEPTED & _of(series)
        moved = select(func.max(spots.c.as_of)).where(accepted, spots.c.price != price)
        last_moved = self._connection.execute(moved).scalar_one()
        since = select(func.min(spots.c.as_of)).where(accepted)
        if last_moved is not None:
            since = since.where(spots.c.as_of > last_moved)
        found: datetime | None = self._connection.execute(since).scalar_one()
        return found

    def closes(self, metal: str, *, since: datetime) -> tuple[Close, ...]:
        """The last accepted price of each day (UTC) and currency, oldest first."""
        wanted = _ACCEPTED & (spots.c.metal == metal) & (spots.c.as_of >= since)
        place = func.row_number().over(
            partition_by=(spots.c.currency, self._day()),
            order_by=(spots.c.as_of.desc(), spots.c.id.desc()),
        )
        columns = (spots.c.currency, spots.c.as_of, spots.c.price)
        ranked = select(*columns, place.label("place")).where(wanted).subquery()
        query = select(ranked).where(ranked.c.place == 1).order_by(ranked.c.as_of)
        return tuple(close(row) for row in self._connection.execute(query))

    def _day(self) -> ColumnElement[object]:
        # PostgreSQL would take the day in the time zone of the connection.
        if self._connection.dialect.name == "sqlite":
            return func.date(spots.c.as_of)
        return func.date(func.timezone("UTC", spots.c.as_of))

    def _first(self, condition: ColumnElement[bool]) -> SpotEntry | None:
        order = (spots.c.as_of.desc(), spots.c.id.desc())
        query = select(spots).where(condition).order_by(*order).limit(1)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else spot_entry(row)


def _of(series: Series) -> ColumnElement[bool]:
    pair = (spots.c.metal == series.metal) & (spots.c.currency == series.currency)
    return pair & (spots.c.source == series.source) if series.source else pair


def _newest_lasting() -> Subquery:
    """The latest ``as_of`` of each metal and currency."""
    pair = (spots.c.metal, spots.c.currency)
    latest = func.max(spots.c.as_of).label("as_of")
    return select(*pair, latest).where(_LASTING).group_by(*pair).subquery()


def _last_by_hand() -> Subquery:
    """The last entry by hand of each metal and currency that never expires."""
    pair = (spots.c.metal, spots.c.currency)
    by_hand = _LASTING & (spots.c.source == MANUAL)
    latest = func.max(spots.c.id).label("id")
    return select(*pair, latest).where(by_hand).group_by(*pair).subquery()


def _same_pair(other: Subquery) -> ColumnElement[bool]:
    return and_(other.c.metal == spots.c.metal, other.c.currency == spots.c.currency)
