"""Coins: the catalogue with the source of each figure, and the workshop's own."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from api.ports import SpotUnavailable, StoredCoin
from api.services.melt_value import MeltValue, melt_value
from api.web.bench.coin_fields import FIGURE_WORDS
from api.web.pages import Page, Pages
from api.web.visit import Visit
from pricing.coin import Coin
from pricing.price_book import CoinBuying
from pricing.spot import Spot

HOME = "/bench/coins"
_HELD = {
    "mass": "gross_mass_g",
    "diameter": "diameter_mm",
    "thickness": "rim_thickness_mm",
    "fineness": "fineness_permille",
    "fine_weight": "published_fine_ozt",
}
"""Where a coin holds a figure, by the figure's short name."""
_ON_A_PAGE = 30
_PAGE = re.compile("[1-9][0-9]{0,3}", re.ASCII)

pages = Pages(
    "coins",
    title="Coins",
    tab="book",
    done={
        "kept": "The coin is kept. Prices asked for from now on use its figures.",
        "removed": "The coin is removed.",
    },
)


@pages.get(HOME)
def show_coins(visit: Visit) -> Page:
    """Every coin, or those that are searched for, with what its silver is worth."""
    text = visit.query.get("search", "")[:80]
    number = visit.query.get("page", "1")
    page = int(number) if _PAGE.fullmatch(number) else 1
    found = by_name(visit.services.coins.search(text))
    first = (page - 1) * _ON_A_PAGE
    spot = spot_now(visit)
    shown = found[first : first + _ON_A_PAGE]
    values = {
        "found": len(found),
        "search": text,
        "page": page,
        "more": len(found) > first + _ON_A_PAGE,
        "coins": [(one, worth(visit, one.coin, spot)) for one in shown],
        "spot": spot,
    }
    return Page("bench/coins.html", values)


def by_name(coins: Iterable[StoredCoin]) -> list[StoredCoin]:
    """The workshop's own first, then by name, which begins with the country."""

    def place(stored: StoredCoin) -> tuple[bool, str]:
        return stored.origin == "catalogue", stored.coin.label.casefold()

    return sorted(coins, key=place)


@pages.get(f"{HOME}/<key>")
def show_coin(visit: Visit) -> Page:
    """One coin: its figures, where each comes from, and its silver."""
    stored: StoredCoin = visit.services.coins.get(visit.path["key"])
    spot = spot_now(visit)
    marks = {
        words: stored.coin.provenance.mark(name)
        for name, words in FIGURE_WORDS.items()
        if getattr(stored.coin, _HELD.get(name, name), None)
    }
    values = {
        "stored": stored,
        "coin": stored.coin,
        "melt": worth(visit, stored.coin, spot),
        "spot": spot,
        "marks": marks,
    }
    return Page("bench/coin.html", values)


def spot_now(visit: Visit) -> Spot | None:
    """The spot in force in the book's currency; None where there is none."""
    book = visit.book
    if book is None:
        return None
    try:
        found: Spot = visit.services.spot_prices.quoted(book).spot
    except SpotUnavailable:
        return None
    return found


def worth(visit: Visit, coin: Coin, spot: Spot | None) -> MeltValue | None:
    """The silver in a coin, worn as the book says."""
    book = visit.book
    return melt_value(coin, book.coin_buying if book else CoinBuying(), spot)


def money_of(visit: Visit) -> dict[str, Any]:
    """The currency that a coin's amounts are in."""
    book = visit.book
    return {"code": book.currency.code if book else "of the book"}
