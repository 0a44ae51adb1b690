"""A CSV file as a table: its bytes read strictly, as the sender says they are written.

References:
    [1] RFC 4180 §2: CRLF between rows; a cell with a delimiter, quote or line end
        stands in quotes, quotes within are doubled.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from pricing.errors import Fault, InvalidInput

Delimiter = Literal[",", ";", "\t"]
DELIMITERS: tuple[Delimiter, ...] = (",", ";", "\t")
DecimalMark = Literal[".", ","]
MARKS: tuple[DecimalMark, ...] = (".", ",")
LINE_END = "\r\n"
MOST_HEADINGS = 1000
"""Headings that a file may have, blank ones apart [count]."""
_BOM = "\ufeff"
_SHOWN = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvForm:
    """How a file is written. Nothing of it is ever guessed.

    Attributes:
        delimiter: what stands between cells.
        decimal: what stands before decimals.
        columns: our name of a column → its heading, where that is another.
    """

    delimiter: Delimiter = ","
    decimal: DecimalMark = "."
    columns: Mapping[str, str] = field(default_factory=dict)


PLAIN = CsvForm()


class RowFault(NamedTuple):
    """One thing wrong with a file; the header is row 1, no column is all of the row."""

    row: int
    column: str
    message: str


class RowsRefused(InvalidInput):
    """A file with faults; nothing of it is used.

    Attributes:
        rows: every fault found, by row.
    """

    def __init__(self, rows: Iterable[RowFault]) -> None:
        self.rows = tuple(sorted(rows))
        bad = len({fault.row for fault in self.rows})
        said = "one row has" if bad == 1 else f"{bad} rows have"
        super().__init__(
            f"{said} faults and nothing was imported; mend them and send it again",
            faults=tuple(
                Fault((f"row {row}" + (f", {column}" if column else ""),), message)
                for row, column, message in self.rows
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row: its number, the header being 1, and its cells by our column names."""

    number: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What a file holds.

    Attributes:
        headings: our column names that are there → their headings.
        ignored: headings that mean nothing here.
        rows: all that are not blank.
    """

    headings: Mapping[str, str]
    ignored: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(
    data: bytes,
    form: CsvForm,
    *,
    known: Sequence[str],
    needed: Sequence[str],
    most_rows: int | None,
) -> Table:
    """The table in a file.

    Args:
        data: the file, UTF-8 with a byte order mark or without.
        form: how it is written.
        known: our names of columns.
        needed: those that have to be there.
        most_rows: how many rows it may have beside the header [count].

    Raises:
        InvalidInput: ``form`` names a column that is not known.
        RowsRefused: it is no such file.
    """
    for name in form.columns:
        if name not in known:
            said = f"'{name[:40]}' is no column; map {', '.join(known)}"
            raise InvalidInput(said, path=("columns",))
    lines = _lines(_text(data), form.delimiter)
    header = _header(lines)
    headings = _headings(header, form, known, needed)
    places = {name: header.index(heading) for name, heading in headings.items()}
    rows: list[Row] = []
    faults: list[RowFault] = []
    for number, cells in lines:
        if len(rows) + len(faults) == most_rows:
            said = f"a file may have {most_rows} rows at a time; send the rest after it"
            raise RowsRefused([*faults, RowFault(number, "", said)])
        if len(cells) != len(header):
            said = f"it has {len(cells)} cells and the header has {len(header)}"
            faults.append(RowFault(number, "", said))
        else:
            named = {name: cells[place] for name, place in places.items()}
            rows.append(Row(number=number, cells=named))
    if faults:
        raise RowsRefused(faults)
    used = {"", *headings.values()}
    ignored = tuple(each for each in header if each not in used)
    return Table(headings=headings, ignored=ignored, rows=tuple(rows))


def headings_of(data: bytes, form: CsvForm) -> tuple[str, ...]:
    """The headings of a file. Raises RowsRefused where it is none."""
    return tuple(_header(_lines(_text(data), form.delimiter)))


def written(cells: Sequence[str], delimiter: Delimiter) -> str:
    """One row as it stands in a file, with its line end."""
    line = io.StringIO(newline="")
    csv.writer(line, delimiter=delimiter, lineterminator=LINE_END).writerow(cells)
    return line.getvalue()


def _text(data: bytes) -> str:
    try:
        text = data.decode("utf-8").removeprefix(_BOM)
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        said = f"byte {error.start} of the file is not UTF-8; save the file as UTF-8"
        raise RowsRefused([RowFault(row, "", said)]) from None
    nul = text.find("\0")
    if nul >= 0:
        row = text.count("\n", 0, nul) + 1
        said = "a sign of it is NUL, which is no text; save the file as UTF-8"
        raise RowsRefused([RowFault(row, "", said)])
    return text


def _lines(text: str, delimiter: Delimiter) -> Iterator[tuple[int, list[str]]]:
    """The number and the cells of each row that is not blank; the first always."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            said = f"this is not written as CSV: {error}"
            raise RowsRefused([RowFault(number, "", said)]) from None
        stripped = [cell.strip() for cell in cells]
        if any(stripped) or number == 1:
            yield number, stripped


def _header(lines: Iterator[tuple[int, list[str]]]) -> list[str]:
    _, header = next(lines, (1, []))
    count = sum(map(bool, header))
    if count > MOST_HEADINGS:
        said = (
            f"it has {count} headings and a file may have {MOST_HEADINGS}; is it "
            "another file, or another delimiter?"
        )
        raise RowsRefused([RowFault(1, "", said)])
    return header


def _headings(
    header: list[str], form: CsvForm, known: Sequence[str], needed: Sequence[str]
) -> dict[str, str]:
    headings = {name: form.columns.get(name, name) for name in known}
    faults = []
    for name, heading in headings.items():
        asked = name in needed or name in form.columns
        if heading not in header and asked:
            faults.append(RowFault(1, heading, _missing(header, form)))
        if header.count(heading) > 1:
            faults.append(RowFault(1, heading, "two columns have this heading"))
    if faults:
        raise RowsRefused(faults)
    return {name: each for name, each in headings.items() if each in header}


def _missing(header: list[str], form: CsvForm) -> str:
    found = ", ".join(header)[:_SHOWN]
    hint = ""
    if len(header) < 2:  # noqa: PLR2004 - one column is none
        hint = f"; the delimiter is said to be {form.delimiter!r}, is it another?"
    return f"there is no column of this heading, there is: {found or 'nothing'}{hint}"
