"""What is written down for jobs: opened, logged, completed, timed."""

from __future__ import annotations

from api.schemas.document import Document
from api.schemas.estimates import SizeBody, SpotBody
from api.schemas.fields import (
    Bounds,
    Choice,
    KeyText,
    ListOf,
    MassText,
    MoneyText,
    Part,
    StrictInteger,
    Text,
    UtcTime,
)
from api.schemas.jobs import (
    MOST_ATTEMPTS,
    MOST_COINS,
    MOST_LINE,
    MOST_NOTE,
    MOST_REFERENCE,
    MOST_VISITS,
    OUTCOME,
    OUTCOMES,
    ByStage,
    MinutesText,
)
from api.schemas.listings import SkuText
from api.schemas.quotes import QuoteIdText
from api.schemas.telling import told
from pricing.wish import MOST_PIECES

_AMOUNT = Bounds(least=0, below=10**9)
_MASS = Bounds(above=0, below=10**4)
_LINE = "Which line of the job, from 0."


class CoinsBody(Document):
    """Coins that were taken at one price."""

    line = told(StrictInteger, _LINE, least=0, most=MOST_LINE, load_default=0)
    count = told(StrictInteger, "How many.", least=1, most=10_000, required=True)
    unit_cost = told(
        MoneyText, "What each cost [currency].", bounds=_AMOUNT, required=True
    )


class AttemptBody(Document):
    """One coin put to work."""

    line = told(StrictInteger, _LINE, least=0, most=MOST_LINE, load_default=0)
    outcome = told(Choice, OUTCOME, OUTCOMES, required=True)
    stage = told(KeyText, "Where it was scrapped; not for others.", load_default=None)
    minutes = told(
        ByStage,
        "Attended minutes by stage [min]; what is left out was not timed.",
        MinutesText(bounds=Bounds(least=0, below=10**4)),
        load_default=dict,
    )
    visits = told(
        ByStage,
        "How often it came to a stage; left out, once to each up to its end.",
        StrictInteger(least=1, most=MOST_VISITS),
        load_default=dict,
    )
    slug_g = told(
        MassText, "The slug on the scale [g].", bounds=_MASS, load_default=None
    )
    bored_g = told(MassText, "What was bored out [g].", bounds=_MASS, load_default=None)
    finished_g = told(MassText, "The ring [g].", bounds=_MASS, load_default=None)
    note = told(Text, "In a line.", most=MOST_NOTE, load_default="")


def _money(about: str) -> MoneyText:
    return told(
        MoneyText,
        f"{about} [currency]; null: not known, and taken as planned.",
        bounds=_AMOUNT,
        allow_none=True,
        load_default=None,
    )


class MoneyBody(Document):
    """What was paid and received, as far as it is known."""

    sold_price = _money("What the buyer paid for the goods, tax and all")
    shipping_charged = _money("The same for sending them")
    tax = _money("All the tax inside both, if another share of them than planned")
    fees = _money("What the channel took")
    shipping_paid = _money("What sending cost")
    recovery_sold = _money("What slugs, filings and scrap brought in")
    labour_rate = _money("Wage of an hour at the bench, for each hour")
    consumables_and_tools = _money("Measured use and wear")


class LogBody(MoneyBody):
    """All that is written down for a job."""

    coins = told(
        ListOf,
        "Coins taken; none: not known, and taken as planned.",
        Part(CoinsBody),
        most=MOST_COINS,
        load_default=list,
    )
    attempts = told(
        ListOf,
        "Every coin put to work; left out, those that are there stay.",
        Part(AttemptBody),
        most=MOST_ATTEMPTS,
        load_default=None,
    )
    completed_at = told(
        UtcTime,
        "When it was done; its day in the workshop decides the week it counts in.",
        allow_none=True,
        load_default=None,
    )


class JobBody(LogBody):
    """What a job is for: a quote, or pieces of a listing; and what is known of it."""

    quote_id = told(QuoteIdText, "Id of an accepted quote.", load_default=None)
    sku = told(SkuText, "A listing, in place of a quote.", load_default=None)
    size = told(Part, "Finger size, of a listing.", SizeBody, load_default=None)
    quantity = told(
        StrictInteger,
        "Pieces of a listing.",
        least=1,
        most=MOST_PIECES,
        load_default=1,
    )
    spot = told(
        Part,
        "To plan pieces of a listing at; left out, the price in force.",
        SpotBody,
        load_default=None,
    )
    reference = told(
        Text,
        "What your own files call it.",
        least=1,
        most=MOST_REFERENCE,
        load_default=None,
    )


class CompleteBody(MoneyBody):
    """What becomes known as a job is completed; what is left out stays."""

    coins = told(
        ListOf,
        "Coins taken; left out, those that are written down.",
        Part(CoinsBody),
        most=MOST_COINS,
        load_default=None,
    )
    completed_at = told(
        UtcTime,
        "When it was done; left out, now. Its day in the workshop decides the week.",
        load_default=None,
    )


class TimerBody(Document):
    """Where the stopwatch runs."""

    stage = told(KeyText, "Key of a stage of the line.", required=True)
    line = told(StrictInteger, _LINE, least=0, most=MOST_LINE, load_default=0)
