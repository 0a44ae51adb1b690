"""The composition root: where settings become services and an application.

Nothing is made on import. ``compose`` wires storage and clock into services;
``create_app`` puts HTTP in front of services, composed or given.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import Flask

from api import cors, errors, exchange, openapi, quotas, request_log, security
from api.app.composition import Services, SystemClock, backups, compose, upgrade
from api.application import application
from api.endpoint import Routes
from api.resources import ROUTES
from api.services.quotes.customer_sheet import CustomerSheet
from api.settings import Settings
from api.web import docs, page_walk, sheet, sheet_file, window
from api.web.bench import PAGES
from api.web.pages import Pages

__all__ = [
    "PAGES",
    "RESOURCES",
    "Services",
    "SystemClock",
    "backups",
    "compose",
    "create_app",
    "openapi_document",
    "openapi_yaml",
    "sheet_html",
    "upgrade",
]

RESOURCES: tuple[Routes, ...] = (
    *ROUTES,
    docs.routes,
    sheet.routes,
    window.routes,
)
"""Every resource of the API, in the order the documentation shows them."""


def sheet_html(shown: CustomerSheet) -> str:
    """The customer's sheet as one HTML file; needs no database."""
    return sheet_file.sheet_file(shown)


def openapi_document() -> dict[str, Any]:
    """The OpenAPI document of the whole API; needs no database."""
    return openapi.document(RESOURCES)


def openapi_yaml() -> str:
    """The OpenAPI document of the whole API as YAML text; needs no database."""
    return openapi.to_yaml(RESOURCES)


def create_app(
    settings: Settings,
    services: Any = None,
    *,
    resources: Sequence[Routes] = RESOURCES,
    pages: Sequence[Pages] = PAGES,
) -> Flask:
    """The application.

    Args:
        settings: how this installation runs.
        services: in place of composed ones, for tests and the command line.
        resources: what is served.
        pages: of the bench, likewise.

    Raises:
        ScopeMissing: a route without a declared scope.
    """
    app = application(settings)
    composed = compose(settings) if services is None else services
    for routes in resources:
        exchange.register(app, routes, composed)
    page_walk.register(app, pages, composed, settings)
    exchange.check_scopes(app)
    app.extensions["services"] = composed
    app.extensions["description"] = openapi.Description(resources)
    errors.install(app)
    quotas.install(app)
    security.install(app)
    cors.install(app)
    request_log.install(app)
    return app
