"""A first price book for a workshop that has none: a few answers, the rest to be timed.

The usual stages are those of the trade; their minutes and chances are placeholders,
invented, and each stage says so in its title until its maker has timed it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pricing.price_book import PriceBook

TO_BE_TIMED = "(to be timed)"
"""End of the title of a stage whose minutes nobody has timed."""

_STAGES: tuple[dict[str, Any], ...] = (
    {"key": "gauge", "title": "Gauge, weigh and clean", "minutes": "4"},
    {
        "key": "punch",
        "title": "Centre and punch",
        "minutes": "4",
        "removes": "slug",
        "scrap": {"rate": "0.01"},
    },
    {"key": "anneal", "title": "Anneal", "minutes": "3", "unattended_minutes": "6"},
    {
        "key": "fold",
        "title": "Fold over the cone",
        "minutes": "6",
        "scrap": {"rate": "0.02"},
        "redo": {"rate": "0.04", "to": "anneal"},
    },
    {
        "key": "wrap_down",
        "title": "Wrap and drive down the mandrel",
        "minutes": "4",
        "minutes_per": {"wrap_sizes": "1.5"},
        "scrap": {"rate": "0.01"},
        "redo": {"rate": "0.05", "to": "anneal"},
    },
    {
        "key": "press",
        "title": "Press to size",
        "minutes": "5",
        "minutes_per": {"press_sizes": "2", "dome_sizes": "1"},
        "scrap": {"rate": "0.01"},
    },
    {
        "key": "bore",
        "title": "Bore and smooth the inside",
        "minutes": "5",
        "minutes_per": {"bored_g": "3"},
        "removes": "bore",
    },
    {
        "key": "finish",
        "title": "Round the edges, sand and polish",
        "minutes": "20",
        "removes": "finish",
    },
    {"key": "pack", "title": "Check the size, weigh and pack", "minutes": "4"},
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingAnswers:
    """What only the maker knows.

    Attributes:
        rate_per_hour, overhead_per_hour: for an attended hour [currency/h].
        tax: rate of the tax that shown prices include, as a share.
        target_margin: what is to be left over, as a share of net.
    """

    title: str
    currency: str
    timezone: str
    rate_per_hour: Decimal
    overhead_per_hour: Decimal = Decimal(0)
    tax: Decimal = Decimal(0)
    target_margin: Decimal


def starting_book(answers: StartingAnswers) -> dict[str, Any]:
    """The document of a first price book; whether it can be used is for its reader.

    Figures that are not asked for are invented, and to be changed.
    """
    return {
        "title": answers.title,
        "currency": answers.currency,
        "timezone": answers.timezone,
        "labour": {
            "rate_per_hour": _plain(answers.rate_per_hour),
            "overhead_per_hour": _plain(answers.overhead_per_hour),
        },
        "stages": [
            stage | {"title": f"{stage['title']} {TO_BE_TIMED}"} for stage in _STAGES
        ],
        "recovery": {"slug": "0.85", "filings": "0.50", "scrap": "0.80"},
        "coin_buying": {"basis": "melt", "premium": "0.10"},
        "channels": [
            {
                "key": "by_hand",
                "title": "Sold by hand",
                "tax": {"rate": _plain(answers.tax), "inclusive": True},
            }
        ],
        "policies": [
            {
                "key": "retail",
                "title": "Retail",
                "target_margin": _plain(answers.target_margin),
            }
        ],
    }


def to_be_timed(book: PriceBook) -> int:
    """How many stages still have minutes that nobody has timed [count]."""
    return sum(stage.title.endswith(TO_BE_TIMED) for stage in book.stages)


def _plain(value: Decimal) -> str:
    return format(value, "f")
