"""Signing in to the bench, out of it, and the passphrase."""

from __future__ import annotations

from flask import abort, request

from api.ports import TooManyTries
from api.quotas import site
from api.web.doorway import new_token
from api.web.pages import Page, Pages, Redirect, is_own
from api.web.visit import Visit
from pricing.errors import InvalidInput

pages = Pages(
    "sign_in",
    title="Sign in",
    done={"out": "You are signed out.", "set": "The passphrase is set."},
)

SIGN_IN, SIGN_OUT = "/bench/sign-in", "/bench/sign-out"
PASSPHRASE = "/bench/passphrase"  # noqa: S105 - an address
_BENCH = "/bench"
_LONGEST_NEXT = 500


@pages.get(SIGN_IN, open=True)
def sign_in(visit: Visit) -> Page | Redirect:
    """Where the passphrase is given."""
    if visit.inside:
        return Redirect(_next(visit))
    return _drawn(visit)


def _drawn(visit: Visit, *, wait_s: int = 0) -> Page:
    values = {
        "next": _next(visit),
        "can": visit.services.sessions.has_passphrase(),
        "wait_s": wait_s,
    }
    if not wait_s:
        return Page("bench/sign_in.html", values)
    headers = {"Retry-After": str(wait_s)}
    return Page("bench/sign_in.html", values, status=429, headers=headers)


@pages.post(SIGN_IN, again=_drawn, open=True)
def enter(visit: Visit) -> Page | Redirect:
    """Begin a session, and go on to where one wanted to go."""
    token = new_token()
    try:
        visit.services.sessions.sign_in(
            visit.form.text("passphrase"),
            new=token,
            old=visit.token,
            address=site(request.remote_addr),
        )
    except TooManyTries as error:
        return _drawn(visit, wait_s=error.retry_after_s)
    return Redirect(_next(visit), token=token)


def _next(visit: Visit) -> str:
    """Where to go on: a page of the bench, whatever the address says."""
    asked = visit.form.text("_next") or visit.query.get("next", "")
    below = asked == _BENCH or asked.startswith((f"{_BENCH}/", f"{_BENCH}?"))
    fits = below and is_own(asked) and len(asked) <= _LONGEST_NEXT
    return asked if fits and not asked.startswith(SIGN_IN) else _BENCH


@pages.get(SIGN_OUT)
def sign_out(_: Visit) -> Page:
    """The way out."""
    return Page("bench/sign_out.html")


@pages.post(SIGN_OUT)
def leave(visit: Visit) -> Redirect:
    """End the session."""
    visit.services.sessions.sign_out(visit.token)
    return Redirect(SIGN_IN, done="out", token=new_token())


@pages.get(PASSPHRASE, open=True)
def passphrase(visit: Visit) -> Page:
    """Where the passphrase is set, on this machine only."""
    return Page("bench/passphrase.html", {"there": _let_set(visit)})


@pages.post(PASSPHRASE, again=passphrase, open=True)
def keep(visit: Visit) -> Redirect:
    """Set the passphrase."""
    _let_set(visit)
    given = visit.form.text("passphrase")
    if given != visit.form.text("passphrase_again"):
        raise InvalidInput(
            "the two are not the same; type both again", path=("passphrase_again",)
        )
    visit.services.sessions.set_passphrase(given)
    stays = visit.inside and not visit.signed_in  # who signed in has to again
    return Redirect(PASSPHRASE if stays else SIGN_IN, done="set")


def _let_set(visit: Visit) -> bool:
    """Whether there is a passphrase; nobody elsewhere may so much as ask."""
    there: bool = visit.services.sessions.has_passphrase()
    if not visit.here or (there and not visit.inside):
        abort(403)
    return there
