"""The customer's copy of a quote: a page at an address that nobody can guess."""

from __future__ import annotations

import re

from flask import current_app, render_template

from api.endpoint import Routes
from api.quotas import SHEETS
from api.security import OPEN
from api.web.sheet_file import sheet_values

routes = Routes("sheets", title="Sheets")

_TOKEN = re.compile(r"[A-Za-z0-9_-]{1,64}", re.ASCII)
_NOBODYS = "-"


@routes.page("/quotes/<token>", scope=OPEN, quota=SHEETS)
def quote_sheet(token: str) -> str:
    """What was promised, for how long, and what became of it; no cost of it."""
    services = current_app.extensions["services"]
    # What cannot be an address is looked up all the same, so that it takes as long.
    known = token if _TOKEN.fullmatch(token) else _NOBODYS
    with services.snapshots.held():
        sheet = services.quotes.sheet(services.quotes.by_sheet(known))
    return render_template("quote_sheet.html", **sheet_values(sheet))
