"""Feeds that lie, and a workshop that asks them: answers by name, with what is due.

The clock stands at a Friday's half past twelve; an honest feed said 27.50 at noon.
"""

from __future__ import annotations

import gzip
import json
from dataclasses import dataclass, field
from datetime import UTC, datetime
from ipaddress import ip_network
from typing import Any

from api.app import Services, compose
from api.feeds.answer_text import MOST_VALUES
from api.feeds.fetcher import CachedFetcher, Keeping
from api.outbound.deadline import Limits
from api.outbound.safe_http import Reach
from api.settings import Settings
from tests.feeds.hostile_server import BROKEN, ENDLESS, HostileServer, good, says
from tests.feeds.hostile_server import reply as answered

NOW = datetime(2026, 1, 2, 12, 30, tzinfo=UTC)
NOON = "2026-01-02T12:00:00Z"
LIMITS = Limits(connect_s=0.5, read_s=0.1, total_s=0.4, pause_s=0.001)
REACH = Reach(networks=(ip_network("127.0.0.0/8"),), plain_http=True)
FEED = {
    "title": "A feed",
    "format": "json",
    "currency": "EUR",
    "price": "/price",
    "time": {"path": "/ts"},
}
SIDES = {"price": None, "bid": "/bid", "ask": "/ask"}
EPOCH = {"path": "/ts", "format": "epoch_s"}
XML = {"format": "xml", "price": "price", "time": {"path": "ts"}}
CSV = {"format": "csv", "price": "price", "time": {"path": "day", "format": "date"}}
ECB = {"format": "ecb", "price": None, "time": None, "currency": None}


class StillClock:
    """Stands at the half hour past noon."""

    def now(self) -> datetime:
        return NOW


READ = MOST_VALUES - 5
"""Nearly as many values as an answer may have."""


@dataclass(frozen=True)
class Lie:
    """What a feed answers, how it is described, and what has to come of it."""

    body: bytes
    outcome: str = "failed"
    described: dict[str, Any] = field(default_factory=dict)


def said(price: Any = 27.6, ts: Any = NOON, **more: Any) -> bytes:
    return json.dumps({"price": price, "ts": ts} | more).encode()


def raw(price: str) -> bytes:
    """The price as it stands, which need not be JSON."""
    return f'{{"price": {price}, "ts": "{NOON}"}}'.encode()


