"""Options that say how a CSV file is written."""

from __future__ import annotations

from typing import Any

import click

from api.services.csv_table import DELIMITERS, MARKS, CsvForm

_TAB = "tab"
_DELIMITERS = tuple(_TAB if each == "\t" else each for each in DELIMITERS)


def as_written(command: Any) -> Any:
    """Add how the file is written."""
    delimiter = click.option(
        "--delimiter",
        type=click.Choice(_DELIMITERS),
        default=",",
        show_default=True,
        help="What stands between cells.",
    )
    decimal = click.option(
        "--decimal",
        type=click.Choice(MARKS),
        default=".",
        show_default=True,
        help="What stands before decimals.",
    )
    return delimiter(decimal(command))


def csv_form(delimiter: str, decimal: str, **more: Any) -> CsvForm:
    """How a file is written, as the options say."""
    sign: Any = "\t" if delimiter == _TAB else delimiter
    mark: Any = decimal
    return CsvForm(delimiter=sign, decimal=mark, **more)
