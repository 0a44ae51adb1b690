"""What jobs are named by and asked for with: ids, paths, queries, tables by stage."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError

from api.schemas.document import Document
from api.schemas.exact import DecimalText
from api.schemas.fields import (
    Choice,
    Field,
    PatternText,
    QueryInteger,
    Text,
)
from api.schemas.listings import SkuText
from api.schemas.quotes import QuoteIdText
from api.schemas.telling import told

STATUSES = ("open", "completed")
OUTCOMES = ("open", "good", "scrapped")
OUTCOME = "good, scrapped, or open while it is at the bench."
MOST_JOBS = 100
MOST_ATTEMPTS = 1000
MOST_COINS = 100
MOST_LINE = 49
MOST_NOTE = 200
MOST_VISITS = 1000
MOST_STAGES = 200
MOST_REFERENCE = 64


class JobIdText(PatternText):
    """The id of a job."""

    pattern = "^[A-Za-z0-9_-]{16,64}$"
    form = "the id of a job: 16 to 64 letters, digits, hyphens and underscores"


class WeekText(PatternText):
    """An ISO week."""

    pattern = "^[0-9]{4}-W[0-9]{2}$"
    form = "an ISO week, such as 2026-W48"


class MinutesText(DecimalText):
    """Attended minutes [min]."""

    places = 4


class ByStage(Field):
    """Values by the key of a stage."""

    def __init__(self, inner: Field, **settings: Any) -> None:
        super().__init__(**settings)
        self.inner = inner
        self.value_field = inner  # as of the library's own maps, for forms

    def keywords(self) -> Mapping[str, Any]:
        """An object whose members are values of the one kind."""
        kind = "string" if isinstance(self.inner, DecimalText) else "integer"
        value = {"type": kind, **self.inner.keywords()}
        return {
            "type": "object",
            "additionalProperties": value,
            "maxProperties": MOST_STAGES,
        }

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> dict[str, Any]:
        if not isinstance(value, dict) or len(value) > MOST_STAGES:
            raise ValidationError(
                f"this has to be an object of up to {MOST_STAGES} stages, by their keys"
            )
        found: dict[str, Any] = {}
        faults: dict[str, Any] = {}
        for key, each in value.items():
            try:
                found[key] = self.inner.deserialize(each)
            except ValidationError as error:
                faults[key] = error.messages
        if faults:
            raise ValidationError(faults)
        return found

    def _serialize(self, value: Any, *_: Any, **__: Any) -> Any:
        return {k: self.inner._serialize(v, "", None) for k, v in value.items()}  # noqa: SLF001 - the library's own hook


class JobPath(Document):
    """Which job."""

    job_id = told(JobIdText, "The id of a job.", required=True)


class AttemptPath(JobPath):
    """Which attempt of a job."""

    n = told(QueryInteger, "Its number.", least=1, most=2**31 - 1, required=True)


class JobsQuery(Document):
    """Which jobs, and which page of them."""

    status = told(Choice, "Only such.", STATUSES)
    week = told(WeekText, "Only completed in it, as in 2026-W48.")
    quote_id = told(QuoteIdText, "Only that of this quote.")
    sku = told(SkuText, "Only of this listing.")
    text = told(Text, "Found in number, reference or title, in any case.", most=100)
    limit = told(
        QueryInteger,
        "At most so many jobs.",
        least=1,
        most=MOST_JOBS,
        load_default=50,
    )
    cursor = told(
        Text,
        "Where the page begins: only ever taken from a Link header, with the same "
        "filters.",
        least=1,
        most=400,
    )
