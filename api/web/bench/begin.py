"""From an empty workshop to a first ring: book, spot, listings, the quote desk."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from babel import Locale
from babel.core import get_global
from babel.numbers import get_territory_currencies

from api.ports import ListingFilter
from api.schemas.fields import (
    NOT_NEGATIVE,
    SHARE,
    SHARE_BELOW_ONE,
    CurrencyText,
    Document,
    MoneyText,
    RateText,
    Text,
)
from api.schemas.spot_prices import SpotPriceBody
from api.services.csv_table import CsvForm, RowsRefused
from api.services.price_trials import USUAL
from api.services.settings_text import MOST_BYTES, tables_of, text_of
from api.services.starting_book import StartingAnswers, starting_book
from api.web.bench.book_opened import placed
from api.web.bench.coins import by_name, spot_now
from api.web.glossary import all_cautions
from api.web.pages import Page, Pages, Redirect
from api.web.typed_numbers import decimal_sign
from api.web.visit import Visit
from pricing.errors import BookRefused, Fault, InvalidInput

ADDRESS = "/bench/begin"
_FIRST_SIZE = "10"
_FAULTS_TOLD = 20
_ZONES = 12
_CAUTIONS = ("heat_and_press", "ptfe", "liver_of_sulphur", "coin_law")
"""What whoever begins is told, whatever the price book says of what is used up."""

pages = Pages(
    "begin",
    title="Begin",
    done={
        "book": "The price book is kept, as version 1.",
        "spot": "The spot price is in force.",
        "listings": "The listings are read in.",
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """What is likely where the visitor is; '' where that is not known."""

    currency: str
    zone: str
    zones: tuple[str, ...]

    @property
    def typed(self) -> dict[str, str]:
        """As it stands in the fields at first."""
        return {"currency": self.currency, "timezone": self.zone}


class StartingBody(Document):
    """What only the maker knows."""

    title = Text(least=1, most=200, required=True)
    currency = CurrencyText(required=True)
    timezone = Text(least=1, most=64, required=True)
    rate_per_hour = MoneyText(bounds=NOT_NEGATIVE, required=True)
    overhead_per_hour = MoneyText(bounds=NOT_NEGATIVE, load_default=Decimal(0))
    tax = RateText(bounds=SHARE, load_default=Decimal(0))
    target_margin = RateText(bounds=SHARE_BELOW_ONE, required=True)


@pages.get(ADDRESS)
def begin(visit: Visit) -> Page:
    """How far the workshop is, and what comes next."""
    book = visit.book
    listed = visit.services.listings.page(ListingFilter(), limit=1).listings
    usual = listed[0].coin if listed else USUAL[0][0]
    home = _at_home(visit.locale)
    if visit.form.sent:  # the other forms of the page were not
        begun = {"coin": usual, "size": _FIRST_SIZE, **home.typed}
        unsent = {n: v for n, v in begun.items() if n not in visit.form.values}
        visit.again(visit.form.with_values(**unsent))
    values: dict[str, Any] = {
        "book": book,
        "spot": spot_now(visit),
        "listed": bool(listed),
        "first_size": _FIRST_SIZE,
        "coins": [
            (one.coin.key, one.coin.label)
            for one in by_name(visit.services.coins.search(""))
            if one.coin.metal != "base"
        ],
        "usual_coin": usual,
        "home": home,
        "cautions": [text for one, text in all_cautions() if one.code in _CAUTIONS],
        "decimal": "comma" if decimal_sign(visit.locale) == "," else "point",
    }
    return Page("bench/begin.html", values)


@pages.post(f"{ADDRESS}/book", again=begin, once=True, most_bytes=MOST_BYTES + 100_000)
def take_book(visit: Visit) -> Redirect:
    """Make a file the first price book."""
    document = tables_of(text_of(visit.upload("book_file"), "book_file"), "book_file")
    _keep(visit, document, note="From a file")
    return Redirect(ADDRESS, done="book")


@pages.post(f"{ADDRESS}/answers", again=begin, once=True)
def take_answers(visit: Visit) -> Redirect:
    """Make a first price book from a few answers; the rest is to be timed."""
    answers = StartingAnswers(**visit.read(StartingBody()))
    visit.services.price_books.replace(
        starting_book(answers),
        expected=None,
        note="To begin with; minutes and chances are invented",
    )
    return Redirect(ADDRESS, done="book")


@pages.post(f"{ADDRESS}/spot", again=begin, once=True)
def take_spot(visit: Visit) -> Redirect:
    """Put a first spot price in force."""
    asked = visit.read(SpotPriceBody())
    currency = visit.services.price_books.current().currency.code
    visit.services.spot_prices.enter("XAG", asked["price"], currency)
    return Redirect(ADDRESS, done="spot")


@pages.post(f"{ADDRESS}/listings", again=begin, once=True, most_bytes=2 * MOST_BYTES)
def take_listings(visit: Visit) -> Redirect:
    """Read in what the shop has, all of it or nothing; only into an empty one."""
    data = visit.upload("listing_file")
    if not data:
        raise InvalidInput("choose a file", path=("listing_file",))
    if visit.services.listings.page(ListingFilter(), limit=1).listings:
        return Redirect("/bench/listings/import")
    try:
        visit.services.listings.import_csv(data, _form(visit))
    except RowsRefused as refused:
        told = tuple(
            Fault((), f"row {row}{', ' + column if column else ''}: {message}")
            for row, column, message in refused.rows[:_FAULTS_TOLD]
        )
        raise InvalidInput(refused.message, faults=told) from refused
    return Redirect(ADDRESS, done="listings")


def _form(visit: Visit) -> CsvForm:
    """How the file is written: as spreadsheets do that put commas before decimals."""
    if visit.form.text("decimal") == "comma":
        return CsvForm(delimiter=";", decimal=",")
    return CsvForm()


def _keep(visit: Visit, document: dict[str, Any], *, note: str) -> None:
    books = visit.services.price_books
    try:
        placed(document, lambda: books.replace(document, expected=None, note=note))
    except BookRefused as refused:
        first = Fault(("book_file",), refused.message)
        raise BookRefused(refused.message, faults=(first, *refused.faults)) from refused


def _at_home(locale: Locale) -> Home:
    territory = locale.territory or ""
    zones = [z for z, of in get_global("zone_territories").items() if of == territory]
    currencies = get_territory_currencies(territory) if territory else []
    return Home(
        currency=currencies[0] if currencies else "",
        zone=zones[0] if len(zones) == 1 else "",
        zones=tuple(zones[:_ZONES]),
    )
