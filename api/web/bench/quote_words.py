"""What the pages of quotes call the things of an estimate, for whoever reads them."""

from __future__ import annotations

import re
from collections.abc import Mapping

_ADVICE = re.compile("[;.] [Ee]nter ")
"""Where a refusal begins to tell programs what to do."""

RULES: Mapping[str, str] = {
    "target_margin": "the target margin",
    "markup": "the markup",
    "multipliers": "the multipliers",
    "min_hourly": "the least earned an hour",
    "min_price": "the least price",
    "rounding": "the first price on the grid",
    "given": "the price it has in the shop",
}
"""Which rule set a price, as it ends a sentence."""

KINDS: Mapping[str, str] = {
    "coin": "Coin",
    "labour": "Bench time",
    "overhead": "Overhead",
    "consumable": "Materials",
    "tool": "Tool wear",
    "extra": "Extras",
    "packaging": "Packaging",
    "after_sale": "After the sale",
    "recovery": "Recovery",
}
"""Kinds of cost line, short enough to stand in the strip."""

STATES: Mapping[str, tuple[str, str]] = {
    "open": ("open", "wait"),
    "accepted": ("accepted", "good"),
    "declined": ("declined", ""),
    "expired": ("expired", "bad"),
    "renewed": ("renewed", ""),
}
"""What a quote's status is called, and the kind of its tag."""

SYSTEMS = (
    ("us", "US and Canada"),
    ("uk", "UK and Ireland"),
    ("iso", "ISO 8653: inside circumference, mm"),
    ("jp", "Japan"),
    ("ch", "Switzerland, Italy, Spain, Netherlands"),
    ("diameter_mm", "Inside diameter, mm"),
    ("circumference_mm", "Inside circumference, mm"),
)
"""Systems of finger sizes, by the name the wire has for them."""

HOME_SYSTEMS: Mapping[str, str] = {
    "US": "us",
    "CA": "us",
    "GB": "uk",
    "IE": "uk",
    "AU": "uk",
    "NZ": "uk",
    "ZA": "uk",
    "JP": "jp",
    "CH": "ch",
    "IT": "ch",
    "ES": "ch",
    "NL": "ch",
    "AT": "iso",
    "DE": "iso",
    "FR": "iso",
}
"""The system that is usual in a country; common practice, no source."""


def without_spot(refusal: str) -> str:
    """Why there is no spot to price with, and what to do about it on these pages.

    >>> without_spot("no spot price of XAG is in force; enter one with …")
    'No spot price of XAG is in force. Enter one on the page Spot, or type one here.'
    """
    why = _ADVICE.split(refusal)[0]
    said = f"{why[:1].upper()}{why[1:]}"
    return f"{said}. Enter one on the page Spot, or type one here."
