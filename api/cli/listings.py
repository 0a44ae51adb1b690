"""`fineweight listings`: what is in the shop, to and from files."""

from __future__ import annotations

from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.csv_options import exported, imported, reads_file, writes_file
from api.cli.listing_words import change_list, listing_list, report_words, whole
from api.cli.output import note
from api.cli.page_options import USUAL_LIMIT, newest
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


@listings.command("import")
@reads_file(COLUMNS.__contains__, like="title=Name", ours=", ".join(COLUMNS))
@with_desk
def import_listings(desk: Desk, **given: Any) -> None:
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
    report = imported(desk.services.listings.import_csv, **given)
    desk.show_as(
        f"{_DOCUMENTS}:ImportDocument",
        report.document(),
        lambda: change_list(report.changes),
    )
    note(report_words(report))


@listings.command("export")
@writes_file
@with_desk
def export_listings(desk: Desk, **given: Any) -> None:
    """Write all listings to a CSV FILE, or to standard output.

    Texts that a spreadsheet would take for a formula begin with an apostrophe, which
    an import takes away again.

    \b
    Examples:
      fineweight listings export listings.csv
      fineweight listings export --delimiter ";" --decimal "," > listen.csv
    """  # noqa: D301 - Click keeps the lines together at its own mark
    export = desk.services.listings.export_csv
    exported(desk, export, ("listing", "listings"), **given)
