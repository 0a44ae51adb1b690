"""Listings as CSV files."""

from __future__ import annotations

from api.endpoint import Call, Examples, Reply, Routes
from api.problems import NOT_FOUND, SPOT_STALE, SPOT_UNAVAILABLE
from api.resources.csv_files import exported, imported
from api.resources.listings import ADDRESS
from api.schemas.csv_files import ExportQuery
from api.schemas.listing_documents import ImportDocument
from api.schemas.listings import ImportQuery
from api.security import BENCH
from api.services.csv_table import CsvForm
from api.text_body import CSV

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
    return imported(call, call.services.listings.import_csv)


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
    form = CsvForm(**call.query)
    return exported("listings.csv", call.services.listings.export_csv, form)
