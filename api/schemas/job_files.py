"""Bench logs as files, on the wire: how they are written, and what they change."""

from __future__ import annotations

from api.schemas.csv_files import ExportQuery, HeadingsText
from api.schemas.document import Answer
from api.schemas.estimate_parts import MOST_COUNT
from api.schemas.fields import (
    Choice,
    ListOf,
    Part,
    StrictBoolean,
    StrictInteger,
    Text,
    Truth,
)
from api.schemas.job_documents import JobNumberText
from api.schemas.jobs import WeekText
from api.schemas.telling import told

MOST_ROWS = 10_000


class LogExportQuery(ExportQuery):
    """Which jobs, and how the file is written."""

    week = told(WeekText, "Only completed in it, as in 2026-W48.")


class LogImportQuery(ExportQuery):
    """How the file is written, and what is to be done with it."""

    columns = told(
        HeadingsText,
        "Which of our columns have other headings in the file, as "
        "minutes:fold=Falten,job=Auftrag.",
        "[A-Za-z0-9_:]+",
        "minutes:fold=Falten,job=Auftrag;",
        most=4000,
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
