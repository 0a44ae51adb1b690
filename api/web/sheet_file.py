"""The customer's copy of a quote as one file, drawn without a request or a server."""

from __future__ import annotations

from importlib.resources import files
from typing import Any
from zoneinfo import ZoneInfo

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

from api.services.quotes.customer_sheet import CustomerSheet
from api.web import words
from pricing.money import percent

STYLES = ("bench.css", "sheet.css")


def sheet_values(sheet: CustomerSheet) -> dict[str, Any]:
    """What the templates of the sheet are drawn with."""
    return {
        "sheet": sheet,
        "zone": ZoneInfo(sheet.timezone),
        "words": words,
        "percent": percent,
    }


def sheet_file(sheet: CustomerSheet) -> str:
    """The sheet as HTML that needs nothing beside it and loads nothing."""
    drawing = Environment(
        loader=PackageLoader("api.web"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    template = drawing.get_template("quote_sheet_file.html")
    return template.render(sheet_values(sheet), style=_style())


def _style() -> Markup:
    """The style sheets of the page, which are our own and closed to everybody."""
    folder = files("api.web") / "static"
    texts = [(folder / name).read_text("utf-8") for name in STYLES]
    return Markup("\n".join(texts))  # noqa: S704 - no text of another is in it
