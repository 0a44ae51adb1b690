"""Feeds of spot prices: what one is, what came of asking it, what is kept of both."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

from api.ports.errors import ServiceError

if TYPE_CHECKING:
    from pricing.spot_guard import Finding

FeedFormat = Literal["json", "xml", "csv", "ecb"]
FEED_FORMATS: tuple[FeedFormat, ...] = ("json", "xml", "csv", "ecb")
Side = Literal["bid", "ask", "mid"]
SIDES: tuple[Side, ...] = ("bid", "ask", "mid")
FeedUnit = Literal["troy_ounce", "gram", "kilogram"]
FEED_UNITS: tuple[FeedUnit, ...] = ("troy_ounce", "gram", "kilogram")
DecimalMark = Literal["", ".", ","]
DECIMAL_MARKS: tuple[DecimalMark, ...] = ("", ".", ",")

RFC_3339 = "rfc3339"
EPOCH_S = "epoch_s"
EPOCH_MS = "epoch_ms"
DATE = "date"
TIME_FORMATS = (RFC_3339, EPOCH_S, EPOCH_MS, DATE)
"""Ways to write a time that have a name; any other is a strptime pattern."""

FetchOutcome = Literal["accepted", "held", "refused", "ignored", "failed"]
FETCH_OUTCOMES: tuple[FetchOutcome, ...] = (
    "accepted",
    "held",
    "refused",
    "ignored",
    "failed",
)


class FeedFailed(ServiceError):
    """A feed could not be asked, or its answer holds no price that can be read.

    Attributes:
        reason: a short code of the cause, such as ``timeout`` or ``not_found``.
        message: the same in plain words, for the person who set the feed up.
    """

    code = "feed_failed"

    def __init__(self, reason: str, message: str) -> None:
        super().__init__(message)
        self.reason = reason


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedTime:
    """Where a feed says how old its price is, and how it writes that.

    Attributes:
        path: of the timestamp, as ``Feed.price`` has it.
        format: one of ``TIME_FORMATS``, or a strptime pattern.
        zone: IANA name of the zone of times that bring no offset.
        at: the time of day that a date alone stands for, in ``zone``.
    """

    path: str
    format: str = RFC_3339
    zone: str = "Europe/London"
    at: time = time(12)


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvLayout:
    """How a CSV answer is laid out; without a header, columns count from 1."""

    delimiter: str = ","
    header: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedLimits:
    """What a price of this feed has to keep to before it is believed.

    Attributes:
        lowest, highest: the band of possible prices [currency/unit of metal].
        jump: largest step from the last accepted price [share of it].
        spread: largest difference between bid and ask [share of the middle].
        second_source: largest difference to the second source [share].
    """

    lowest: Decimal = Decimal(1)
    highest: Decimal = Decimal(1000)
    jump: Decimal = Decimal("0.08")
    spread: Decimal = Decimal("0.05")
    second_source: Decimal = Decimal("0.03")


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """A source of prices, as the workshop described it.

    Attributes:
        key: the name it goes by; the source of its prices.
        metal: what one unit of is priced: ``XAG``, one troy ounce of silver, or
            the ISO 4217 code of a currency.
        currency: ISO 4217 code of the price; empty for ``ecb``, of which every
            currency is read.
        price, bid, ask: paths: an RFC 6901 pointer or RFC 9535 query in JSON, an
            element path (with ``/@name`` for an attribute) in XML, a column in
            CSV; None where there is none.
        side: which of bid, ask and their middle is the price.
        invert: the feed gives units of metal for one unit of currency.
        rows: path of the array or elements of dated rows, of which the latest
            counts; the other paths then begin at a row. None for a single price.
        decimal_mark: mark before the decimals in texts; empty where unknown.
        time: None for ``ecb`` alone.
        max_age_hours: oldest price of use [h of market time].
        headers: name and value of what is sent along, nothing secret.
        secret_headers: names of headers whose values are kept as secrets.
        second_source: key of the feed to compare with, or empty.
        may_display: whether the licence lets the price be shown to others.
    """

    key: str = ""
    title: str
    url: str
    format: FeedFormat
    metal: str = "XAG"
    currency: str = ""
    price: str | None = None
    bid: str | None = None
    ask: str | None = None
    side: Side = "mid"
    invert: bool = False
    rows: str | None = None
    unit: FeedUnit = "troy_ounce"
    hundredths: bool = False
    decimal_mark: DecimalMark = ""
    time: FeedTime | None = None
    max_age_hours: Decimal = Decimal(26)
    headers: tuple[tuple[str, str], ...] = ()
    secret_headers: tuple[str, ...] = ()
    csv: CsvLayout = CsvLayout()
    closed_dates: tuple[date, ...] = ()
    limits: FeedLimits = FeedLimits()
    second_source: str = ""
    licence_note: str = ""
    may_display: bool = False
    enabled: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedRow:
    """A feed as stored: its document is canonical JSON text."""

    key: str
    document: str
    revision: int
    changed_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """A feed's answer; the body is at most as large as the fetcher allows.

    Attributes:
        failure: why the feed could not be asked now, where an older answer of it
            serves instead; None where nothing went wrong.
    """

    body: bytes = field(repr=False)
    content_type: str = ""
    from_cache: bool = False
    failure: FeedFailed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FetchRecord:
    """One asking of a feed and what came of it; ``id`` is 0 until it is stored.

    Attributes:
        entry_id: the recorded spot price, or None where none was recorded.
        duration_ms: time it took [ms].
    """

    id: int = 0
    feed: str
    at: datetime
    outcome: FetchOutcome
    findings: tuple[Finding, ...] = ()
    entry_id: int | None = None
    duration_ms: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class FetchResult:
    """What one price of one feed became, for the person who asked.

    Attributes:
        price: what the feed said [currency/unit of metal], None where it failed.
        as_of: the feed's own timestamp.
    """

    feed: str
    outcome: FetchOutcome
    findings: tuple[Finding, ...] = ()
    entry_id: int | None = None
    price: Decimal | None = None
    currency: str = ""
    as_of: datetime | None = None
    from_cache: bool = False
    duration_ms: int = 0