def filled(first: str, one: str, last: str, times: int = 2**20) -> bytes:
    """``one`` over and over between two ends, numbered, up to a mebibyte."""
    each = one % 0 if "%" in one else one
    count = min(times, (2**20 - len(first) - len(last)) // len(each))
    middle = (one % n if "%" in one else one for n in range(count))
    return (first + "".join(middle) + last).encode()


BOMB = b'<!DOCTYPE r [<!ENTITY a "xxxxxxxxxx">%s]><r><price>&i;</price></r>' % b"".join(
    b'<!ENTITY %c "&%c;&%c;&%c;&%c;">' % (b, a, a, a, a)
    for a, b in zip(b"abcdefgh", b"bcdefghi", strict=True)
)
READ_A_FILE = (
    b'<!DOCTYPE r [<!ENTITY x SYSTEM "file:/etc/hostname">]><r><price>&x;</price></r>'
)

LIES: dict[str, Lie] = {
    # No answer that can be read
    "truncated": Lie(said()[:-4]),
    "two documents": Lie(said() + said()),
    "an empty object": Lie(b"{}"),
    "a list": Lie(b"[]"),
    "null": Lie(b"null"),
    "a text": Lie(b'"27.50"'),
    "a price named twice": Lie(said().replace(b"{", b'{"price": 99, ')),
    "100 000 open lists": Lie(b"[" * 100_000),
    "not UTF-8": Lie(b'{"price": "\xff\xfe", "ts": 1}'),
    "half of UTF-16": Lie(said().decode().encode("utf-16")[:-3]),
    "NUL": Lie(said().replace(b"27.6", b"27.6\x00")),
    "a page as JSON text": Lie(b'"<html>27.50</html>"'),
    # No price
    "no price": Lie(b'{"ts": "%s"}' % NOON.encode()),
    "null as price": Lie(said(None)),
    "an empty price": Lie(said("")),
    "n/a": Lie(said("n/a")),
    "true": Lie(said(True)),  # noqa: FBT003 - what the feed says
    "a list of prices": Lie(said([27.5])),
    "an object": Lie(said({"value": 27.5})),
    "zero": Lie(said(0)),
    "below zero": Lie(said(-27.5)),
    "NaN": Lie(raw("NaN")),
    "Infinity": Lie(raw("Infinity")),
    "beyond all floats": Lie(raw("1e400")),
    "an endless exponent": Lie(raw("1e999999999")),
    "a vanishing price": Lie(raw("1e-400")),
    "5 000 digits": Lie(raw("9" * 5000)),
    "two readings of one text": Lie(said("1.234")),
    "words": Lie(said("twenty-seven")),
    "prices of two things": Lie(
        json.dumps({"a": {"price": 1}, "b": {"price": 2}, "ts": NOON}).encode(),
        described={"price": "$..price"},
    ),
    # No time
    "no time": Lie(b'{"price": 27.6}'),
    "a time without its offset": Lie(said(ts="yesterday")),
    "the 30th of February": Lie(said(ts="2026-02-30T12:00:00Z")),
    "a time of another kind": Lie(said(ts=[2026])),
    "an endless time": Lie(said(ts=10**30), described={"time": EPOCH}),
    # A price that cannot be right
    "tomorrow's price": Lie(said(ts="2026-01-03T12:00:00Z"), "refused"),
    "the price of the year 9999": Lie(said(ts="9999-12-31T00:00:00Z")),
    "a price of last month": Lie(said(ts="2025-12-01T12:00:00Z"), "refused"),
    "a price of the year 1": Lie(said(ts="0001-01-01T00:00:00Z")),
    "a gram's price": Lie(said(0.8875), "refused"),
    "a kilogram's price": Lie(said(887.38), "refused"),
    "cents": Lie(said(2760), "refused"),
    "a thousandth": Lie(said(0.0276), "refused"),
    "a million": Lie(said(1_000_000), "refused"),
    "bid over ask": Lie(said(bid=28, ask=27), "refused", SIDES),
    "bid and ask far apart": Lie(said(bid=26, ask=29), "refused", SIDES),
    "a bid of nothing": Lie(said(bid=0, ask=27.5), "failed", SIDES),
    # A price that may be right, or not
    "a tenth dearer": Lie(said(30.5), "held"),
    "a tenth cheaper": Lie(said(24.5), "held"),
    "another than the second source": Lie(
        said(28.5), "held", {"second_source": "honest"}
    ),
    # Other layouts
    "a bomb of entities": Lie(BOMB, described=XML),
    "a file of ours": Lie(READ_A_FILE, described=XML),
    "XML that does not end": Lie(b"<r><price>27.5", described=XML),
    "XML of 10 000 levels": Lie(b"<a>" * 10_000, described=XML),
    "XML without the price": Lie(b"<r><ts>x</ts></r>", described=XML),
    "CSV without the column": Lie(b"day,silver\n2026-01-02,27\n", described=CSV),
    "CSV without rows": Lie(b"day,price\n", described=CSV),
    "CSV of gaps": Lie(b"day,price\n2026-01-02,\n2026-01-01,0\n", described=CSV),
    "CSV of one endless field": Lie(b'day,price\n"' + b"x" * 200_000, described=CSV),
    "CSV with NUL": Lie(b"day,price\n2026-01-02,2\x007\n", described=CSV),
    "reference rates of nothing": Lie(b"<Envelope/>", described=ECB),
    "reference rates with a bomb": Lie(BOMB, described=ECB),
    "rows without an end": Lie(
        b"[" + b'{"price": 0},' * 50_000 + b"{}]", described={"rows": ""}
    ),
    # As much as fits, of what takes much room once it is read
    "a mebibyte of empty lists": Lie(filled("[", "[],", "1]")),
    "a mebibyte of empty objects": Lie(filled("[", "{},", "1]")),
    "a mebibyte of names": Lie(filled("{", '"n%06d":1,', '"z":1}')),
    "a mebibyte of exact figures": Lie(filled("[", "1.%06d,", "1]")),
    "a mebibyte of single digits": Lie(filled("[", "1,", "1]")),
    "a mebibyte of elements": Lie(filled("<r>", "<a/>", "</r>"), described=XML),
    "a mebibyte of attributes": Lie(filled("<r ", 'n%06d="" ', "/>"), described=XML),
    "a mebibyte of texts": Lie(filled("<r>", "<a>%06d</a>", "</r>"), described=XML),
    "as many names as are read": Lie(filled("{", '"n%06d":1.5,', '"z":1}', READ)),
    "as many figures as are read": Lie(filled("[", "1.%06d,", "1]", READ)),
    "as many lists as are read": Lie(filled("[", "[],", "1]", READ // 2)),
    "as many texts as are read": Lie(
        filled("<r>", '<a b="1">%06d</a>', "</r>", READ), described=XML
    ),
}  # fmt: skip

USELESS = {**BROKEN, **ENDLESS}
PACKED = {
    "/packed-lie": says(
        answered(200, gzip.compress(b"[" * 1_000_000), Content_Encoding="gzip")
    )
}


def set_lies(server: HostileServer) -> dict[str, tuple[str, Lie]]:
    """Let the server tell every lie; its URL and what has to come of it, by key."""
    paths = [*USELESS, *PACKED]
    found = {f"path_{n}": (server.url(path), Lie(b"")) for n, path in enumerate(paths)}
    server.script("/packed-lie", PACKED.values())
    for n, lie in enumerate(LIES.values()):
        found[f"lie_{n}"] = (server.script(f"/lie/{n}", [good(lie.body)]), lie)
    return found


def names() -> dict[str, str]:
    """Every key with the name of its case."""
    paths = {f"path_{n}": path for n, path in enumerate([*USELESS, *PACKED])}
    return paths | {f"lie_{n}": name for n, name in enumerate(LIES)}


def workshop(database: str) -> Services:
    """Services that fetch within small limits, at a time that stands still."""
    fetcher = CachedFetcher(Keeping(), reach=REACH, limits=LIMITS)
    settings = Settings(database=database)
    return compose(settings, clock=StillClock(), fetcher=fetcher)


def described(url: str, lie: Lie) -> dict[str, Any]:
    """The description of a feed that tells a lie."""
    whole = FEED | {"url": url} | lie.described
    return {name: value for name, value in whole.items() if value is not None}


def set_honest_up(services: Services, server_url: str) -> None:
    """Set up the honest feed and fetch its price."""
    services.feeds.put("honest", FEED | {"url": server_url}, expected=None)
    (result,) = services.spot_prices.fetch("honest")
    if result.outcome != "accepted":
        raise LookupError(result)
