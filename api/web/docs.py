"""The documentation for people, drawn from the OpenAPI document; needs no script."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from mimetypes import MimeTypes
from typing import cast

from flask import Response, abort, current_app, render_template, request

from api.endpoint import Routes
from api.problems import PROBLEMS
from api.security import OPEN
from api.web.reference import Group, groups

routes = Routes("docs", title="Documentation")

_TYPES = MimeTypes()
"""Those of Python alone: where a system calls scripts plain text, none would run."""


def _groups() -> tuple[Group, ...]:
    described = current_app.extensions["description"]
    if not hasattr(described, "groups"):
        described.groups = groups(described.document)
    found: tuple[Group, ...] = described.groups
    return found


def _page(template: str, **values: object) -> Response:
    text = render_template(template, groups=_groups(), **values)
    page = Response(text, mimetype="text/html")
    page.headers["Cache-Control"] = "no-cache"
    return page


@routes.page("/docs", scope=OPEN)
def index() -> Response:
    """What there is, and the rules that hold everywhere."""
    return _page("index.html")


@routes.page("/docs/problems", scope=OPEN)
def problem_index() -> Response:
    """Every kind of problem."""
    return _page("problems.html", kinds=PROBLEMS.values())


@routes.page("/docs/problems/<slug>", scope=OPEN)
def problem_page(slug: str) -> Response:
    """One kind of problem: what it means and what to do."""
    if slug not in PROBLEMS:
        abort(404)
    return _page("problem_page.html", kind=PROBLEMS[slug], status=None)


@routes.page("/docs/<slug>", scope=OPEN)
def group_page(slug: str) -> Response:
    """The operations of one group."""
    found = next((group for group in _groups() if group.slug == slug), None)
    if found is None:
        abort(404)
    return _page("group.html", group=found)


@routes.page("/static/<name>", scope=OPEN)
def static_file(name: str) -> Response:
    """A style sheet or picture of the pages."""
    if name not in _assets():
        abort(404)
    kind, _ = _TYPES.guess_type(name)
    answer = Response(_assets()[name], mimetype=kind)
    answer.headers["Cache-Control"] = "no-cache"
    answer.add_etag()
    return cast("Response", answer.make_conditional(request))


@cache
def _assets() -> dict[str, bytes]:
    """The few small files there are, so that no name is ever looked up on disk."""
    folder = files("api.web") / "static"
    return {one.name: one.read_bytes() for one in folder.iterdir()}
