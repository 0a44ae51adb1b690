"""CSV files on pages: looked at first, then read in; and saved."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from flask import abort

from api.services.csv_table import (
    CsvForm,
    DecimalMark,
    Delimiter,
    RowFault,
    RowsRefused,
    headings_of,
)
from api.web.carried_file import packed, unpacked
from api.web.pages import File, Page, Redirect, table_file
from api.web.typed_numbers import decimal_sign
from api.web.visit import Visit
from pricing.errors import InvalidInput

MOST_BYTES = 2_000_000
MOST_SENT = 4_000_000
"""Largest form, which may hold the file as text [B]."""
SHOWN = 100
"""Faults and changes that are shown [count]."""
NO_HEADING = " "
"""Chosen in place of a heading of the same name; none is blank."""
_DELIMITERS: Mapping[str, Delimiter] = {"comma": ",", "semicolon": ";", "tab": "\t"}
_MARKS: Mapping[str, DecimalMark] = {"point": ".", "comma": ","}


class Report(Protocol):
    """What a file changes, or would change."""

    @property
    def dry_run(self) -> bool:
        """Whether nothing was written."""

    @property
    def changes(self) -> Sequence[object]:
        """One of each thing that is other than it was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a page takes files for.

    Attributes:
        template: that says what a file would change.
        address: where it leads once that is done.
        columns: our names of columns, for a file with some headings.
        needed: those that have to be there.
        read: takes the file, its form and ``dry_run``, as the services do.
    """

    template: str
    address: str
    columns: Callable[[Sequence[str]], Sequence[str]]
    needed: Sequence[str]
    read: Callable[..., Report]


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a file says.

    Attributes:
        headings: of the file; empty where it cannot be read.
        mapping: our name of a column → the heading it stands under.
        report: what would change; None where rows are at fault.
        faults: every row at fault.
        seen: how the file is meant, as the page carries it on; anew: whether that is
            another way than it was looked at, so that nothing is read in.
    """

    headings: Sequence[str] = ()
    mapping: Mapping[str, str] = field(default_factory=dict)
    report: Report | None = None
    faults: Sequence[RowFault] = ()
    seen: str = ""
    anew: bool = False


def usual_writing(visit: Visit) -> dict[str, str]:
    """How spreadsheets write files where the visitor is."""
    if decimal_sign(visit.locale) == ",":
        return {"delimiter": "semicolon", "decimal": "comma"}
    return {"delimiter": "comma", "decimal": "point"}


def look_or_import(visit: Visit, reading: Reading) -> Page | Redirect:
    """Say what the file of a form would change; and read it in, once that was seen.

    Raises:
        InvalidInput: there is no file, or it is not said how it is written.
    """
    data, wanted = _sent(visit), visit.form.wants("import")
    look = _look(visit, data, reading, dry_run=not wanted)
    if look.report and look.report.changes and not look.report.dry_run:
        return Redirect(reading.address, done="imported")
    values = {
        "look": look,
        "file": packed(data),
        "columns": reading.columns(look.headings),
        "needed": reading.needed,
        "no_heading": NO_HEADING,
        "most": SHOWN,
        "rows_at_fault": len({fault.row for fault in look.faults}),
    }
    return Page(reading.template, values)


def saved(visit: Visit, name: str, export: Callable[..., object]) -> File:
    """A file of what ``export`` writes, in the form that the address says."""
    delimiter = _DELIMITERS.get(visit.query.get("delimiter", "comma"))
    mark = _MARKS.get(visit.query.get("decimal", "point"))
    if delimiter is None or mark is None:
        abort(404)
    text = io.StringIO(newline="")
    export(text.write, CsvForm(delimiter=delimiter, decimal=mark))
    return table_file(name, text.getvalue())


def _sent(visit: Visit) -> bytes:
    data = visit.upload("file") or unpacked(visit.form.text("_file"), most=MOST_BYTES)
    if not data:
        raise InvalidInput("choose a file", path=("file",))
    if len(data) > MOST_BYTES:
        raise InvalidInput("a file may have 2 MB; send it in parts", path=("file",))
    return data


def _look(visit: Visit, data: bytes, reading: Reading, *, dry_run: bool) -> Look:
    headings: Sequence[str] = ()
    mapping: Mapping[str, str] = {}
    try:
        headings = headings_of(data, _form(visit, {}))
        mapping = _mapping(visit, headings, reading.columns(headings))
        form = _form(visit, mapping)
        seen = hashlib.sha256(repr(form).encode()).hexdigest()
        anew = not dry_run and visit.form.text("_seen") not in {"", seen}
        report = reading.read(data, form, dry_run=dry_run or anew)
    except RowsRefused as refused:
        return Look(headings=headings, mapping=mapping, faults=refused.rows)
    return Look(headings=headings, mapping=mapping, report=report, seen=seen, anew=anew)


def _form(visit: Visit, mapping: Mapping[str, str]) -> CsvForm:
    """How the file is written, as the form says."""
    delimiter = _DELIMITERS.get(visit.form.text("delimiter"))
    mark = _MARKS.get(visit.form.text("decimal"))
    if delimiter is None or mark is None:
        raise InvalidInput("say how the file is written", path=("delimiter",))
    named = {name: heading for name, heading in mapping.items() if heading != name}
    return CsvForm(delimiter=delimiter, decimal=mark, columns=named)


def _mapping(
    visit: Visit, headings: Sequence[str], columns: Sequence[str]
) -> dict[str, str]:
    """Under which heading each column stands: as chosen, or of the same name."""
    same = {heading.casefold(): heading for heading in headings}
    found = {}
    for name in columns:
        own = name if name in headings else same.get(name, "")
        chosen = visit.form.text(f"_column-{name}") or own
        if chosen in headings:
            found[name] = chosen
    return found
