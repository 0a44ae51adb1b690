"""The quote desk: a ring or a set worked out while one types, and promised."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any

from babel import Locale

from api.errors import Refused
from api.ports import Conflict, SpotUnavailable, StoredCoin
from api.services.quotes.previews import QuotePreview
from api.web.bench import quote_form as typed
from api.web.bench.quote_lines import line_rows, line_shown, order_shown
from api.web.bench.quote_words import (
    HOME_SYSTEMS,
    KINDS,
    RULES,
    SYSTEMS,
    without_spot,
)
from api.web.form_faults import faults_of
from api.web.pages import Page, Pages, Redirect
from api.web.sent_form import Form
from api.web.visit import Visit
from pricing.errors import NotMakeable, PricingError

ALL, NEW = "/bench/quotes", "/bench/quotes/new"
PROMISE = "promise-"
_PAGE, _FIGURES = "bench/quote_new.html", "bench/quote_figures.html"
_FROM_ADDRESS = {
    "coin": f"{typed.COIN}-0",
    "system": "lines-0-size-system",
    "size": "lines-0-size-size",
    "quantity": "lines-0-quantity",
    "policy": "lines-0-policy",
    "confidence": "lines-0-confidence.pct",
    "channel": typed.CHANNEL,
}
"""What an address may bring along: parameter → field."""

pages = Pages("quote_desk", title="New quote", tab="quote")


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why there is no price, and what could be had instead.

    Attributes:
        text: in plain words.
        place: the line it is about.
        size_us, hole_mm: nearest that can be made, as text; '' for none.
        spot: whether a spot price is what is missing.
    """

    text: str
    place: int = 0
    size_us: str = ""
    hole_mm: str = ""
    spot: bool = False


@pages.get(NEW)
def desk(visit: Visit) -> Page:
    """The desk, with what is typed and what comes of it."""
    if visit.book is None:
        return Page("bench/quote_none.html")
    if not visit.form.sent:
        visit = visit.again(_begun(visit))
    return _drawn(visit, _figures_or_none(visit))


@pages.post(NEW)
def work_out(visit: Visit) -> Page:
    """The desk after a button: figures, a line more or less, what was offered."""
    if visit.book is None:
        return Page("bench/quote_none.html")
    visit = visit.again(typed.moved(visit.form))
    try:
        found = worked_out(visit)
    except (PricingError, Refused) as error:
        told = visit.again(faults_of(error, visit.form))
        return _drawn(told, {}, status=422)
    return _drawn(visit, found, status=422 if "refusal" in found else 200)


@pages.live(NEW, part="figures", template=_FIGURES)
def figures(visit: Visit) -> Mapping[str, Any]:
    """What comes of what is typed so far."""
    return worked_out(visit)


@pages.post(ALL, again=desk, once=True)
def promise(visit: Visit) -> Redirect:
    """Make the quote, at the price that was on the page and no other."""
    asks, terms = typed.asked(visit)
    quote = visit.services.quotes.create(asks, terms)
    document = visit.services.quotes.document(quote)
    seen = visit.form.deed(PROMISE)
    if seen != document["total"]:
        raise Conflict(
            f"the price is {document['total']} {quote.currency} by now, not what the "
            "page showed when this was pressed; nothing was promised. Look at the "
            "figures, then promise them"
        )
    return Redirect(f"{ALL}/{quote.id}", done="promised")


def worked_out(visit: Visit) -> dict[str, Any]:
    """What the live part is drawn with: figures, or why there are none.

    Raises:
        InvalidInput, UnknownKey: something typed cannot be used.
    """
    asks, terms = typed.asked(visit)
    try:
        seen = visit.services.quotes.previews.of(asks, terms)
    except NotMakeable as error:
        return {"refusal": _unmakeable(error)}
    except SpotUnavailable as error:
        return {
            "refusal": Refusal(text=without_spot(error.message), spot=True),
            "words": RULES,
        }
    return shown_preview(seen, typed.open_place(visit.form), visit.locale)


