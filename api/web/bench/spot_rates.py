"""Rates of exchange: what one unit of a currency costs in another."""

from __future__ import annotations

from typing import Any

from api.ports import SpotEntry
from api.services.snapshot import SILVER
from api.web.bench import spot as silver
from api.web.bench.spot_history import history_page, picture, source_names
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit
from pricing.errors import InvalidInput

ADDRESS = f"{silver.ADDRESS}/rates"

pages = Pages("spot_rates", title="Rates of exchange", tab="spot", done=silver.DONE)


@pages.get(ADDRESS)
def rates(visit: Visit) -> Page:
    """Every rate in force, one to enter, those that wait, and the history of one."""
    found = visit.services.standings.rates()
    values: dict[str, Any] = {
        "rates": found,
        "waiting": _waiting(visit, found),
        "sources": source_names(visit),
        "currency": visit.book.currency.code if visit.book else "EUR",
        "doubtful": silver.is_doubtful(visit),
        "now": visit.services.clock.now(),
        "shown": None,
    }
    shown = _shown(visit, found)
    if shown is not None:
        unit = f"one {shown.metal}"
        values |= {
            "shown": shown,
            "picture": picture(visit, shown, unit=unit),
            "history": history_page(visit, shown.metal, currency=shown.currency),
        }
    return Page("bench/spot_rates.html", values)


@pages.post(ADDRESS, again=rates, once=True)
def enter_rate(visit: Visit) -> Redirect:
    """Put a rate into force."""
    if not visit.form.text("metal").strip():
        raise InvalidInput("this is needed; fill it in", path=("metal",))
    currency = visit.book.currency.code if visit.book else "EUR"
    entered = silver.enter_typed(visit, otherwise=currency)
    if entered.metal == SILVER:
        return Redirect(silver.ADDRESS, done="entered")
    address = f"{ADDRESS}?of={entered.metal}&in={entered.currency}"
    return Redirect(address, done="entered")


def _shown(visit: Visit, found: tuple[SpotEntry, ...]) -> SpotEntry | None:
    """The rate whose history is asked for."""
    asked = (visit.query.get("of", ""), visit.query.get("in", ""))
    return next((one for one in found if (one.metal, one.currency) == asked), None)


def _waiting(visit: Visit, found: tuple[SpotEntry, ...]) -> list[SpotEntry]:
    """Rates that were held, of every currency that is priced or fetched."""
    fetched = {feed.metal for feed in visit.services.feeds.known().values()}
    priced = {one.metal for one in found}
    return [
        entry
        for metal in sorted((fetched | priced) - {SILVER})
        for entry in visit.services.standings.waiting(metal)
    ]
