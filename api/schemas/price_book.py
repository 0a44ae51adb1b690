"""The price book on the wire: the whole document, its versions, what changed."""

from __future__ import annotations

from api.schemas.described import Described, Line, Many, Table
from api.schemas.document import Answer, Document
from api.schemas.fields import (
    CurrencyText,
    ListOf,
    Part,
    QueryInteger,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.price_book_bench import (
    CalibrationBody,
    CoinBuyingBody,
    ConsumableBody,
    FormingBody,
    LabourBody,
    RecoveryBody,
    StageBody,
    ToolBody,
)
from api.schemas.price_book_selling import (
    AfterSaleBody,
    ChannelBody,
    ExtraBody,
    PolicyBody,
)

MOST_VERSION = 2**31 - 1
MOST_VERSIONS = 100
_MOST_CHANGES = 100_000
_LONGEST_CHANGE = 200_000


class PriceBookBody(Described):
    """The workshop's settings. Refused whole, with every fault, or taken whole."""

    title = Line("What the book is called.", needed=True)
    currency = CurrencyText(
        required=True,
        metadata={"description": "Every amount of the book is in it (ISO 4217)."},
    )
    timezone = Line("Time zone of the workshop, like Europe/Vienna.", needed=True)
    labour = Table(LabourBody, "Wage and overhead.", needed=True)
    consumables = Many(ConsumableBody, "What is used up.")
    tools = Many(ToolBody, "What wears.")
    stages = Many(StageBody, "The route, in order.", least=1)
    recovery = Table(RecoveryBody, "What scrap brings in.")
    after_sale = Table(AfterSaleBody, "Exchanges and remakes.")
    coin_buying = Table(CoinBuyingBody, "How coins are paid for.")
    channels = Many(ChannelBody, "Where rings are sold.", least=1)
    policies = Many(PolicyBody, "How cost becomes price.", least=1)
    extras = Many(ExtraBody, "What can be added to a piece.")
    forming = Table(FormingBody, "The limits of this bench.")
    calibrations = Many(CalibrationBody, "Scale readings over the model, by coin.")


class NoteQuery(Document):
    """Why the book is changed."""

    note = Text(
        most=200,
        load_default="",
        metadata={"description": "Why, for the list of versions."},
    )


class VersionsQuery(Document):
    """Which part of the history."""

    limit = QueryInteger(
        least=1,
        most=MOST_VERSIONS,
        load_default=50,
        metadata={"description": "At most so many versions."},
    )
    before = QueryInteger(
        least=1,
        most=MOST_VERSION,
        load_default=None,
        metadata={"description": "Only versions older than this one."},
    )


class VersionPath(Document):
    """Which version."""

    version = QueryInteger(
        least=1,
        most=MOST_VERSION,
        required=True,
        metadata={"description": "The number of a version."},
    )


class BookVersionDocument(Answer):
    """One version: when, by whom, why."""

    version = StrictInteger(
        least=1, most=MOST_VERSION, metadata={"description": "Its number."}
    )
    created_at = UtcTime(metadata={"description": "When it came into force."})
    by = Text(
        most=200, metadata={"description": "The id of the key it came with, or ''."}
    )
    note = Text(most=200, metadata={"description": "Why, in a line."})


class BookVersionsDocument(Answer):
    """Versions of the price book, newest first."""

    versions = ListOf(
        Part(BookVersionDocument),
        most=MOST_VERSIONS,
        metadata={"description": "At most as many as asked for."},
    )


class ChangeDocument(Answer):
    """One difference, told for a person."""

    path = Text(
        most=1000,
        metadata={"description": "Where, by keys: stages.fold.minutes."},
    )
    before = Text(
        most=_LONGEST_CHANGE,
        allow_none=True,
        metadata={"description": "What stood there; null: nothing."},
    )
    after = Text(
        most=_LONGEST_CHANGE,
        allow_none=True,
        metadata={"description": "What stands there now; null: nothing."},
    )


class BookChangesDocument(Answer):
    """What one version changed."""

    version = StrictInteger(
        least=1, most=MOST_VERSION, metadata={"description": "The version."}
    )
    since = StrictInteger(
        least=1,
        most=MOST_VERSION,
        allow_none=True,
        metadata={"description": "The version before it; null for the first."},
    )
    changes = ListOf(
        Part(ChangeDocument),
        most=_MOST_CHANGES,
        metadata={"description": "Every difference, in the book's order."},
    )
