"""Decimal money, and the only place where anything is rounded.

Amounts are ``Decimal`` in one currency per document; the currency knows its
minor unit. Full precision is kept inside a computation and figures are rounded
half-up when a cost sheet or a price is presented. Displayed lines are shared
out by largest remainder so that they add up to the displayed total.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from decimal import (
    ROUND_CEILING,
    ROUND_FLOOR,
    ROUND_HALF_EVEN,
    ROUND_HALF_UP,
    Context,
    Decimal,
    DivisionByZero,
    InvalidOperation,
    Overflow,
    localcontext,
)
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from pricing.errors import InvalidInput, Path

ZERO = Decimal(0)
ONE = Decimal(1)
MASS_STEP_G = Decimal("0.0001")
CHANCE_STEP = Decimal("1e-9")
MINUTE_STEP = Decimal("0.01")
RATE_STEP = Decimal("0.0001")
DENSITY_STEP = Decimal("0.001")
LENGTH_STEP_MM = Decimal("0.001")
SIZE_STEP = Decimal("0.01")
SPOT_STEP = Decimal("0.0001")
CONVERTED_STEP = Decimal("0.000001")
RATE_OF_EXCHANGE_STEP = Decimal("1e-9")
HOURS_STEP = Decimal("0.01")

_PLAIN_NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,11})(\.[0-9]{1,9})?", re.ASCII)
_TOO_LARGE = 10**12
_STEPS = {places: ONE.scaleb(-places) for places in (0, 2, 3)}
_MOST_DIGITS = 30
_ARITHMETIC = Context(
    prec=34,
    rounding=ROUND_HALF_EVEN,
    Emin=-999,
    Emax=999,
    traps=[DivisionByZero, InvalidOperation, Overflow],
)


def arithmetic() -> AbstractContextManager[Context]:
    """A fixed Decimal context, so that no caller's own context moves a price."""
    return localcontext(_ARITHMETIC)


@dataclass(frozen=True, slots=True)
class Currency:
    """A sale currency and the number of decimals of its minor unit (ISO 4217)."""

    code: str
    minor_units: int

    @property
    def step(self) -> Decimal:
        """The minor unit as an amount: 0.01 for EUR, 1 for JPY [this currency]."""
        return _STEPS.get(self.minor_units) or ONE.scaleb(-self.minor_units)


