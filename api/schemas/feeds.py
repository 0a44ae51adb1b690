"""Feeds on the wire: described for a reader, read by the service that refuses them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import INCLUDE, ValidationError

from api.schemas.described import Described, Figure, Flag, Line, Many, Table, Word
from api.schemas.document import Answer, Document
from api.schemas.fields import (
    Choice,
    Field,
    KeyText,
    ListOf,
    Part,
    PatternText,
    QueryInteger,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.findings import MOST_FINDINGS, FindingDocument
from api.schemas.spot_prices import MOST_ID, OUTCOMES
from api.schemas.telling import told
from pricing.money import ONE, ZERO
from pricing.price_book.limits import HOURS, POSITIVE, Limits

FORMATS = ("json", "xml", "csv", "ecb")
UNITS = ("troy_ounce", "gram", "kilogram")
MARKS = ("", ".", ",")
DELIMITERS = (",", ";", "\t", "|")
SIDES = ("bid", "ask", "mid")
MOST_FETCHES = 100
_MOST_FEEDS = 10_000
_MOST_NAMES = 100
_MOST_MS = 2**31 - 1
_SHARE = Limits(over=ZERO, most=ONE, words="over 0 and at most 1 (0.08 means 8 %)")
_PATH = "JSON: a pointer (RFC 6901) or query (RFC 9535); XML: an element path, with \
/@name for an attribute; CSV: a column."


class FeedKeyText(PatternText):
    """The key of a feed; the source that its prices name."""

    pattern = "^[a-z][a-z0-9_]{0,39}$"
    form = "a key: 1 to 40 lower-case letters, digits and underscores, a letter first"


class HeaderTable(Field):
    """Headers by name, each with its value."""

    def keywords(self) -> Mapping[str, Any]:
        """An object whose members are texts."""
        value = {"type": "string", "minLength": 1, "maxLength": 200}
        return {"type": ["object", "null"], "additionalProperties": value}


class FeedTimeBody(Described):
    """Where and how the answer says of when its price is."""

    path = Line("Where the timestamp is, as for price.", needed=True)
    format = Line(
        "rfc3339 (if left out), epoch_s, epoch_ms, date, or a pattern such as "
        "%d.%m.%Y %H:%M."
    )
    zone = Line("Zone of times without an offset; Europe/London if left out.")
    at = Line("Time of day that a date alone stands for; 12:00 if left out.")


class CsvBody(Described):
    """How CSV is laid out; without a header, columns count from 1."""

    delimiter = Word(DELIMITERS, "What is between columns; a comma if left out.")
    header = Flag("Whether the first line names the columns; true if left out.")


class FeedLimitsBody(Described):
    """What a price has to keep to before it is believed."""

    lowest = Figure(POSITIVE, "Lowest price; 1 if left out [currency/unit].")
    highest = Figure(POSITIVE, "Highest price; 1000 if left out [currency/unit].")
    jump = Figure(_SHARE, "Largest step from the last price; 0.08 if left out.")
    spread = Figure(_SHARE, "Widest distance of bid and ask; 0.05 if left out.")
    second_source = Figure(
        _SHARE, "Widest distance to the second source; 0.03 if left out."
    )


class FeedBody(Described):
    """A source of prices. Refused whole, with every fault, or taken whole."""

    title = Line("What a person calls it.", needed=True)
    url = Line(
        "What is asked; https, unless the settings allow http.", needed=True, most=1000
    )
    format = told(
        Choice,
        "What it answers; ecb is the layout of the reference rates of the European "
        "Central Bank, of which every currency is read.",
        FORMATS,
        required=True,
    )
    metal = Line("XAG (if left out), or the code of a currency: a rate of exchange.")
    currency = Line("Currency of the price (ISO 4217); needed unless ecb.")
    price = Line(f"Where the price is. {_PATH}")
    bid = Line("Where the bid is, in place of price.")
    ask = Line("Where the ask is, in place of price.")
    side = Word(SIDES, "Which of bid, ask and their middle counts.")
    invert = Flag("Whether it gives metal for money instead of money for metal.")
    rows = Line("Where dated rows are; the latest counts, paths begin at a row.")
    unit = Word(UNITS, "What mass it prices; a troy ounce if left out.")
    hundredths = Flag("Whether it prices in cents or pence.")
    decimal_mark = Word(MARKS, "The mark before decimals in texts, where not plain.")
    time = Table(FeedTimeBody, "When the price was right; needed unless ecb.")
    max_age_hours = Figure(
        HOURS, "Oldest price of use; 26 if left out [h of open market]."
    )
    headers = told(HeaderTable, "What is sent along, nothing secret.", allow_none=True)
    secret_headers = Many(
        Text(least=1, most=60), "Names of headers whose values are set apart."
    )
    csv = Table(CsvBody, "For csv alone: how it is laid out.")
    closed_dates = Many(
        Text(least=10, most=10),
        "Closed days beside weekends and TARGET closing days, like 2026-12-24.",
    )
    limits = Table(FeedLimitsBody, "What a price has to keep to.")
    second_source = Line("Key of a feed to compare with.")
    licence_note = Line("What you may do with its prices.")
    may_display = Flag("Whether the licence lets others see them.")
    enabled = Flag("Whether it is asked with the others; true if left out.")


class FeedPath(Document):
    """Which feed."""

    key = told(FeedKeyText, "The key of a feed.", required=True)


class FetchesQuery(Document):
    """How much of the log."""

    limit = told(
        QueryInteger,
        "At most so many fetches.",
        least=1,
        most=MOST_FETCHES,
        load_default=20,
    )


class SecretsBody(Described):
    """Values of secret headers by name; one left out is no longer set."""

    class Meta:
        """The names are those of the feed's own headers."""

        unknown = INCLUDE

    def load(self, data: Any, **settings: Any) -> Any:
        """The values as they stand. Raises ValidationError; no message repeats one."""
        values = super().load(data, **settings)
        wrong = {
            name: ["the value of a header is text, in quotes"]
            for name, value in values.items()
            if not isinstance(value, str)
        }
        if wrong:
            raise ValidationError(wrong)
        return values


