"""A week of the bench log from a spreadsheet, looked at first; and into one."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from flask import abort

from api.ports.jobs import JobFilter
from api.services.csv_table import (
    CsvForm,
    DecimalMark,
    Delimiter,
    RowFault,
    RowsRefused,
    headings_of,
)
from api.services.jobs.import_report import LogReport
from api.services.jobs.rows import COLUMNS, NEEDED, STAGED
from api.web.bench.jobs import ADDRESS
from api.web.carried_file import packed, unpacked
from api.web.pages import File, Page, Pages, Redirect
from api.web.typed_numbers import decimal_sign
from api.web.visit import Visit
from pricing.errors import InvalidInput
from pricing.iso_week import IsoWeek

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
SHOWN = 100
"""Faults and changes that are shown [count]."""

pages = Pages("job_files", title="Files of the bench log", tab="jobs")


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
    report: LogReport | None = None
    faults: Sequence[RowFault] = ()


@pages.get(IMPORT)
def files(visit: Visit) -> Page:
    """Where files come in and go out."""
    if visit.book is None:
        return Page("bench/jobs_none.html")
    commas = decimal_sign(visit.locale) == ","
    values = {
        "usual": {
            "delimiter": "semicolon" if commas else "comma",
            "decimal": "comma" if commas else "point",
        },
        "columns": COLUMNS,
        "stages": [each.key for each in visit.book.stages],
        "week": visit.services.bench.margin_checks.this_week(),
    }
    return Page("bench/job_files.html", values)


@pages.post(IMPORT, again=files, most_bytes=MOST_SENT)
def look_or_import(visit: Visit) -> Page | Redirect:
    """Say what a file would change; and write it down, once that was seen."""
    data = visit.upload("file") or unpacked(visit.form.text("_file"), most=MOST_BYTES)
    if not data:
        raise InvalidInput("choose a file", path=("file",))
    if len(data) > MOST_BYTES:
        raise InvalidInput("a file may have 2 MB; send it in parts", path=("file",))
    look = _look(visit, data)
    wanted = visit.form.wants("import") and look.report and look.report.changes
    if not wanted:
        return Page("bench/job_look.html", _values(visit, look, data))
    visit.services.bench.files.import_csv(data, _form(visit, look.mapping))
    return Redirect(ADDRESS, done="imported")


@pages.get(EXPORT)
def export(visit: Visit) -> File:
    """The jobs of a week, or all of them, as one file."""
    query, text = visit.query, io.StringIO(newline="")
    delimiter = DELIMITER_WORDS.get(query.get("delimiter", "comma"))
    mark = MARK_WORDS.get(query.get("decimal", "point"))
    if delimiter is None or mark is None:
        abort(404)
    form = CsvForm(delimiter=delimiter, decimal=mark)
    week = query.get("week", "")
    wanted = JobFilter(week=str(_week(week)) if week else None)
    visit.services.bench.files.export_csv(text.write, form, wanted=wanted)
    name = f"bench-log-{wanted.week}.csv" if wanted.week else "bench-log.csv"
    return File(
        name=name,
        body=text.getvalue().encode(),
        media_type="text/csv; charset=utf-8",
    )


def _week(text: str) -> IsoWeek:
    try:
        return IsoWeek.parse(text)
    except InvalidInput:
        abort(404)


def _look(visit: Visit, data: bytes) -> Look:
    headings: Sequence[str] = ()
    mapping: Mapping[str, str] = {}
    try:
        headings = headings_of(data, _form(visit, {}))
        mapping = _mapping(visit, headings)
        report = visit.services.bench.files.import_csv(
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
    for name in _columns(visit, headings):
        own = name if name in headings else same.get(name, "")
        chosen = visit.form.text(f"_column-{name}") or own
        if chosen in headings:
            found[name] = chosen
    return found


def _columns(visit: Visit, headings: Sequence[str] = ()) -> list[str]:
    """Every column a file may have, with the stages of the book and of the file."""
    return [*dict.fromkeys((*COLUMNS, *_staged(visit, headings)))]


def _staged(visit: Visit, headings: Sequence[str]) -> Iterator[str]:
    if visit.book is not None:
        yield from (f"minutes:{each.key}" for each in visit.book.stages)
    yield from filter(STAGED.fullmatch, headings)


def _values(visit: Visit, look: Look, data: bytes) -> dict[str, Any]:
    return {
        "look": look,
        "file": packed(data),
        "columns": _columns(visit, look.headings),
        "needed": NEEDED,
        "most": SHOWN,
        "rows_at_fault": len({fault.row for fault in look.faults}),
    }