@cache
def _minor_units() -> MappingProxyType[str, int]:
    text = files("pricing.catalogue").joinpath("currencies.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines())
    return MappingProxyType({row["code"]: int(row["minor_units"]) for row in rows})


def currency(code: str, *, path: Path = ()) -> Currency:
    """The sale currency of an ISO 4217 code.

    Raises:
        InvalidInput: no such code, or an X-code (metals, testing), in which
            nothing is sold.

    >>> currency("EUR")
    Currency(code='EUR', minor_units=2)
    """
    places = _minor_units().get(code)
    if places is None:
        raise InvalidInput(
            f"'{code}' is not a currency that things are sold in; "
            "use an ISO 4217 code such as EUR, USD or JPY",
            path=path,
        )
    return Currency(code, places)


def exact_decimal(value: object, *, path: Path = ()) -> Decimal:
    """A Decimal from a plain decimal text, an int or a Decimal; never rounded.

    Up to 12 digits before the point and 9 after it, ASCII only, no exponent,
    no sign but a leading minus, no blanks.

    Raises:
        InvalidInput: anything else, floats and booleans included.

    >>> exact_decimal("27.50")
    Decimal('27.50')
    """
    text = value if isinstance(value, str) else _spelled(value)
    if text is None:
        raise InvalidInput(
            f'{value!r} is not an exact number; write it as text, such as "1.50"',
            path=path,
        )
    if not _PLAIN_NUMBER.fullmatch(text):
        raise InvalidInput(
            f"'{text[:40]}' is not a plain decimal number; write it like \"27.50\": "
            "digits, one point, at most 12 before it and 9 after it",
            path=path,
        )
    number = Decimal(text)
    return number or ZERO


def _spelled(value: object) -> str | None:
    """A whole number or Decimal in digits; None for anything else.

    What cannot be a plain number is not written out: it could fill the memory.
    """
    if isinstance(value, bool) or not isinstance(value, Decimal | int):
        return None
    if isinstance(value, int):
        return str(value) if abs(value) < _TOO_LARGE else "a number too large"
    small = value.is_finite() and abs(value.adjusted()) < _MOST_DIGITS
    return format(value, "f") if small else "a number too large or too small"


def half_up(value: Decimal, step: Decimal) -> Decimal:
    """``value`` rounded half-up to the decimal place of ``step``, a power of ten.

    >>> half_up(Decimal("2.675"), Decimal("0.01"))
    Decimal('2.68')
    """
    rounded = value.quantize(step, ROUND_HALF_UP)
    return rounded or abs(rounded)


def amount(value: Decimal, unit: Currency) -> Decimal:
    """``value`` rounded half-up to the minor unit of ``unit`` [that currency]."""
    return half_up(value, unit.step)


def chance(value: float) -> Decimal:
    """A probability or a number of visits at 1e-9, where it enters money."""
    return half_up(Decimal(value), CHANCE_STEP)


def mass_g(value: float | Decimal) -> Decimal:
    """A mass at 0.1 mg, where it enters money [g]."""
    return half_up(Decimal(value), MASS_STEP_G)


def length_mm(value: float | Decimal) -> Decimal:
    """A length at 0.001 mm [mm]."""
    return half_up(Decimal(value), LENGTH_STEP_MM)


def sizes(value: float | Decimal) -> Decimal:
    """A ring size or a number of sizes at 0.01 [US sizes]."""
    return half_up(Decimal(value), SIZE_STEP)


def minutes(value: Decimal) -> Decimal:
    """Bench time at 0.01 min [min]."""
    return half_up(value, MINUTE_STEP)


def shown(value: Decimal, step: Decimal) -> str:
    """``value`` as plain text, half-up at the decimal place of ``step``.

    >>> shown(Decimal("31.1034768"), Decimal("0.0001"))
    '31.1035'
    """
    return format(half_up(value, step), "f")


def trimmed(value: Decimal) -> str:
    """``value`` as plain text at up to four decimals, without trailing zeros.

    >>> trimmed(Decimal("2.400")), trimmed(Decimal("100"))
    ('2.4', '100')
    """
    text = shown(value, RATE_STEP)
    return text.rstrip("0").rstrip(".")


def tidy(value: Decimal, *, places: int = 2) -> Decimal:
    """``value`` with at least ``places`` [count] decimals and no zeros beyond them.

    >>> tidy(Decimal("27.500000")), tidy(Decimal("27.1234")), tidy(Decimal(27))
    (Decimal('27.50'), Decimal('27.1234'), Decimal('27.00'))
    """
    exponent = value.normalize().as_tuple().exponent
    return value.quantize(ONE.scaleb(min(int(exponent), -places)))


def converted(value: Decimal) -> Decimal:
    """A spot price in another currency, at 1e-6, so that it can be shown whole.

    >>> converted(Decimal(30) / 7), converted(Decimal("24.000000"))
    (Decimal('4.285714'), Decimal('24.00'))
    """
    return tidy(half_up(value, CONVERTED_STEP))


def exchange_rate(value: Decimal) -> Decimal:
    """The price of one unit of a currency in another, at 1e-9.

    >>> exchange_rate(1 / Decimal("1.25")), exchange_rate(1 / Decimal(3))
    (Decimal('0.80'), Decimal('0.333333333'))
    """
    return tidy(half_up(value, RATE_OF_EXCHANGE_STEP))


def hours_at_most(value: float) -> Decimal:
    """A promised time at 0.01 h, never longer than ``value`` [h]."""
    return down(Decimal(value), HOURS_STEP)


def brief(value: Decimal) -> str:
    """``value`` in a sentence, short whatever it is: seven significant digits.

    >>> brief(Decimal("27.3710595840")), brief(Decimal("27.5")), brief(Decimal(27500))
    ('27.37106', '27.50', '27500.00')
    """
    text = f"{value:.7g}"
    if not value.is_finite() or abs(value.adjusted()) > _MOST_DIGITS // 2:
        return text
    return format(tidy(Decimal(text)), "f")


def percent(rate: Decimal) -> str:
    """A share of one as a person writes it.

    >>> percent(Decimal("0.019"))
    '1.9 %'
    """
    return f"{trimmed(rate * 100)} %"


def down(value: Decimal, step: Decimal) -> Decimal:
    """``value`` rounded towards minus infinity at the decimal place of ``step``."""
    return value.quantize(step, ROUND_FLOOR)


def grid_ceiling(value: Decimal, step: Decimal, offset: Decimal) -> Decimal:
    """Smallest k·step + offset that is not below ``value``, for a whole k.

    >>> grid_ceiling(Decimal("86.20"), Decimal("5.00"), Decimal("-0.05"))
    Decimal('89.95')
    """
    steps = ((value - offset) / step).to_integral_value(ROUND_CEILING)
    return steps * step + offset


def share_out(parts: Sequence[Decimal], unit: Currency) -> tuple[Decimal, ...]:
    """Round ``parts`` so that they add up to their rounded sum (largest remainder).

    Every part is rounded down to the minor unit; the units still missing go to
    the largest remainders, the earlier part first among equals.

    Args:
        parts: exact amounts [currency].
        unit: the currency whose minor unit is the step.

    Returns:
        One rounded amount a part, in the same order [currency].

    >>> share_out([Decimal(100) / 3] * 3, currency("EUR"))
    (Decimal('33.34'), Decimal('33.33'), Decimal('33.33'))
    """
    step = unit.step
    floors = [down(part, step) for part in parts]
    missing = int((amount(sum(parts, ZERO), unit) - sum(floors, ZERO)) / step)
    by_remainder = sorted(range(len(parts)), key=lambda i: (floors[i] - parts[i], i))
    for i in by_remainder[:missing]:
        floors[i] += step
    return tuple(part or abs(part) for part in floors)
