"""One visit to a page, as its view sees it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

from babel import Locale
from flask import g, request

from api.ports import NotFound
from api.services.starting_book import to_be_timed
from api.web.form_reading import Reader
from api.web.sent_form import Form
from pricing.errors import BookRefused, InvalidInput
from pricing.price_book import PriceBook


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One visit to a page.

    Attributes:
        services: what was composed at start.
        path: what the rule of the address names.
        query: the parameters in the address, one value each.
        form: what was typed; empty where nothing was sent.
        locale: how numbers are written and read.
        csrf: what every form sends back, as proof that it is ours.
        token: what the browser is known by.
        here: whether the browser runs on this machine.
        inside: whether it may see the bench; false on open pages alone.
        signed_in: whether there is anything to sign out of.
        plain: whether the pages travel unencrypted to another machine.
        part: id of the part that is asked for; '' for the whole page.
    """

    services: Any
    path: Mapping[str, Any]
    query: Mapping[str, str]
    form: Form
    locale: Locale
    csrf: str
    token: str = ""
    here: bool = False
    inside: bool = True
    signed_in: bool = False
    plain: bool = False
    part: str = ""

    @property
    def book(self) -> PriceBook | None:
        """The price book in force; None before the first, or if it cannot be read."""
        try:
            found: PriceBook = self.services.price_books.current()
        except (NotFound, BookRefused):
            return None
        return found

    @property
    def untimed(self) -> int:
        """Stages of the price book that nobody has timed yet [count]."""
        book = self.book
        return to_be_timed(book) if book else 0

    @property
    def zone(self) -> ZoneInfo:
        """The workshop's time zone; UTC before there is a price book."""
        book = self.book
        return ZoneInfo(book.timezone if book else "UTC")

    def document(self, schema: Any) -> dict[str, Any]:
        """The form as the document that the wire takes for ``schema``.

        Raises:
            InvalidInput: a number or time cannot be read, each with its path.
        """
        read = Reader(self.locale, self.zone).document(self.form, schema)
        self.form.names.update(read.names)
        if read.faults:
            raise InvalidInput("some values cannot be read", faults=read.faults)
        return read.document

    def read(self, schema: Any) -> Any:
        """What ``schema`` makes of the form, as of a body of the API.

        Raises:
            InvalidInput: with every fault of the form and its path.
        """
        read = Reader(self.locale, self.zone).document(self.form, schema)
        self.form.names.update(read.names)
        return read.loaded(schema)

    def again(self, form: Form) -> Visit:
        """The same visit with another form, which is the one that is drawn."""
        g.visit = changed = replace(self, form=form)
        return changed

    def upload(self, name: str) -> bytes:
        """The file that was sent under a name; empty where none was."""
        sent = request.files.get(name)
        if sent is None:
            return b""
        sent.seek(0)  # a transaction that is run again asks again
        data: bytes = sent.read()
        return data
