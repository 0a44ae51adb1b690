"""Bench logs as files, on the wire: how they are written, and what they change."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError

from api.schemas.document import Answer, Document
from api.schemas.estimate_parts import MOST_COUNT
from api.schemas.fields import (
    Choice,
    Field,
    ListOf,
    Part,
    StrictBoolean,
    StrictInteger,
    Text,
)
from api.schemas.job_documents import JobNumberText
from api.schemas.jobs import WeekText
from api.schemas.listings import DELIMITERS, MARKS, Truth
from api.schemas.telling import told

MOST_ROWS = 10_000
_HEADING = r"[A-Za-z0-9_:]+=[^,=]+"


class LogExportQuery(Document):
    """Which jobs, and how the file is written."""

    week = told(WeekText, "Only completed in it, as in 2026-W48.")
    delimiter = told(Choice, "What stands between cells.", DELIMITERS, load_default=",")
    decimal = told(Choice, "What stands before decimals.", MARKS, load_default=".")


class ColumnsText(Field):
    """Which of our columns stand under other headings: minutes:fold=Falten."""

    pattern = rf"^{_HEADING}(,{_HEADING})*$"

    def keywords(self) -> Mapping[str, Any]:
        """The pattern."""
        return {"type": "string", "pattern": self.pattern, "maxLength": 4000}

    def _deserialize(self, value: str, *_: Any, **__: Any) -> dict[str, str]:
        if not re.fullmatch(self.pattern, value):
            raise ValidationError(
                "this has to be pairs such as minutes:fold=Falten,job=Auftrag; a "
                "heading holds no comma or ="
            )
        pairs = [pair.split("=") for pair in value.split(",")]
        found = {name: heading.strip() for name, heading in pairs}
        if len(found) < len(pairs) or not all(found.values()):
            raise ValidationError("each column of ours is mapped once, to some heading")
        return found


class LogImportQuery(Document):
    """How the file is written, and what is to be done with it."""

    delimiter = told(Choice, "What stands between cells.", DELIMITERS, load_default=",")
    decimal = told(Choice, "What stands before decimals.", MARKS, load_default=".")
    columns = told(
        ColumnsText,
        "Which of our columns have other headings in the file, as "
        "minutes:fold=Falten,job=Auftrag.",
        load_default=dict,
    )
    dry_run = told(Truth, "Only say what would change; else it is carried out.")


class JobChangeDocument(Answer):
    """What a file does to a job."""

    job = told(Text, "What the file calls it.", most=2000)
    number = told(
        JobNumberText, "Its number; null: it would be opened.", allow_none=True
    )
    row = told(StrictInteger, "First of its rows.", least=1, most=MOST_COUNT)
    change = told(Choice, "What becomes of it.", ("opened", "changed"))
    completed = told(StrictBoolean, "Whether the file completes it.")
    attempts_added = told(StrictInteger, "New ones.", least=0, most=MOST_COUNT)
    attempts_changed = told(StrictInteger, "Others.", least=0, most=MOST_COUNT)
    members = told(ListOf, "What else is new.", Text(most=40), most=40)


class LogImportDocument(Answer):
    """What a file writes into the bench log, or would write."""

    dry_run = told(StrictBoolean, "Whether nothing was written.")
    rows = told(StrictInteger, "Rows read.", least=0, most=MOST_COUNT)
    opened = told(StrictInteger, "Jobs opened.", least=0, most=MOST_COUNT)
    changed = told(StrictInteger, "Jobs changed.", least=0, most=MOST_COUNT)
    completed = told(StrictInteger, "Jobs completed.", least=0, most=MOST_COUNT)
    unchanged = told(StrictInteger, "Jobs as before.", least=0, most=MOST_COUNT)
    attempts_added = told(StrictInteger, "Of all jobs.", least=0, most=MOST_COUNT)
    changes = told(
        ListOf,
        "Every job that is opened or changed.",
        Part(JobChangeDocument),
        most=MOST_ROWS,
    )
    ignored = told(
        ListOf,
        "Headings in the file that mean nothing here.",
        Text(most=2000),
        most=1000,
    )