class FeedDocument(Answer):
    """A feed as it is set up."""

    key = told(FeedKeyText, "Its key, and the source its prices name.")
    changed_at = told(UtcTime, "When it was set up or changed.")
    secrets_set = told(
        ListOf,
        "Secret headers that have a value; the values are never shown.",
        Text(most=60),
        most=_MOST_NAMES,
    )
    secrets_missing = told(
        ListOf,
        "Secret headers without one; the feed is not asked before all are set.",
        Text(most=60),
        most=_MOST_NAMES,
    )
    document = told(Part, "Its description, without what is usual.", FeedBody)

    def arranged(self, obj: Any) -> Any:
        """The stored feed, with what it still needs."""
        wanted = obj.feed.secret_headers
        return {
            "key": obj.feed.key,
            "changed_at": obj.changed_at,
            "secrets_set": obj.secrets_set,
            "secrets_missing": [one for one in wanted if one not in obj.secrets_set],
            "document": obj.document,
        }


class FeedListDocument(Answer):
    """Every feed, by key."""

    feeds = told(ListOf, "Every feed.", Part(FeedDocument), most=_MOST_FEEDS)


class FetchRecordDocument(Answer):
    """One asking of a feed, and what came of it."""

    at = told(UtcTime, "When it was asked.")
    outcome = told(Choice, "What became of it; the gravest of all prices.", OUTCOMES)
    findings = told(
        ListOf, "Why, in plain words.", Part(FindingDocument), most=MOST_FINDINGS
    )
    entry_id = told(
        StrictInteger,
        "Id of the recorded entry; null: none was, or many.",
        least=1,
        most=MOST_ID,
        allow_none=True,
    )
    duration_ms = told(StrictInteger, "Time it took [ms].", least=0, most=_MOST_MS)


class FetchLogDocument(Answer):
    """The last times a feed was asked, newest first."""

    feed = told(KeyText, "Key of the feed.")
    fetches = told(
        ListOf, "At most as many as asked for.", Part(FetchRecordDocument), most=100
    )
