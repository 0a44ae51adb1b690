"""CSV files over HTTP: taken, refused row by row, and given."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from typing import Any

from api.endpoint import Call, Reply
from api.errors import Refused
from api.problems import INVALID_INPUT
from api.services.csv_table import CsvForm, RowFault, RowsRefused

MOST_FAULTS = 5000


def imported(call: Call, read: Callable[..., Any]) -> Reply:
    """What ``read``, the import of a service, makes of the body.

    Raises:
        Refused: with every row at fault, by its number.
    """
    asked = dict(call.query)
    dry_run = asked.pop("dry_run", False)
    try:
        report = read(call.text(), CsvForm(**asked), dry_run=dry_run)
    except RowsRefused as error:
        raise _refusal(error) from None
    return Reply(report.document())


def exported(name: str, export: Callable[..., object], form: CsvForm) -> Reply:
    """What ``export`` of a service writes, to be saved under a name."""
    file = io.StringIO(newline="")
    export(file.write, form)
    named = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Reply(file.getvalue().encode(), headers=named)


def _refusal(error: RowsRefused) -> Refused:
    members: dict[str, Any] = {"errors": [*_items(error.rows[:MOST_FAULTS])]}
    if len(error.rows) > MOST_FAULTS:
        members["errors_left_out"] = len(error.rows) - MOST_FAULTS
    return Refused(INVALID_INPUT, error.message, members=members)


def _items(faults: Iterable[RowFault]) -> Iterable[dict[str, Any]]:
    for row, column, message in faults:
        where = {"row": row} | ({"column": column[:200]} if column else {})
        yield {"detail": message, **where}
