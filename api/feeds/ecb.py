"""The European Central Bank's file of reference rates.

References:
    [1] ECB, euro foreign exchange reference rates: ``Cube[@time]`` holds one
        ``Cube[@currency][@rate]`` a currency, in units of it for one euro. They
        come from a concertation at about 14:15 in Frankfurt and bear a date only.
    [2] A currency can vanish from the file, as RUB did in March 2022.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime, time
from xml.etree.ElementTree import Element

from api.feeds.figures import figure, is_missing
from api.feeds.times import moment
from api.feeds.xml_shape import parsed
from api.ports.feeds import DATE, Feed, FeedFailed, FeedTime
from pricing.errors import InvalidInput
from pricing.money import currency, exchange_rate
from pricing.spot_guard import Reading

NAMESPACE = "http://www.ecb.int/vocabulary/2002-08-01/eurofxref"
CONCERTATION = FeedTime(
    path="@time", format=DATE, zone="Europe/Berlin", at=time(14, 15)
)

_CUBE = f"{{{NAMESPACE}}}Cube"


def ecb_rates(feed: Feed, text: str) -> tuple[Reading, ...]:
    """What one euro costs in each currency of the latest day [currency/EUR].

    Only in the feed's currency, where it names one. Currencies that nothing is
    sold in any more, and those without a rate, are passed over.

    Raises:
        FeedFailed: it is not such a file, or the feed's currency is not in it.
    """
    day, as_of = _latest_day(parsed(text))
    readings = tuple(_rates(day, as_of, wanted=feed.currency))
    codes = [reading.currency for reading in readings]
    if len(set(codes)) < len(codes):
        raise FeedFailed("two_answers", "The file has two rates of one currency.")
    if not readings:
        said = f"no rate of {feed.currency}" if feed.currency else "no rates"
        raise FeedFailed("no_such_path", f"The file has {said} for its latest day.")
    return readings


def _latest_day(root: Element) -> tuple[Element, datetime]:
    days = [(cube, _instant(cube)) for cube in root.iter(_CUBE)]
    dated = [(cube, instant) for cube, instant in days if instant is not None]
    if not dated:
        raise FeedFailed(
            "not_ecb", "The answer is XML, but not the ECB's file of reference rates."
        )
    last = max(instant for _, instant in dated)
    newest = [cube for cube, instant in dated if instant == last]
    if len(newest) > 1:
        raise FeedFailed("two_answers", "The file has its latest day twice.")
    return newest[0], last


def _instant(cube: Element) -> datetime | None:
    try:
        return moment(cube.get("time"), CONCERTATION)
    except FeedFailed:
        return None


def _rates(day: Element, as_of: datetime, *, wanted: str) -> Iterator[Reading]:
    for cube in day.findall(_CUBE):
        code, rate = cube.get("currency", ""), cube.get("rate")
        if (wanted and code != wanted) or not _in_use(code) or is_missing(rate):
            continue
        price = exchange_rate(figure(rate, mark="."))
        yield Reading(price=price, currency=code, as_of=as_of)


def _in_use(code: str) -> bool:
    try:
        return re.fullmatch("[A-Z]{3}", code) is not None and bool(currency(code))
    except InvalidInput:
        return False
