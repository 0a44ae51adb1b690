"""What must hold between the parts of a feed's description."""

from __future__ import annotations

from api.ports.feeds import Feed
from pricing.price_book.fields import Fields

_SAID_BY_ECB = (
    "price", "bid", "ask", "side", "invert", "rows", "unit", "hundredths",
    "decimal_mark", "time",
)  # fmt: skip
_LEAVE_OUT = "the file of the ECB is read by its own layout; leave this out"


def check_feed(feed: Feed, table: Fields) -> None:
    """Note every disagreement between the parts of ``feed``."""
    if feed.format == "ecb":
        _check_ecb(feed, table)
    else:
        _check_prices(feed, table)
        _check_needed(table)
    _check_layout(feed, table)
    _check_metal(feed, table)
    _check_limits(feed, table)
    if feed.second_source and feed.second_source == feed.key:
        table.fault("a feed cannot be its own second source", "second_source")


def _check_ecb(feed: Feed, table: Fields) -> None:
    for name in _SAID_BY_ECB:
        if table.given(name):
            table.fault(_LEAVE_OUT, name)
    if feed.metal != "EUR" and table.sound("metal"):
        table.fault('the file of the ECB prices the euro; write "EUR"', "metal")


def _check_needed(table: Fields) -> None:
    for name in ("currency", "time"):
        if not table.given(name):
            table.fault("this is missing; it has no default, so write it", name)


def _check_prices(feed: Feed, table: Fields) -> None:
    sides = [name for name in ("bid", "ask") if table.given(name)]
    if table.given("price"):
        for name in [*sides, *(["side"] if table.given("side") else [])]:
            table.fault("there is a price already; give that, or bid and ask", name)
        return
    if not sides:
        table.fault("nothing says where the price is; give price, or bid and ask")
        return
    turned = {"bid": "ask", "ask": "bid"} if feed.invert else {}
    wanted = ("bid", "ask") if feed.side == "mid" else (feed.side,)
    for name in (turned.get(each, each) for each in wanted):
        if name not in sides:
            said = f"the {feed.side} price is wanted"
            back = ", which an inverse feed gives the other way round" if turned else ""
            table.fault(f"{said}{back}; write the path of {name}", name)


def _check_layout(feed: Feed, table: Fields) -> None:
    if feed.format == "csv" and table.given("rows"):
        table.fault("in CSV every line is a row; leave this out", "rows")
    if feed.format != "csv" and table.given("csv"):
        table.fault('this is for the format "csv" alone', "csv")


def _check_metal(feed: Feed, table: Fields) -> None:
    if feed.metal and feed.metal == feed.currency:
        table.fault(f"{feed.metal} is priced in itself; name another", "currency")
    if feed.metal != "XAG" and feed.format != "ecb" and table.given("unit"):
        table.fault("only silver has a unit of mass; leave this out", "unit")


def _check_limits(feed: Feed, table: Fields) -> None:
    low, high = feed.limits.lowest, feed.limits.highest
    if table.sound("limits") and low >= high:
        table.fault(f"{high} is not over the lowest, {low}", "limits", "highest")
