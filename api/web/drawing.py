"""What the templates of the bench are drawn with, whatever page it is."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from typing import Any

from flask import Flask, g

from api.web import locales
from api.web.navigation import tabs_of
from api.web.sent_form import Form
from api.web.visit import Visit

_BLANK = Form()
_NAMES = (
    "money", "price", "number", "figure", "tenth", "share", "typed", "typed_share",
    "day", "instant", "short_instant", "age",
)  # fmt: skip


def install(app: Flask) -> None:
    """Give templates the filters, the navigation and the visit."""
    for name in _NAMES:
        app.add_template_filter(_filter(name), name)
    app.add_template_global(lambda: secrets.token_urlsafe(16), "new_once")
    tabs = tabs_of(app)

    def common() -> dict[str, Any]:
        visit: Visit | None = g.get("visit")
        form = visit.form if visit else _BLANK
        return {"visit": visit, "form": form, "tabs": tabs}

    app.context_processor(common)


def _filter(name: str) -> Callable[..., str]:
    """A filter that writes as the present visitor's country does."""

    def write(*given: Any) -> str:
        if "writes" not in g:
            visit: Visit = g.visit
            g.writes = locales.filters(visit.locale, visit.zone)
        written: str = g.writes[name](*given)
        return written

    return write
