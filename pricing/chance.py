"""How likely a stage is to fail: a rate that is given, or what the counts say.

``failed`` of ``tried`` leaves the chance itself uncertain. With Jeffreys'
prior Beta(½, ½) [1] it is spread as Beta(failed + ½, tried − failed + ½), so a
stage that has not failed yet is still not taken to be perfect, and a stage
never tried counts as one half.

References:
    [1] L. D. Brown, T. T. Cai and A. DasGupta, "Interval Estimation for a
        Binomial Proportion", Statistical Science 16 (2001): the Jeffreys
        interval, advised for small counts (from memory). The limits are checked
        against statsmodels in tests/reference.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from scipy.special import betaincinv

from pricing import money
from pricing.errors import InvalidInput, Path
from pricing.money import ONE, ZERO
from pricing.price_book.bench import Chance

LOW_TAIL = 0.025
HIGH_TAIL = 0.975


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceEstimate:
    """A chance at one visit, and how sure the counts make it.

    Attributes:
        value: the chance to reckon with [fraction].
        low, high: limits of the 95 % Jeffreys interval [fraction]; None for a
            given rate.
        tried, failed: the counts [pieces]; None for a given rate.
    """

    value: Decimal
    low: Decimal | None = None
    high: Decimal | None = None
    tried: int | None = None
    failed: int | None = None


def estimated_chance(
    chance: Chance, *, prudence: Decimal | None = None, path: Path = ()
) -> ChanceEstimate:
    """The chance to price with: a given rate, or an estimate from counts.

    value = (failed + ½) / (tried + 1), or with ``prudence`` the quantile of
    Beta(failed + ½, tried − failed + ½) at it; a given rate stays what it is.

    Args:
        chance: a rate [fraction] or counts [pieces].
        prudence: quantile to price counts at [fraction], above 0 and below 1;
            None prices at the mean.
        path: where the chance stands in the document it came from.

    Raises:
        InvalidInput: a rate outside 0 to 1, counts that are missing, negative
            or failed > tried, or a prudence not between 0 and 1.

    >>> estimated_chance(Chance(tried=140, failed=3)).value
    Decimal('0.024822695')
    >>> estimated_chance(Chance(rate=Decimal("0.02"))).value
    Decimal('0.02')
    """
    if prudence is not None and not ZERO < prudence < ONE:
        raise InvalidInput(
            f"prudence is {prudence}; give a quantile above 0 and below 1, such as "
            "0.80, or leave it out to price at the mean",
            path=("prudence",),
        )
    if chance.rate is not None:
        return _given(chance.rate, path)
    tried, failed = _counts(chance, path)
    return _counted(tried, failed, prudence)


def _given(rate: Decimal, path: Path) -> ChanceEstimate:
    if not ZERO <= rate <= ONE:
        raise InvalidInput(
            f"the rate is {rate}; give a fraction from 0 to 1, such as 0.02 for 2 %",
            path=(*path, "rate"),
        )
    return ChanceEstimate(value=rate)


def _counts(chance: Chance, path: Path) -> tuple[int, int]:
    tried, failed = chance.tried, chance.failed
    if tried is None or failed is None:
        raise InvalidInput(
            "a chance needs either a rate or both counts, tried and failed", path=path
        )
    if not 0 <= failed <= tried:
        raise InvalidInput(
            f"{failed} failed of {tried} tried is not a count; failed goes from 0 "
            "to tried",
            path=(*path, "failed"),
        )
    return tried, failed


def _counted(tried: int, failed: int, prudence: Decimal | None) -> ChanceEstimate:
    shape = failed + 0.5, tried - failed + 0.5

    def quantile(share: float) -> Decimal:
        return money.chance(float(betaincinv(*shape, share)))

    mean = money.chance(shape[0] / (tried + 1))
    return ChanceEstimate(
        value=mean if prudence is None else quantile(float(prudence)),
        low=quantile(LOW_TAIL),
        high=quantile(HIGH_TAIL),
        tried=tried,
        failed=failed,
    )
