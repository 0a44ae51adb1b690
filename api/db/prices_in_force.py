"""Which of a band's two prices is in force: said here and nowhere else.

It is the one in the slot ``next`` if its run is applied, and otherwise the one in the
slot ``price``. So a run's prices come into force, and go again, with its status.
"""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy import ColumnElement, Select, case, select

from api.db.listing_tables import listing_bands as bands
from api.db.repricing_tables import repricings


def applied_runs() -> Select[tuple[int]]:
    """The runs whose prices are in force where no later one's are."""
    runs = repricings.alias("applied_runs")  # whatever else is asked of the table
    return select(runs.c.seq).where(runs.c.status == "applied")


def next_counts() -> ColumnElement[bool]:
    """Whether the slot ``next`` of a band is the one in force."""
    return bands.c.next_run.in_(applied_runs())


def price_in_force() -> ColumnElement[Decimal]:
    """The price of a band [currency]."""
    return case((next_counts(), bands.c.next_price), else_=bands.c.price)


def run_in_force() -> ColumnElement[int | None]:
    """The run that a band's price comes from; NULL where it was entered."""
    return case((next_counts(), bands.c.next_run), else_=bands.c.price_run)
