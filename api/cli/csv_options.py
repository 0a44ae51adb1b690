"""What commands that read and write CSV files have in common."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from api.cli.context import Desk
from api.cli.output import counted, note
from api.cli.whole_file import whole_file
from api.services.csv_table import DELIMITERS, MARKS, CsvForm

_TAB = "tab"
_DELIMITERS = tuple(_TAB if each == "\t" else each for each in DELIMITERS)
_DELIMITER = click.option(
    "--delimiter",
    type=click.Choice(_DELIMITERS),
    default=",",
    show_default=True,
    help="What stands between cells.",
)
_DECIMAL = click.option(
    "--decimal",
    type=click.Choice(MARKS),
    default=".",
    show_default=True,
    help="What stands before decimals.",
)


def reads_file(
    known: Callable[[str], object], *, like: str, ours: str
) -> Callable[[Any], Any]:
    """Add the file that is read, and how; as `imported` takes it.

    Args:
        known: whether a name is one of our columns.
        like: a mapping as a message shows it, such as title=Name.
        ours: our columns, as a message names them.
    """
    source = click.argument("file", type=click.File("rb"))
    columns = click.option(
        "--map",
        "columns",
        multiple=True,
        metavar="OURS=THEIRS",
        callback=_mapping(known, f"{like}, said once; ours are {ours}"),
        help="A column that has another heading in the file; may be repeated.",
    )
    dry = click.option("--dry-run", is_flag=True, help="Only say what would change.")
    return lambda command: source(_DELIMITER(_DECIMAL(columns(dry(command)))))


def writes_file(command: Any) -> Any:
    """Add the file that is written, and how; as `exported` takes it."""
    path = click.Path(dir_okay=False, allow_dash=True)
    return click.argument("file", type=path, default="-")(_DELIMITER(_DECIMAL(command)))


def imported(
    read: Callable[..., Any], *, file: Any, dry_run: bool, **written: Any
) -> Any:
    """What ``read``, the import of a service, makes of a file of any length."""
    return read(file.read(), _form(**written), dry_run=dry_run, most_rows=None)


def exported(
    desk: Desk,
    export: Callable[..., int],
    nouns: tuple[str, str],
    *,
    file: str,
    **written: Any,
) -> None:
    """Write what ``export`` of a service gives to a file, and say how many it were.

    Raises:
        UsageError: a CSV file and JSON would stand on standard output.
    """
    if desk.as_json and file == "-":
        raise click.UsageError("say a FILE beside --json; a CSV file is no JSON")
    with whole_file(file) as opened:
        count = export(lambda text: opened.write(text.encode()), _form(**written))
    if desk.as_json:
        desk.show({"file": file, nouns[1]: count}, str)
    else:
        note(f"{counted(count, *nouns)} written.")


def _form(*, delimiter: Any, decimal: Any, **more: Any) -> CsvForm:
    """How a file is written, as the options say."""
    sign: Any = "\t" if delimiter == _TAB else delimiter
    return CsvForm(delimiter=sign, decimal=decimal, **more)


def _mapping(known: Callable[[str], object], said: str) -> Callable[..., Any]:
    """What reads our names of columns → their headings in the file."""

    def columns(
        ctx: click.Context, param: click.Parameter, pairs: tuple[str, ...]
    ) -> dict[str, str]:
        found: dict[str, str] = {}
        for pair in pairs:
            name, mark, heading = pair.partition("=")
            if not mark or not known(name) or not heading.strip() or name in found:
                told = f"'{pair}' is no pair such as {said}"
                raise click.BadParameter(told, ctx=ctx, param=param)
            found[name] = heading.strip()
        return found

    return columns
