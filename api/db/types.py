"""Column types that give back exactly what was put in, on both databases.

SQLite keeps `NUMERIC` as binary floating point and drops time zones, so neither
is used: decimals are stored as whole multiples of a power of ten, and times are
stored in UTC and come back aware.
"""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

from sqlalchemy import BigInteger, DateTime, Dialect, Integer, Text
from sqlalchemy.types import TypeDecorator

LARGEST = 2**63 - 1
PRICE_SCALE = 9
"""Decimal places of a stored price: enough for a small currency in a large one."""

Identity64 = BigInteger().with_variant(Integer(), "sqlite")
"""A row id: SQLite only hands out ids itself for a column called INTEGER."""

ByBytes = Text().with_variant(Text(collation="C"), "postgresql")
"""A text in the order of its bytes, which is SQLite's order already."""


def scaled(value: Decimal, scale: int) -> int:
    """The whole multiple of 10^−scale. Raises ValueError where there is none."""
    if not isinstance(value, Decimal) or not value.is_finite():
        raise ValueError(f"{value!r} is not a finite Decimal")
    above, below = value.as_integer_ratio()  # exact, whatever the context
    whole, rest = divmod(above * int(10**scale), below)
    if rest or abs(whole) > LARGEST:
        raise ValueError(f"{value} does not fit {scale} decimal places")
    return whole


def unscaled(value: int, scale: int) -> Decimal:
    """The decimal of a whole multiple of 10^−scale, with all its places."""
    return Decimal(f"{value}E-{scale}")


class ScaledDecimal(TypeDecorator[Decimal]):
    """A decimal with a fixed number of places, kept as a BIGINT.

    Sorting and adding work in the database. A value with more places than the
    column has is refused, never rounded.
    """

    impl = BigInteger
    cache_ok = True

    def __init__(self, scale: int) -> None:
        super().__init__()
        self.scale = scale

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:
        """The whole multiple of 10^−scale. Raises ValueError where there is none."""
        del dialect
        return None if value is None else scaled(value, self.scale)

    def process_result_value(
        self, value: int | None, dialect: Dialect
    ) -> Decimal | None:
        """The decimal, with all its places."""
        del dialect
        return None if value is None else unscaled(value, self.scale)


class UtcDateTime(TypeDecorator[datetime]):
    """An instant: goes in with any offset, comes back in UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(
        self, value: datetime | None, dialect: Dialect
    ) -> datetime | None:
        """The instant in UTC. Raises ValueError for a time without an offset."""
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError(f"{value} has no offset from UTC")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(
        self, value: datetime | None, dialect: Dialect
    ) -> datetime | None:
        """The instant, aware and in UTC."""
        if value is None:
            return None
        if dialect.name == "sqlite":
            return value.replace(tzinfo=UTC)
        return value.astimezone(UTC)