def shown_preview(seen: QuotePreview, place: int, locale: Locale) -> dict[str, Any]:
    """What figures of a quote in the making are drawn with; one line in full."""
    lines, coins = seen.members["lines"], seen.members["coins"]
    place = min(place, len(lines) - 1)
    exact = seen.offer.order.lines[place].cost.exact
    return {
        "currency": seen.offer.book.currency.code,
        "book_version": seen.offer.book.version,
        "order": order_shown(seen.members["order"]) | {"deposit": seen.deposit},
        "seen_total": seen.members["order"]["total"],
        "valid_until": seen.valid_until,
        "make_by": seen.make_by,
        "rows": line_rows(lines),
        "line": line_shown(place, lines[place], coins[place], locale, exact=exact),
        "rules": RULES,
        "kinds": KINDS,
    }


def _figures_or_none(visit: Visit) -> dict[str, Any]:
    """Figures beside what was refused as a whole; none where a field is at fault."""
    named = any(fault.name for fault in visit.form.faults)
    if named or not visit.form.sent:
        return {}
    try:
        return worked_out(visit)
    except (PricingError, Refused):
        return {}


def _unmakeable(error: NotMakeable) -> Refusal:
    size, hole = error.nearest_size_us, error.nearest_hole_mm
    place = next((part for part in error.path[1:2] if isinstance(part, int)), 0)
    return Refusal(
        text=f"{error.message[:1].upper()}{error.message[1:]}.",
        place=place,
        size_us="" if size is None else format(size, "f"),
        hole_mm="" if hole is None else format(hole, "f"),
    )


def _begun(visit: Visit) -> Form:
    """The form as an address begins it; empty where it names no coin."""
    usual = {"quantity": "1", "confidence": "95", "system": _home_system(visit)}
    asked = usual | dict(visit.query)
    if not asked.get("coin"):
        return Form()
    found = {field: asked.get(name, "") for name, field in _FROM_ADDRESS.items()}
    return Form(values={field: (text,) for field, text in found.items()})


def _home_system(visit: Visit) -> str:
    """The system of sizes that is usual where the visitor is."""
    return HOME_SYSTEMS.get(visit.locale.territory or "", "us")


def _drawn(visit: Visit, found: Mapping[str, Any], *, status: int = 200) -> Page:
    book = visit.services.price_books.current()
    values = {
        "book": book,
        "extras": _choices(book.extras),
        "channels": _choices(book.channels),
        "policies": _choices(book.policies),
        "coins": _coin_groups(visit),
        "systems": SYSTEMS,
        "home_system": _home_system(visit),
        "places": typed.places(visit.form),
        "open_place": typed.open_place(visit.form),
        "folded": typed.folded(visit.form),
        "confidence": Decimal("0.95"),
        **found,
    }
    return Page(_PAGE, values, status=status)


def _choices(entries: Sequence[Any]) -> list[tuple[str, str]]:
    """What a book has of a kind, by key and as a person calls it."""
    return [(each.key, each.title or each.key) for each in entries]


def _coin_groups(visit: Visit) -> list[tuple[str, list[tuple[str, str]]]]:
    """Coins to choose from: the workshop's own first, then by country."""
    coins = sorted(visit.services.coins.list(), key=_in_order)
    return [
        (group, [(each.coin.key, _named(each)) for each in members])
        for group, members in groupby(coins, key=_group)
    ]


def _group(stored: StoredCoin) -> str:
    if stored.origin == "workshop":
        return "The workshop’s own"
    country = stored.coin.country
    return str(Locale("en").territories.get(country, country) or "Other")


def _in_order(stored: StoredCoin) -> tuple[bool, str, str]:
    return stored.origin != "workshop", _group(stored), stored.coin.label


def _named(stored: StoredCoin) -> str:
    coin = stored.coin
    return f"{coin.label} · {coin.gross_mass_g} g · {coin.diameter_mm} mm"
