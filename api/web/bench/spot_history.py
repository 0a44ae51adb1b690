"""What a price was: as a picture, and entry by entry."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from decimal import Decimal

from markupsafe import Markup

from api.ports import MANUAL, NotFound, SpotEntry
from api.services.spot.decisions import LARGEST_ID
from api.services.spot.spot_prices import MOST_ENTRIES
from api.web import locales, words
from api.web.charts import Axes, Caption, Point, line
from api.web.visit import Visit

OF_A_PAGE = 25
LOOKED_BACK = timedelta(days=90)
_FEWEST = 2
_A_DAY = 86400
_BEGIN = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryPage:
    """Some entries, newest first.

    Attributes:
        older: id before which there are more; 0 where there are none.
        begun: whether there are newer ones.
    """

    entries: tuple[SpotEntry, ...]
    older: int
    begun: bool


def history_page(visit: Visit, metal: str, *, currency: str = "") -> HistoryPage:
    """The page of the history that the address names with ``before``.

    Args:
        visit: who asks.
        metal: ``XAG``, or the code of a currency.
        currency: only entries in it; '' for all.
    """
    asked = visit.query.get("before", "")
    before = min(int(asked), LARGEST_ID) if _is_number(asked) else None
    limit = OF_A_PAGE + 1 if not currency else MOST_ENTRIES
    found = visit.services.spot_prices.history(metal, limit=limit, before=before)
    kept = [one for one in found if currency in {"", one.currency}]
    shown = tuple(kept[:OF_A_PAGE])
    older = shown[-1].id if len(kept) > len(shown) else 0
    return HistoryPage(entries=shown, older=older, begun=before is not None)


def entry_named(visit: Visit, asked: str) -> SpotEntry | None:
    """The entry with an id that came as text, if there is one."""
    if not _is_number(asked):
        return None
    try:
        entry: SpotEntry = visit.services.standings.entry(int(asked))
    except NotFound:
        return None
    return entry


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdecimal() and 0 < len(text) <= len(str(LARGEST_ID))


def source_names(visit: Visit) -> dict[str, str]:
    """What the sources of prices are called."""
    known = visit.services.feeds.known()
    return {MANUAL: "by hand"} | {key: feed.title for key, feed in known.items()}


def picture(visit: Visit, now: SpotEntry, *, unit: str) -> Markup | None:
    """How the price moved of late, drawn into the page; None where there is no line.

    Args:
        visit: for whom it is written.
        now: the entry in force; only prices in its currency are drawn.
        unit: what is priced, in words.
    """
    read = visit.services.spot_prices.history
    found = read(now.metal, limit=MOST_ENTRIES, status="accepted")
    since = visit.services.clock.now() - LOOKED_BACK
    points = _points(
        one for one in found if one.currency == now.currency and one.as_of >= since
    )
    if len(points) < _FEWEST:
        return None

    def written(price: Decimal) -> str:
        return f"{locales.figure(price, visit.locale)} {now.currency}"

    zone = visit.zone
    axes = Axes(across=lambda at: _short(at, zone), up=written)
    caption = _caption(points, axes, unit=unit)
    return Markup(line(points, caption, axes=axes, alone=False).decode())  # noqa: S704 - the library escapes every text


def _points(entries: Iterable[SpotEntry]) -> Sequence[Point]:
    """Moments [days since 1970] and prices, by rising time."""
    return sorted(
        (Decimal((one.as_of - _BEGIN) // timedelta(seconds=1)) / _A_DAY, one.price)
        for one in entries
    )


def _caption(points: Sequence[Point], axes: Axes, *, unit: str) -> Caption:
    prices = [price for _, price in points]
    (first, began), (last, ended) = points[0], points[-1]
    said = (
        f"From {axes.up(began)} on {axes.across(first)} to {axes.up(ended)} on "
        f"{axes.across(last)}; lowest {axes.up(min(prices))}, "
        f"highest {axes.up(max(prices))}."
    )
    return Caption(f"The price of {unit}", said)


def _short(at: Decimal, zone: tzinfo) -> str:
    moment = (_BEGIN + timedelta(days=float(at))).astimezone(zone)
    return words.short_day(moment.date())
