"""Listings from a spreadsheet and into one: looked at first, then read in one act."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from flask import abort

from api.services.csv_table import (
    CsvForm,
    DecimalMark,
    Delimiter,
    RowFault,
    RowsRefused,
    headings_of,
)
from api.services.listings.import_report import ImportReport
from api.services.listings.rows import COLUMNS, NEEDED
from api.web.bench.listings import ADDRESS
from api.web.carried_file import packed, unpacked
from api.web.pages import File, Page, Pages, Redirect
from api.web.typed_numbers import decimal_sign
from api.web.visit import Visit
from pricing.errors import InvalidInput

IMPORT = f"{ADDRESS}/import"
EXPORT = f"{ADDRESS}/export"
MOST_BYTES = 2_000_000
MOST_SENT = 4_000_000
"""Largest form, which may hold the file as text [B]."""
DELIMITER_WORDS: Mapping[str, Delimiter] = {
    "comma": ",",
    "semicolon": ";",
    "tab": "\t",
}
MARK_WORDS: Mapping[str, DecimalMark] = {"point": ".", "comma": ","}
FAULTS_SHOWN = CHANGES_SHOWN = 100

pages = Pages("listing_files", title="Files of listings", tab="listings")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a file says, before anything is done with it.

    Attributes:
        headings: of the file; empty where it cannot be read.
        mapping: our name of a column → the heading it stands under.
        report: what would change; None where rows are at fault.
        faults: every row at fault.
    """

    headings: Sequence[str] = ()
    mapping: Mapping[str, str] = field(default_factory=dict)
    report: ImportReport | None = None
    faults: Sequence[RowFault] = ()


@pages.get(IMPORT)
def files(visit: Visit) -> Page:
    """Where files come in and go out."""
    if visit.book is None:
        return Page("bench/listings_none.html")
    commas = decimal_sign(visit.locale) == ","
    usual = {"delimiter": "semicolon" if commas else "comma"}
    usual["decimal"] = "comma" if commas else "point"
    return Page("bench/listing_files.html", {"usual": usual, "columns": COLUMNS})


@pages.post(IMPORT, again=files, most_bytes=MOST_SENT)
def look_or_import(visit: Visit) -> Page | Redirect:
    """Say what a file would change; and read it in, once that was seen."""
    data = visit.upload("file") or unpacked(visit.form.text("_file"), most=MOST_BYTES)
    if not data:
        raise InvalidInput("choose a file", path=("file",))
    if len(data) > MOST_BYTES:
        raise InvalidInput("a file may have 2 MB; send it in parts", path=("file",))
    look = _look(visit, data)
    wanted = visit.form.wants("import") and look.report and look.report.changes
    if not wanted:
        return Page("bench/listing_look.html", _values(look, data))
    visit.services.listings.import_csv(data, _form(visit, look.mapping))
    return Redirect(ADDRESS, done="imported")


@pages.get(EXPORT)
def export(visit: Visit) -> File:
    """All listings as one file."""
    query, text = visit.query, io.StringIO(newline="")
    delimiter = DELIMITER_WORDS.get(query.get("delimiter", "comma"))
    mark = MARK_WORDS.get(query.get("decimal", "point"))
    if delimiter is None or mark is None:
        abort(404)
    form = CsvForm(delimiter=delimiter, decimal=mark)
    visit.services.listings.export_csv(text.write, form)
    return File(
        name="listings.csv",
        body=text.getvalue().encode(),
        media_type="text/csv; charset=utf-8",
    )


def _look(visit: Visit, data: bytes) -> Look:
    headings: Sequence[str] = ()
    mapping: Mapping[str, str] = {}
    try:
        headings = headings_of(data, _form(visit, {}))
        mapping = _mapping(visit, headings)
        report = visit.services.listings.import_csv(
            data, _form(visit, mapping), dry_run=True
        )
    except RowsRefused as refused:
        return Look(headings=headings, mapping=mapping, faults=refused.rows)
    return Look(headings=headings, mapping=mapping, report=report)


def _form(visit: Visit, mapping: Mapping[str, str]) -> CsvForm:
    """How the file is written, as the form says."""
    delimiter = DELIMITER_WORDS.get(visit.form.text("delimiter"))
    mark = MARK_WORDS.get(visit.form.text("decimal"))
    if delimiter is None or mark is None:
        raise InvalidInput("say how the file is written", path=("delimiter",))
    named = {name: heading for name, heading in mapping.items() if heading != name}
    return CsvForm(delimiter=delimiter, decimal=mark, columns=named)


def _mapping(visit: Visit, headings: Sequence[str]) -> dict[str, str]:
    """Under which heading each column stands: as chosen, or of the same name."""
    same = {heading.casefold(): heading for heading in headings}
    found = {}
    for name in COLUMNS:
        own = name if name in headings else same.get(name, "")
        chosen = visit.form.text(f"_column-{name}") or own
        if chosen in headings:
            found[name] = chosen
    return found


def _values(look: Look, data: bytes) -> dict[str, Any]:
    return {
        "look": look,
        "file": packed(data),
        "columns": COLUMNS,
        "needed": NEEDED,
        "most": CHANGES_SHOWN,
        "rows_at_fault": len({fault.row for fault in look.faults}),
    }
