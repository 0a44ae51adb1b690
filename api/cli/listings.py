"""`fineweight listings`: what is in the shop, to and from files."""

from __future__ import annotations

from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.csv_options import as_written, csv_form
from api.cli.listing_words import change_list, listing_list, report_words, whole
from api.cli.output import note
from api.cli.page_options import USUAL_LIMIT, newest
from api.cli.whole_file import whole_file
from api.cli.written import WRITTEN
from api.ports import LISTING_KINDS, ListingFilter
from api.services.listings.document import listing_document
from api.services.listings.rows import COLUMNS

_DOCUMENTS = "listing_documents"


@click.group()
def listings() -> None:
    """Show, import and export what is in the shop.

    \b
    Examples:
      fineweight listings list --published
      fineweight listings export listings.csv
      fineweight listings import listings.csv --dry-run
    """  # noqa: D301 - Click keeps the lines together at its own mark


@listings.command("list")
@click.option("--kind", type=click.Choice(LISTING_KINDS), help="Only such.")
@click.option("--coin", type=WRITTEN, default="", help="Only of the coin of this key.")
@click.option("--text", type=WRITTEN, default="", help="Only with it in sku or title.")
@click.option("--published/--unpublished", default=None, help="Only such.")
@click.option("--locked/--unlocked", default=None, help="Only such.")
@newest()
@with_desk
def list_listings(desk: Desk, *, limit: int, **chosen: Any) -> None:
    """List what is in the shop, newest first.

    \b
    Examples:
      fineweight listings list --coin at_50s_1959_1973
      fineweight listings list --text silver --limit 5 --json
    """  # noqa: D301 - Click keeps the lines together at its own mark
    service = desk.services.listings
    page = service.page(ListingFilter(**chosen), limit=limit)
    unit = service.currency()
    found = [listing_document(each, unit) for each in page.listings]
    desk.show_as(
        f"{_DOCUMENTS}:ListingPageDocument",
        {"listings": found},
        lambda: listing_list(page.listings, unit),
    )
    if not found:
        note("There is no such listing; import some: fineweight listings import --help")
    if page.older:
        note("There are older ones; see more with --limit, or narrow it down.")


@listings.command()
@click.argument("sku", type=WRITTEN)
@with_desk
def show(desk: Desk, sku: str) -> None:
    """Show the listing of this SKU, and how its prices changed.

    \b
    Examples:
      fineweight listings show ring-50s
      fineweight listings show ring-50s --json
    """  # noqa: D301 - Click keeps the lines together at its own mark
    service = desk.services.listings
    found, unit = service.get(sku), service.currency()
    history = service.history(sku, limit=USUAL_LIMIT)
    desk.show_as(
        f"{_DOCUMENTS}:ListingDocument",
        listing_document(found, unit),
        lambda: whole(found, history.moves, unit),
    )


def _columns(
    ctx: click.Context, param: click.Parameter, pairs: tuple[str, ...]
) -> dict[str, str]:
    """Our names of columns → their headings in the file."""
    found: dict[str, str] = {}
    for pair in pairs:
        name, mark, heading = pair.partition("=")
        if not mark or name not in COLUMNS or not heading.strip() or name in found:
            raise click.BadParameter(
                f"'{pair}' is no pair such as title=Name, said once; ours are "
                f"{', '.join(COLUMNS)}",
                ctx=ctx,
                param=param,
            )
        found[name] = heading.strip()
    return found


@listings.command("import")
@click.argument("file", type=click.File("rb"))
@as_written
@click.option(
    "--map",
    "columns",
    multiple=True,
    metavar="OURS=THEIRS",
    callback=_columns,
    help="A column that has another heading in the file; may be repeated.",
)
@click.option("--dry-run", is_flag=True, help="Only say what would change.")
@with_desk
def import_listings(
    desk: Desk, *, file: Any, dry_run: bool, columns: dict[str, str], **written: str
) -> None:
    """Add and change listings as a CSV FILE says; - is standard input.

    One row is one band. What the file does not name stays as it is. If anything is
    wrong, every row at fault is named and nothing is changed. The same file again
    changes nothing.

    \b
    Examples:
      fineweight listings import listings.csv --dry-run
      fineweight listings import preise.csv --delimiter ";" --decimal "," \\
        --map title=Name --map price=Preis
    """  # noqa: D301 - Click keeps the lines together at its own mark
    report = desk.services.listings.import_csv(
        file.read(),
        csv_form(columns=columns, **written),
        dry_run=dry_run,
        most_rows=None,
    )
    desk.show_as(
        f"{_DOCUMENTS}:ImportDocument",
        report.document(),
        lambda: change_list(report.changes),
    )
    note(report_words(report))


@listings.command("export")
@click.argument("file", type=click.Path(dir_okay=False, allow_dash=True), default="-")
@as_written
@with_desk
def export_listings(desk: Desk, *, file: str, **written: str) -> None:
    """Write all listings to a CSV FILE, or to standard output.

    Texts that a spreadsheet would take for a formula begin with an apostrophe, which
    an import takes away again.

    \b
    Examples:
      fineweight listings export listings.csv
      fineweight listings export --delimiter ";" --decimal "," > listen.csv
    """  # noqa: D301 - Click keeps the lines together at its own mark
    if desk.as_json and file == "-":
        raise click.UsageError("say a FILE beside --json; a CSV file is no JSON")
    with whole_file(file) as opened:
        count = desk.services.listings.export_csv(
            lambda text: opened.write(text.encode()), csv_form(**written)
        )
    if desk.as_json:
        desk.show({"file": file, "listings": count}, str)
    else:
        note(f"{count} {'listing' if count == 1 else 'listings'} written.")
