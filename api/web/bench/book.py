"""The price book: its parts, each with a page; the file it can be saved as."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import abort

from api.services.settings_text import WRITINGS, written
from api.web import locales
from api.web.bench.book_edit import BEGIN, HOME
from api.web.bench.book_opened import opened
from api.web.bench.book_parts import PARTS
from api.web.bench.book_versions import version_asked, who
from api.web.pages import File, Page, Pages, Redirect, Result
from api.web.visit import Visit
from pricing.price_book import PriceBook
from pricing.price_book import document as document_of

pages = Pages("book", title="Price book", tab="book")

_TYPES = {"toml": "application/toml; charset=utf-8", "json": "application/json"}


@pages.get(HOME)
def show_book(visit: Visit) -> Result:
    """What is in the book, part by part."""
    book = opened(visit)
    if book is None:
        return Redirect(BEGIN)
    values = {
        "book": book.book,
        "about": visit.services.price_books.stored().about,
        "who": who(visit),
        "parts_of_book": PARTS.values(),
        "lines": _lines(book.book, visit),
        "own_coins": len(visit.services.snapshots.take().coins),
    }
    return Page("bench/book.html", values)


@pages.get(f"{HOME}/file")
def save_file(visit: Visit) -> File:
    """A version of the book as a file that can be imported again."""
    writing = visit.query.get("as", "toml")
    if writing not in WRITINGS:
        abort(404)
    book = visit.services.price_books.version(version_asked(visit, "version"))
    return File(
        name=f"price_book_{book.version}.{writing}",
        body=written(document_of(book), writing).encode(),
        media_type=_TYPES[writing],
    )


def _lines(book: PriceBook, visit: Visit) -> Mapping[str, str]:
    """What a part holds, in a line."""

    def money(amount: Any) -> str:
        return locales.money(amount, book.currency.code, visit.locale)

    def share(rate: Any) -> str:
        return locales.share(rate, visit.locale)

    labour, buying = book.labour, book.coin_buying
    over_melt = f"{share(buying.premium)} over melt"
    return {
        "labour": f"{money(labour.rate_per_hour)} an hour, "
        f"{money(labour.overhead_per_hour)} overhead",
        "stages": _counted(len(book.stages), "stage"),
        "consumables": _counted(len(book.consumables), "consumable"),
        "tools": _counted(len(book.tools), "tool"),
        "metal": {
            "melt": f"Coins at {over_melt}",
            "paid": "Coins at what is paid",
            "greater_of": f"Coins at {over_melt}, or at what is paid if that is more",
        }[buying.basis],
        "forming": f"{_counted(len(book.forming.punches_mm), 'punch', 'punches')}, "
        f"{_counted(len(book.calibrations), 'calibration')}",
        "channels": ", ".join(one.title or one.key for one in book.channels),
        "policies": ", ".join(one.title or one.key for one in book.policies),
        "extras": _counted(len(book.extras), "extra"),
        "after-sale": f"{share(book.after_sale.rate)} come back",
    }


def _counted(count: int, one: str, many: str = "") -> str:
    return f"{count} {one}" if count == 1 else f"{count} {many or one + 's'}"
