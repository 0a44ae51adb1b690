"""Letting visitors in to the bench, or turning them away."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import Any
from urllib.parse import quote

from flask import current_app, request
from werkzeug.exceptions import HTTPException

from api.settings import ALWAYS, Settings
from api.web import doorway
from api.web.doorway import Visitor
from api.web.pages import Page, Redirect
from api.web.sent_form import Form

SIGN_IN = "/bench/sign-in"
_BENCH = "/bench"


class TurnedAway(Exception):
    """A visit that goes no further, and what is shown instead."""

    def __init__(self, page: Page | Redirect) -> None:
        super().__init__()
        self.page = page


class Door:
    """Knows visitors by their sessions."""

    def __init__(self, services: Any, settings: Settings) -> None:
        self.services = services
        self._settings = settings

    def visitor(self, *, open_to_all: bool) -> Visitor:
        """Whoever comes, and may. Raises TurnedAway."""
        came = doorway.visitor(request, self.services.installation)
        if came.plain and not self._settings.plain_http:
            raise TurnedAway(Page("bench/plain_http.html", status=403))
        session = None if came.fresh else self.services.sessions.find(came.token)
        if session is not None and session.signed_in:
            return replace(came, inside=True, signed_in=True, session=session.id)
        if came.here and self._settings.sign_in != ALWAYS:
            return self._of_this_machine(came, known=session is not None)
        if open_to_all:
            return came
        raise TurnedAway(_to_sign_in())

    def _of_this_machine(self, came: Visitor, *, known: bool) -> Visitor:
        """A visitor who need not sign in; known from the first visit on."""
        if known:
            return replace(came, inside=True)
        token = doorway.new_token()
        if request.method != "POST":  # no form can have been drawn for it yet
            self.services.sessions.begin_here(token)
        csrf = doorway.csrf_token(self.services.installation, token)
        return replace(came, token=token, csrf=csrf, fresh=True, inside=True)


def _to_sign_in() -> Page | Redirect:
    if request.method == "POST":
        return not_taken(Form.of(request.form), over=True)
    asked = quote(request.full_path.removesuffix("?"), safe="/?=&%+-_.~")
    return Redirect(f"{SIGN_IN}?next={quote(asked, safe='/')}")


def not_taken(form: Form, *, over: bool = False) -> Page:
    """What is shown in place of a form's page, with all that was typed.

    Args:
        form: as it was sent.
        over: whether the session has ended that it was drawn for.
    """
    values = {"typed": _typed(form), "over": over, "page": _page_of(request.path)}
    return Page("bench/not_ours.html", values, status=403)


def _page_of(path: str) -> str:
    """The page that holds the form which is sent to ``path``: it, or one above."""
    addresses = current_app.create_url_adapter(request)
    while addresses is not None and path.startswith(f"{_BENCH}/"):
        with suppress(HTTPException):
            addresses.match(path, method="GET")
            return quote(path)
        path = path.rpartition("/")[0]
    return _BENCH


def _typed(form: Form) -> list[tuple[str, str]]:
    """What a person typed or chose, to be copied; never a passphrase."""
    secret = "passphrase"  # noqa: S105 - the name of a field
    shown = {n: given for n, given in form.members().items() if secret not in n}
    return [(name, one) for name, given in shown.items() for one in given if one]
