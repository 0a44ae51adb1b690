"""Rows of a CSV file as listings: one row a band, read cell by cell."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from api.ports import Listing
from api.services.csv_cells import (
    Unreadable,
    figure_in,
    harmless,
    meant,
    shown,
    text_in,
)
from api.services.csv_table import DecimalMark, Row, RowFault, Table
from api.services.listings.terms import BandAsk, ListingAsk
from pricing import money
from pricing.errors import Fault

COLUMNS = (
    "sku",
    "title",
    "kind",
    "coin",
    "channel",
    "policy",
    "extras",
    "locked",
    "published",
    "from",
    "to",
    "price",
    "actual_cost",
)
"""Every column; the last is written only where a listing has an actual cost."""
NEEDED = ("sku", "from", "to")
OF_BANDS = ("from", "to", "price")
OF_NEW = ("title", "kind", "coin", "channel", "policy")
"""What a file has to say of a listing that is not there yet."""

_TRUE = frozenset({"true", "yes", "1"})
_FALSE = frozenset({"false", "no", "0"})

Cell = object
Read = Callable[[str, DecimalMark], Cell]


@dataclass(slots=True, kw_only=True)
class Draft:
    """What a file says of one listing.

    Attributes:
        rows: numbers of its rows, one a band.
        said: our names of columns that are not of bands → what they say.
        bands: in the order of the rows.
    """

    sku: str
    rows: list[int] = field(default_factory=list)
    said: dict[str, Cell] = field(default_factory=dict)
    bands: list[BandAsk] = field(default_factory=list)

    def missing(self) -> tuple[str, ...]:
        """What a new listing would have to say, and it does not."""
        return tuple(name for name in OF_NEW if name not in self.said)

    def ask(self, old: Listing | None) -> ListingAsk:
        """The listing it asks for; what it says nothing of stays as it is.

        A band takes the place of those that it overlaps, others stay.
        """
        kept = [
            BandAsk(size_from=band.size_from, size_to=band.size_to, price=band.price)
            for band in (old.bands if old else ())
            if not any(
                each.size_from <= band.size_to and band.size_from <= each.size_to
                for each in self.bands
            )
        ]
        names = (name for name in COLUMNS if name not in {"sku", *OF_BANDS})
        members = {name: getattr(old, name) for name in names} if old else {}
        return ListingAsk(
            **(members | self.said), sku=self.sku, bands=(*self.bands, *kept)
        )

    def place(self, fault: Fault, headings: Mapping[str, str]) -> RowFault:
        """Where in the file a fault of what it asks for is."""
        row, name = self.rows[0], str(fault.path[0]) if fault.path else ""
        match fault.path:
            case ["bands", int(band), *inner] if band < len(self.rows):
                row, name = self.rows[band], str(inner[0]) if inner else "price"
        return RowFault(row, headings.get(name, ""), fault.message)


def drafts_of(table: Table, decimal: DecimalMark) -> tuple[list[Draft], list[RowFault]]:
    """What a table says of each listing, and what of it cannot be read."""
    drafts: dict[str, Draft] = {}
    faults: list[RowFault] = []
    for row in table.rows:
        cells, found = _cells(row, table.headings, decimal)
        faults += found
        if found:
            continue
        sku = str(cells.pop("sku"))
        band = BandAsk(
            size_from=_decimal(cells.pop("from")),
            size_to=_decimal(cells.pop("to")),
            price=_decimal_or_none(cells.pop("price", None)),
        )
        draft = drafts.setdefault(sku, Draft(sku=sku, said=cells))
        faults += _differing(draft, row, cells, table.headings)
        draft.rows.append(row.number)
        draft.bands.append(band)
    return list(drafts.values()), faults


def rows_of(
    listing: Listing, columns: Sequence[str], decimal: DecimalMark
) -> Iterator[list[str]]:
    """The rows of a listing, one a band."""
    said = {
        "sku": harmless(listing.sku),
        "title": harmless(listing.title),
        "kind": listing.kind,
        "coin": harmless(listing.coin),
        "channel": harmless(listing.channel),
        "policy": harmless(listing.policy),
        "extras": harmless(" ".join(listing.extras)),
        "locked": str(listing.locked).lower(),
        "published": str(listing.published).lower(),
        "actual_cost": shown(listing.actual_cost, decimal),
    }
    for band in listing.bands:
        sizes = {
            "from": money.trimmed(band.size_from).replace(".", decimal),
            "to": money.trimmed(band.size_to).replace(".", decimal),
            "price": shown(band.price, decimal),
        }
        cells = said | sizes
        yield [cells[name] for name in columns]


def _cells(
    row: Row, headings: Mapping[str, str], decimal: DecimalMark
) -> tuple[dict[str, Cell], list[RowFault]]:
    """What the cells of a row say, and what cannot be read."""
    cells: dict[str, Cell] = {}
    faults = []
    for name, text in row.cells.items():
        try:
            cells[name] = _READ.get(name, _text)(text, decimal)
        except Unreadable as error:
            faults.append(RowFault(row.number, headings[name], str(error)))
    return cells, faults


def _differing(
    draft: Draft, row: Row, cells: Mapping[str, Cell], headings: Mapping[str, str]
) -> Iterator[RowFault]:
    for name, said in cells.items():
        if draft.said[name] != said:
            yield RowFault(
                row.number,
                headings[name],
                f"row {draft.rows[0]} says something else of '{draft.sku[:64]}'; all "
                "rows of a listing have to say the same here",
            )


def _text(cell: str, _: DecimalMark) -> str:
    text = text_in(cell)
    if not text:
        raise Unreadable("this is empty; write what it is")
    return text


def _keys(cell: str, _: DecimalMark) -> tuple[str, ...]:
    return tuple(meant(cell).split())


def _truth(cell: str, _: DecimalMark) -> bool:
    word = cell.casefold()
    if word not in _TRUE | _FALSE:
        raise Unreadable("this has to be true or false")
    return word in _TRUE


def _number_or_none(cell: str, decimal: DecimalMark) -> Decimal | None:
    return figure_in(cell, decimal) if cell else None


_READ: Mapping[str, Read] = {
    "extras": _keys,
    "locked": _truth,
    "published": _truth,
    "from": figure_in,
    "to": figure_in,
    "price": _number_or_none,
    "actual_cost": _number_or_none,
}


def _decimal(cell: Cell) -> Decimal:
    found = _decimal_or_none(cell)
    return money.ZERO if found is None else found


def _decimal_or_none(cell: Cell) -> Decimal | None:
    return cell if isinstance(cell, Decimal) else None
