"""Listings as CSV files."""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import Any

from api.endpoint import Call, Examples, Reply, Routes
from api.errors import Refused
from api.problems import (
    INVALID_INPUT,
    NOT_FOUND,
    SPOT_STALE,
    SPOT_UNAVAILABLE,
)
from api.resources.listings import ADDRESS
from api.schemas.listing_documents import ImportDocument
from api.schemas.listings import ExportQuery, ImportQuery
from api.security import BENCH
from api.services.csv_table import CsvForm, RowFault, RowsRefused
from api.text_body import CSV

MOST_FAULTS = 5000
routes = Routes(
    "listing_files",
    title="Files of listings",
    about="All listings as a CSV file, for a spreadsheet, and back.",
)
_FILE = (
    "sku,Name,kind,coin,channel,policy,extras,locked,published,from,to,price\r\n"
    "ring-50s-file,Band ring,made_to_order,at_50s_1959_1973,own_shop,retail,,"
    "false,true,5,9.5,189.95\r\n"
    "ring-50s-file,Band ring,made_to_order,at_50s_1959_1973,own_shop,retail,,"
    "false,true,10,12,\r\n"
)


@routes.operation(
    "POST",
    f"{ADDRESS}/import",
    scope=BENCH,
    summary="Import listings",
    query=ImportQuery(),
    takes=CSV,
    answers={200: ImportDocument()},
    problems=(NOT_FOUND, SPOT_UNAVAILABLE, SPOT_STALE),
    examples=Examples(body=_FILE, query={"columns": "title=Name", "dry_run": "true"}),
)
def import_listings(call: Call) -> Reply:
    """Add and change listings as a CSV file says, all of it or nothing.

    One row is one band; rows with the same sku are one listing. What the file does not
    name stays as it is: other listings, other bands, and columns that are not there.
    A band takes the place of those it overlaps. The same file again changes nothing.
    Every row at fault is named, with its number; the header is row 1. A file holds up
    to 5,000 rows and 2 MB, in UTF-8, written as the parameters say.
    """
    asked = dict(call.query)
    dry_run = asked.pop("dry_run", False)
    try:
        report = call.services.listings.import_csv(
            call.text(), CsvForm(**asked), dry_run=dry_run
        )
    except RowsRefused as error:
        raise refusal_of_rows(error) from None
    return Reply(report.document())


@routes.operation(
    "GET",
    f"{ADDRESS}/export",
    scope=BENCH,
    summary="Export listings",
    query=ExportQuery(),
    gives=CSV,
    answers={200: None},
    answer_headers={"Content-Disposition": "Suggests a name for the file."},
    examples=Examples(
        query={"delimiter": ";", "decimal": ","},
        answer="sku;title;kind;coin;channel;policy;extras;locked;published;from;to;"
        "price\r\nring-50s;Band ring;made_to_order;at_50s_1959_1973;own_shop;retail;;"
        "false;true;5;9,5;189,95\r\n",
    ),
)
def export_listings(call: Call) -> Reply:
    """Write all listings as a CSV file, by sku, one row a band.

    Texts that a spreadsheet would take for a formula begin with an apostrophe, which
    an import takes away again.
    """
    file = io.StringIO(newline="")
    call.services.listings.export_csv(file.write, CsvForm(**call.query))
    named = {"Content-Disposition": 'attachment; filename="listings.csv"'}
    return Reply(file.getvalue().encode(), headers=named)


def refusal_of_rows(error: RowsRefused) -> Refused:
    """A file with faults as it is answered: every row at fault, by its number."""
    members: dict[str, Any] = {"errors": [*_items(error.rows[:MOST_FAULTS])]}
    if len(error.rows) > MOST_FAULTS:
        members["errors_left_out"] = len(error.rows) - MOST_FAULTS
    return Refused(INVALID_INPUT, error.message, members=members)


def _items(faults: Iterable[RowFault]) -> Iterable[dict[str, Any]]:
    for row, column, message in faults:
        where = {"row": row} | ({"column": column[:200]} if column else {})
        yield {"detail": message, **where}
