"""What margin checks are asked for with."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar

from marshmallow import ValidationError, validates_schema

from api.schemas.as_written import DayText
from api.schemas.csv_files import ExportQuery
from api.schemas.document import Document, ListOf
from api.schemas.fields import PatternText, QueryInteger, StrictInteger
from api.schemas.telling import told
from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek

MOST_WEEKS_JUDGED = 104
WEEKS_JUDGED = 12
MOST_PATHS = 500
MOST_DAYS = 3660
_WINDOW = "How many weeks, to the last day, the stages are judged by."


class WeekText(PatternText):
    """An ISO week, Monday to Sunday in the workshop's time zone (ISO 8601)."""

    pattern = "^[0-9]{4}-W[0-9]{2}$"
    form = "an ISO week, such as 2026-W48"

    def _deserialize(self, value: Any, *rest: Any, **named: Any) -> IsoWeek:  # type: ignore[override]
        text = super()._deserialize(value, *rest, **named)
        try:
            return IsoWeek.parse(text)
        except InvalidInput as error:
            raise ValidationError(error.message) from None


class WholeDay(DayText):
    """A day, read as one."""

    def _deserialize(self, value: Any, *rest: Any, **named: Any) -> date:  # type: ignore[override]
        text = super()._deserialize(value, *rest, **named)
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise ValidationError(f"there is no day {text}") from None


class ProposalPathText(PatternText):
    """Where in the price book a proposal is."""

    pattern = r"^[a-z_]{1,64}\.[A-Za-z0-9_.-]{1,128}\.[a-z_]{1,64}$"
    form = "the path of a proposal, such as stages.fold.scrap"


class WeekPath(Document):
    """Which week."""

    week = told(WeekText, "An ISO week, such as 2026-W48.", required=True)


class WindowQuery(Document):
    """By how many weeks stages are judged."""

    window_weeks = told(
        QueryInteger,
        _WINDOW,
        least=1,
        most=MOST_WEEKS_JUDGED,
        load_default=WEEKS_JUDGED,
    )


class DaysQuery(WindowQuery):
    """From which day to which."""

    class Meta(WindowQuery.Meta):
        """``from`` is a word of the language, and cannot be written above."""

        include: ClassVar = {
            "from": told(WholeDay, "The first day.", required=True, attribute="first")
        }

    to = told(
        WholeDay, "The last day, which counts too.", required=True, attribute="last"
    )

    @validates_schema
    def _refuse_backwards(self, data: dict[str, Any], **_: Any) -> None:
        if (data["last"] - data["first"]).days not in range(MOST_DAYS):
            raise ValidationError(
                f"'to' is the last day: the same as 'from' or later, and within "
                f"{MOST_DAYS} days of it",
                "to",
            )


class CheckFileQuery(ExportQuery, WindowQuery):
    """How the file of a week is written."""


class DaysFileQuery(ExportQuery, DaysQuery):
    """From which day to which, and how the file is written."""

    class Meta(DaysQuery.Meta):
        """As of the days."""


class AcceptProposalsBody(Document):
    """Which proposals are accepted."""

    paths = told(
        ListOf,
        "Paths of proposals of that week.",
        ProposalPathText(),
        least=1,
        most=MOST_PATHS,
        required=True,
    )
    window_weeks = told(
        StrictInteger,
        f"{_WINDOW} As they were asked for.",
        least=1,
        most=MOST_WEEKS_JUDGED,
        load_default=WEEKS_JUDGED,
    )
