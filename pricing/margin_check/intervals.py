"""How far a count or a mean can be trusted: exact test and 95 % intervals.

References:
    [1] The two-sided exact binomial test sums the chances of all outcomes that are
        no more likely than the one seen (the method of small p-values). Outcomes
        within 1e-7 of equally likely count as equal, as scipy.stats.binomtest has
        it; checked against it in tests/reference.
    [2] C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits
        illustrated in the case of the binomial", Biometrika 26 (1934): the exact
        interval from quantiles of the beta distribution (from memory).
    [3] E. B. Wilson, "Probable inference, the law of succession, and statistical
        inference", JASA 22 (1927); the limits are those of the NIST/SEMATECH
        e-Handbook, 7.2.4.1.
    [4] Student's t interval of a mean (from memory; checked against scipy.stats in
        tests/reference).
"""

from __future__ import annotations

from decimal import Decimal
from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, gammaln, ndtri, stdtrit, xlog1py, xlogy

from pricing import money
from pricing.chance import estimated_chance
from pricing.errors import InvalidInput
from pricing.money import ONE, ZERO
from pricing.price_book import Chance

CONFIDENCE = Decimal("0.95")

_EQUALLY_LIKELY = 1 + 1e-7
_FIGURE_STEP = Decimal("0.000001")


class Interval(NamedTuple):
    """Where a figure lies, most likely: from ``low`` to ``high`` [its own unit]."""

    low: Decimal
    high: Decimal


def exact_binomial_p(failed: int, tried: int, *, chance: Decimal) -> float:
    """How likely a count as odd as this one is, if each try fails with ``chance``.

    p = Σ P(k) over all k of 0 … tried with P(k) ≤ P(failed); see [1].

    Args:
        failed: seen to fail [tries].
        tried: all of them [tries].
        chance: that a try fails, as the book has it [fraction].

    Returns:
        The two-sided p-value [fraction].

    Raises:
        InvalidInput: failed is not from 0 to tried, or the chance not from 0 to 1.

    >>> f"{exact_binomial_p(4, 20, chance=Decimal('0.05')):.4f}"
    '0.0159'
    """
    _check_count(failed, tried)
    if not ZERO <= chance <= ONE:
        raise InvalidInput(
            f"the chance is {chance}; give a fraction from 0 to 1", path=("chance",)
        )
    likely = _binomial(tried, float(chance))
    odd = likely[likely <= likely[failed] * _EQUALLY_LIKELY]
    return min(1.0, float(odd.sum()))


def _binomial(tried: int, chance: float) -> NDArray[np.float64]:
    """Chance of each number of failures from none to all."""
    k = np.arange(tried + 1)
    ways = gammaln(tried + 1) - gammaln(k + 1) - gammaln(tried - k + 1)
    logs = ways + xlogy(k, chance) + xlog1py(tried - k, -chance)
    return np.asarray(np.exp(logs), dtype=np.float64)


def clopper_pearson(
    failed: int, tried: int, *, confidence: Decimal = CONFIDENCE
) -> Interval:
    """The exact interval of a chance, which never covers too little; see [2].

    low is the quantile of Beta(failed, tried − failed + 1) at half of what is left
    out, high that of Beta(failed + 1, tried − failed) at the other end.

    Args:
        failed: seen to fail [tries].
        tried: all of them, at least one [tries].
        confidence: how often it has to cover [fraction].

    Raises:
        InvalidInput: failed is not from 0 to tried, or nothing was tried.
    """
    _check_count(failed, tried, least=1)
    tail = float(ONE - confidence) / 2
    low = betaincinv(failed, tried - failed + 1, tail) if failed else 0.0
    passed = tried - failed
    high = betaincinv(failed + 1, passed, 1 - tail) if passed else 1.0
    return Interval(money.chance(float(low)), money.chance(float(high)))


def wilson(failed: int, tried: int, *, confidence: Decimal = CONFIDENCE) -> Interval:
    """The score interval of a chance, which covers on average as it says; see [3].

    Args:
        failed: seen to fail [tries].
        tried: all of them, at least one [tries].
        confidence: how often it has to cover [fraction].

    Raises:
        InvalidInput: failed is not from 0 to tried, or nothing was tried.
    """
    _check_count(failed, tried, least=1)
    z = float(ndtri(0.5 + float(confidence) / 2))
    share, spread = failed / tried, z * z / tried
    middle = (share + spread / 2) / (1 + spread)
    half = z * sqrt(share * (1 - share) / tried + spread / tried / 4) / (1 + spread)
    low = 0.0 if not failed else middle - half
    high = 1.0 if failed == tried else middle + half
    return Interval(money.chance(low), money.chance(high))


def jeffreys(failed: int, tried: int) -> Interval:
    """The 95 % interval that the price book's own counts have, see ``pricing.chance``.

    Args:
        failed: seen to fail [tries].
        tried: all of them [tries].

    Raises:
        InvalidInput: failed is not from 0 to tried.
    """
    found = estimated_chance(Chance(tried=tried, failed=failed))
    return Interval(found.low or ZERO, found.high or ZERO)


def mean_interval(
    n: int, total: Decimal, total_sq: Decimal, *, confidence: Decimal = CONFIDENCE
) -> Interval:
    """The interval of a mean from sums: x̄ ± t(n − 1) · s / √n; see [4].

    Args:
        n: values, at least two [count].
        total: their sum [any unit].
        total_sq: the sum of their squares [that unit squared].
        confidence: how often it has to cover [fraction].

    Raises:
        InvalidInput: under two values.

    >>> mean_interval(4, Decimal(10), Decimal(30))
    Interval(low=Decimal('0.445740'), high=Decimal('4.554260'))
    """
    if n < 2:  # noqa: PLR2004  a spread needs two
        raise InvalidInput(
            f"{n} values have no spread; an interval of a mean needs at least 2",
            path=("n",),
        )
    with money.arithmetic():
        mean = total / n
        squares = max(ZERO, total_sq - n * mean * mean)
    reach = float(stdtrit(n - 1, 0.5 + float(confidence) / 2))
    half = Decimal(reach * sqrt(float(squares) / (n - 1) / n))
    return Interval(
        money.half_up(mean - half, _FIGURE_STEP),
        money.half_up(mean + half, _FIGURE_STEP),
    )


def _check_count(failed: int, tried: int, *, least: int = 0) -> None:
    if not (0 <= failed <= tried and tried >= least):
        raise InvalidInput(
            f"{failed} failed of {tried} tried is no count to judge by; failed goes "
            f"from 0 to tried, which is at least {least}",
            path=("failed",),
        )
