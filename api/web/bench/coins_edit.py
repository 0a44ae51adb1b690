"""A coin as a form: added, changed, removed."""

from __future__ import annotations

from typing import Any

from api.ports import StoredCoin
from api.schemas.coins import CoinBody
from api.web.bench.book_document import changed_rows, filled
from api.web.bench.coin_fields import COIN, KEY
from api.web.bench.coins import HOME, money_of, spot_now, worth
from api.web.pages import Page, Pages, Redirect, Result
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.coin_document import coin_document

NEW = f"{HOME}/new-coin"
_CHANGE, _REMOVE = f"{HOME}/<key>/change", f"{HOME}/<key>/remove"
pages = Pages("coins_edit", title="Coins", tab="book")


@pages.get(NEW)
def show_new(visit: Visit) -> Page:
    """The form of a new coin."""
    return _form(visit, NEW, None)


@pages.post(NEW, again=show_new, once=True)
def add(visit: Visit) -> Result:
    """Keep a new coin."""
    rows = changed_rows(COIN, visit.form)
    if rows is not None:
        return show_new(visit.again(rows))
    coin = visit.read(CoinBody())
    visit.services.coins.add(coin)
    return Redirect(f"{HOME}/{coin.key}", done="kept")


@pages.get(_CHANGE)
def show_change(visit: Visit) -> Page:
    """The form of a coin as it is."""
    stored: StoredCoin = visit.services.coins.get(visit.path["key"])
    if not visit.form.sent:
        document = coin_document(stored.coin)
        visit = visit.again(filled(COIN, document, visit.locale))
    return _form(visit, f"{HOME}/{stored.coin.key}/change", stored)


@pages.post(_CHANGE, again=show_change, once=True)
def change(visit: Visit) -> Result:
    """Keep a coin as it was typed; one of the catalogue is overridden by it."""
    rows = changed_rows(COIN, visit.form)
    if rows is not None:
        return show_change(visit.again(rows))
    key = visit.path["key"]
    visit.services.coins.replace(key, visit.read(CoinBody()), expected=_expected(visit))
    return Redirect(f"{HOME}/{key}", done="kept")


@pages.live(NEW, part="worth", template="bench/coin_worth.html")
@pages.live(_CHANGE, part="worth", template="bench/coin_worth.html")
def heard(visit: Visit) -> dict[str, Any]:
    """What the silver in the coin is worth, by the figures typed so far."""
    coin, spot = visit.read(CoinBody()), spot_now(visit)
    return {"melt": worth(visit, coin, spot), "spot": spot, "read": True}


@pages.get(_REMOVE)
def show_remove(visit: Visit) -> Page:
    """What removing a coin means."""
    stored = visit.services.coins.get(visit.path["key"])
    return Page("bench/coin_remove.html", {"stored": stored, "coin": stored.coin})


@pages.post(_REMOVE, again=show_remove, once=True)
def remove(visit: Visit) -> Redirect:
    """Remove one of the workshop's own coins."""
    visit.services.coins.remove(visit.path["key"], expected=_expected(visit))
    return Redirect(HOME, done="removed")


def _expected(visit: Visit) -> int:
    """The revision that a form was made from."""
    number = whole_number(visit.form.text("_version"))
    return -1 if number is None else number


def _form(visit: Visit, address: str, stored: StoredCoin | None) -> Page:
    values = {
        "part": COIN,
        "key": KEY,
        "stored": stored,
        "address": address,
        "back": f"{HOME}/{stored.coin.key}" if stored else HOME,
    }
    return Page("bench/coin_edit.html", values | money_of(visit))
