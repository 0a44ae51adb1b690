"""Margin checks: a week at the bench, or any days, planned against realised."""

from __future__ import annotations

from typing import Any

from api.endpoint import Call, Examples, Reply, Routes
from api.problems import NOT_FOUND
from api.schemas.margin_check_documents import MarginCheckDocument
from api.schemas.margin_checks import (
    CheckFileQuery,
    DaysFileQuery,
    DaysQuery,
    WeekPath,
    WindowQuery,
)
from api.security import BENCH
from api.services.csv_table import CsvForm
from api.services.margin_checks.check import MarginCheck
from api.services.margin_checks.csv_file import csv_text
from api.services.margin_checks.document import check_document
from api.services.margin_checks.margin_checks import MOST_JOBS
from api.text_body import CSV

ADDRESS = "/v1/margin-checks"
PATH = {"week": "2026-W48"}
_DAYS = {"from": "2026-11-01", "to": "2026-11-30"}
_NAMED = {"Content-Disposition": "Suggests a name for the file."}
_FILE = (
    "rows_of;key;title;from;to;currency;jobs;pieces;coins_planned;coins;planned_margin;"
    "margin;price;fees;metal_price;spoilage;recovery;labour_rate;labour_efficiency;"
    "overhead;consumables_and_tools;shipping;tax;planned_minutes;minutes;tried;failed;"
    "redone;timed;under_floor;cause\r\n"
    "stage;fold;Fold over the cone;;;;;;;;;;;;;;;;-3,20;;;;;96,00;101,50;12;1;0;"
    "11;;\r\n"
)

routes = Routes(
    "margin_checks",
    title="Margin checks",
    about="Whether the margin that was planned is the margin that came, what took the "
    "difference, and what needs attention. Worked out from completed jobs when asked "
    "for; for the maker's own management, and no bookkeeping or tax advice.",
)


@routes.operation(
    "GET",
    f"{ADDRESS}/<week>",
    scope=BENCH,
    summary="Check a week",
    path=WeekPath(),
    query=WindowQuery(),
    answers={200: MarginCheckDocument()},
    problems=(NOT_FOUND,),
    examples=Examples(path=PATH, query={"window_weeks": "12"}),
)
def read_margin_check(call: Call) -> Reply:
    """Tell of the jobs that were completed in a week of the workshop's time zone.

    The parts of 'bridge' add up exactly to the realised less the planned margin, of
    the whole as of each coin and job. Stages are judged by the weeks up to this one,
    and nothing is said where there are too few tries.
    """
    return Reply(check_document(_week(call)))


@routes.operation(
    "GET",
    ADDRESS,
    scope=BENCH,
    summary="Check any days",
    query=DaysQuery(),
    answers={200: MarginCheckDocument()},
    problems=(NOT_FOUND,),
    examples=Examples(query=_DAYS),
)
def read_margin_check_of_days(call: Call) -> Reply:
    """Tell of the jobs that were completed from one day to another."""
    return Reply(check_document(_days(call)))


@routes.operation(
    "GET",
    f"{ADDRESS}/<week>/csv",
    scope=BENCH,
    summary="Check a week, as a file",
    path=WeekPath(),
    query=CheckFileQuery(),
    gives=CSV,
    answers={200: None},
    problems=(NOT_FOUND,),
    answer_headers=_NAMED,
    examples=Examples(
        path=PATH, query={"delimiter": ";", "decimal": ","}, answer=_FILE
    ),
)
def export_margin_check(call: Call) -> Reply:
    """Write the check as a CSV file: all, weeks, coins, stages and jobs.

    'rows_of' says what a row is about; cells that do not apply to it are empty.
    """
    return _file(call, _week(call, most_jobs=MOST_JOBS))


@routes.operation(
    "GET",
    f"{ADDRESS}/csv",
    scope=BENCH,
    summary="Check any days, as a file",
    query=DaysFileQuery(),
    gives=CSV,
    answers={200: None},
    problems=(NOT_FOUND,),
    answer_headers=_NAMED,
    examples=Examples(query=_DAYS | {"delimiter": ";", "decimal": ","}, answer=_FILE),
)
def export_margin_check_of_days(call: Call) -> Reply:
    """Write the check as a CSV file, as for a week."""
    return _file(call, _days(call, most_jobs=MOST_JOBS))


def _week(call: Call, **more: Any) -> MarginCheck:
    window = call.query["window_weeks"]
    checks = call.services.bench.margin_checks
    found: MarginCheck = checks.week(call.path["week"], window_weeks=window, **more)
    return found


def _days(call: Call, **more: Any) -> MarginCheck:
    asked = call.query
    found: MarginCheck = call.services.bench.margin_checks.days(
        asked["first"], asked["last"], window_weeks=asked["window_weeks"], **more
    )
    return found


def _file(call: Call, check: MarginCheck) -> Reply:
    form = CsvForm(delimiter=call.query["delimiter"], decimal=call.query["decimal"])
    name = check.name.replace(" ", "-")
    named = f'attachment; filename="margin-check-{name}.csv"'
    text = csv_text(check, form).encode()
    return Reply(text, headers={"Content-Disposition": named})
