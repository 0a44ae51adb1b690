"""The bench log as CSV files."""

from __future__ import annotations

from functools import partial

from api.endpoint import Call, Examples, Reply, Routes
from api.ports.jobs import JobFilter
from api.problems import CONFLICT, NOT_FOUND, SPOT_STALE, SPOT_UNAVAILABLE
from api.resources.csv_files import exported, imported
from api.resources.jobs import ADDRESS
from api.schemas.job_files import LogExportQuery, LogImportDocument, LogImportQuery
from api.security import BENCH
from api.services.csv_table import CsvForm
from api.text_body import CSV

routes = Routes(
    "job_files",
    title="Files of jobs",
    about="A week of the bench log from a spreadsheet in one act, and back.",
)
_FILE = (
    "job,sku,size,outcome,stage,Falten,coins,coin_cost,sold_price,completed_at\r\n"
    "K-17,ring-50s-large,10,good,,8.25,1,17.40,189.95,\r\n"
    "K-17,,,scrapped,fold,9.5,1,17.40,,\r\n"
)


@routes.operation(
    "POST",
    f"{ADDRESS}/import",
    scope=BENCH,
    summary="Import a bench log",
    query=LogImportQuery(),
    takes=CSV,
    answers={200: LogImportDocument()},
    problems=(CONFLICT, NOT_FOUND, SPOT_UNAVAILABLE, SPOT_STALE),
    examples=Examples(
        body=_FILE, query={"columns": "minutes:fold=Falten", "dry_run": "true"}
    ),
)
def import_jobs(call: Call) -> Reply:
    """Write down what a CSV file says of jobs, all of it or nothing.

    One row is an attempt, or what is so of the whole job, or both. Jobs are named by
    number, id, reference, or by their quote; one that is not there is opened for the
    quote of that number, or for the sku and size (US) beside it. With a completed_at, a
    day or a moment, the job is completed. A row that is known already changes nothing,
    so a file may be sent again, with more rows, too; a name in the column attempt has
    a row take the place of its like. Columns are job, sku, size, quantity, attempt,
    line (from 1), outcome, stage, minutes:STAGE, visits:STAGE, slug_g, bored_g,
    finished_g, note, coins, coin_cost, completed_at, and what is known of the money by
    its member's name. Every row at fault is named by its number; the header is row 1.
    """
    return imported(call, call.services.bench.files.import_csv)


@routes.operation(
    "GET",
    f"{ADDRESS}/export",
    scope=BENCH,
    summary="Export the bench log",
    query=LogExportQuery(),
    gives=CSV,
    answers={200: None},
    answer_headers={"Content-Disposition": "Suggests a name for the file."},
    examples=Examples(
        query={"week": "2026-W48", "delimiter": ";", "decimal": ","},
        answer="job;attempt;line;outcome;stage;slug_g;minutes:fold\r\n"
        "J2026-0017;#1;1;good;;3,61;8,25\r\n",
    ),
)
def export_jobs(call: Call) -> Reply:
    """Write jobs as a CSV file that an import reads back; newest first.

    Texts that a spreadsheet would take for a formula begin with an apostrophe, which
    an import takes away again.
    """
    asked = dict(call.query)
    wanted = JobFilter(week=asked.pop("week", None))
    export = partial(call.services.bench.files.export_csv, wanted=wanted)
    return exported("bench-log.csv", export, CsvForm(**asked))
