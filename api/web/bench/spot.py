"""The price of a troy ounce: in force, entered by hand, and as it was."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

from flask import abort

from api.ports import SpotEntry, SpotUnavailable
from api.schemas.spot_prices import SpotPriceBody
from api.services.snapshot import SILVER
from api.services.spot.standing import Standing
from api.web.bench.coins import spot_now
from api.web.bench.spot_history import (
    entry_named,
    history_page,
    picture,
    source_names,
)
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit
from pricing import money
from pricing.errors import InvalidInput
from pricing.spot import Spot
from pricing.units import GRAMS_PER_TROY_OUNCE

ADDRESS = "/bench/spot"
HELD = f"{ADDRESS}/held/<entry_id>"
OUNCE = "one troy ounce of silver"
_STEP = Decimal("0.0001")
_ASKED = "Correct it, or enter it as it is."
"""How a fault ends that a second press overrules."""

DONE = {
    "entered": "The price is in force.",
    "accepted": "The price was taken, and counts.",
    "rejected": "The price was put aside.",
}

pages = Pages("spot", title="Spot", tab="spot", done=DONE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """The price in force, ready to be told.

    Attributes:
        age: how long ago it was the price.
        converted: the same in the price book's currency, where that is another.
    """

    standing: Standing
    entry: SpotEntry
    age: timedelta
    converted: Spot | None


@pages.get(ADDRESS)
def spot(visit: Visit) -> Page:
    """Silver: the price in force, one to enter, those that wait, and the history."""
    now = in_force(visit)
    values = {
        "now": now,
        "waiting": visit.services.standings.waiting(SILVER),
        "sources": source_names(visit),
        "picture": picture(visit, now.entry, unit=OUNCE) if now else None,
        "history": history_page(visit, SILVER),
        "filled": entry_named(visit, visit.query.get("again", "")),
        "currency": _currency(visit, now),
        "doubtful": is_doubtful(visit),
        "feeds": bool(visit.services.feeds.known()),
    }
    return Page("bench/spot.html", values)


@pages.post(ADDRESS, again=spot, once=True)
def enter(visit: Visit) -> Redirect:
    """Put a price into force."""
    enter_typed(visit, otherwise=_currency(visit, None))
    return Redirect(ADDRESS, done="entered")


@pages.live(ADDRESS, part="heard", template="bench/spot_heard.html")
def heard(visit: Visit) -> dict[str, Any]:
    """A price while it is typed: by other units, and how far from that in force."""
    asked = visit.read(SpotPriceBody())
    price, now = asked["price"], in_force(visit)
    currency = asked["currency"] or _currency(visit, now)
    money.currency(currency, path=("currency",))
    per_gram = money.half_up(price / GRAMS_PER_TROY_OUNCE, _STEP)
    same = now is not None and now.entry.currency == currency
    return {
        "price": price,
        "currency": currency,
        "per_gram": per_gram,
        "change": price / now.entry.price - 1 if now and same else None,
        "doubts": visit.services.standings.doubts(SILVER, price, currency),
    }


@pages.get(HELD)
def held(visit: Visit) -> Page:
    """A price that was held, why, and what may be done with it."""
    entry = _held(visit)
    now = in_force(visit, entry.metal)
    same = now is not None and now.entry.currency == entry.currency
    values = {
        "entry": entry,
        "now": now,
        "change": entry.price / now.entry.price - 1 if now and same else None,
        "sources": source_names(visit),
        "back": _place(entry),
    }
    return Page("bench/spot_held.html", values)


@pages.post(HELD, again=held, once=True)
def decide(visit: Visit) -> Redirect:
    """Let a held price count, or put it aside."""
    entry = _held(visit)
    if visit.form.wants("accept"):
        visit.services.spot_prices.accept(entry.id)
        return Redirect(_place(entry), done="accepted")
    if visit.form.wants("reject"):
        visit.services.spot_prices.reject(entry.id)
        return Redirect(_place(entry), done="rejected")
    raise InvalidInput("press one of the two buttons: take it, or put it aside")


def in_force(visit: Visit, metal: str = SILVER) -> Now | None:
    """The price in force; None where there is none."""
    services = visit.services
    try:
        standing = services.standings.of(metal)
        entry = services.spot_prices.current_entry(metal)
    except SpotUnavailable:
        return None
    age = max(services.clock.now() - entry.as_of, timedelta())
    converted = _converted(visit) if metal == SILVER else None
    return Now(standing=standing, entry=entry, age=age, converted=converted)


def enter_typed(visit: Visit, *, otherwise: str) -> SpotEntry:
    """Record what was typed, unless it is doubtful and nobody said it is right.

    Args:
        visit: with the form.
        otherwise: the currency of a price that names none.

    Raises:
        InvalidInput: it cannot be, or is doubtful.
    """
    asked = visit.read(SpotPriceBody())
    metal, currency = asked["metal"], asked["currency"] or otherwise
    doubts = visit.services.standings.doubts(metal, asked["price"], currency)
    if doubts and not visit.form.wants("sure"):
        said = f"{' '.join(doubts)} {_ASKED}"
        raise InvalidInput(said, path=("price",))
    entered: SpotEntry = visit.services.spot_prices.enter(
        metal,
        asked["price"],
        currency,
        note=asked["note"],
        expires_at=asked["expires_at"],
    )
    return entered


def is_doubtful(visit: Visit) -> bool:
    """Whether nothing is wrong with what was typed but that it looks strange."""
    faults = visit.form.faults
    return len(faults) == 1 and faults[0].text.endswith(_ASKED)


def _converted(visit: Visit) -> Spot | None:
    quoted = spot_now(visit)
    return quoted if quoted and quoted.fx else None


def _currency(visit: Visit, now: Now | None) -> str:
    """What a price is in where nothing else is said."""
    if now is not None:
        return now.entry.currency
    return visit.book.currency.code if visit.book else "EUR"


def _held(visit: Visit) -> SpotEntry:
    entry = entry_named(visit, visit.path["entry_id"])
    if entry is None:
        abort(404)
    return entry


def _place(entry: SpotEntry) -> str:
    return ADDRESS if entry.metal == SILVER else f"{ADDRESS}/rates"
