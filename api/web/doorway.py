"""Who may come in to the pages of the bench, and whether a form is ours.

Nobody signs in on the machine itself: the connection comes from loopback, nothing
forwarded it, and the address in the browser names loopback too. That last is what a
page elsewhere cannot have, however its name is made to point here.

References:
    [1] WHATWG Fetch Metadata, Sec-Fetch-Site; Fetch, the Origin header.
    [2] RFC 6265bis §4.1.3.2, the __Host- prefix; RFC 6761 §6.3, localhost.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any, Protocol

from flask import Request, Response

COOKIE = "fineweight"
SECURE_COOKIE = f"__Host-{COOKIE}"
TOKEN_FIELD = "_csrf"  # noqa: S105 - the name of a field

_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)
_FORWARDED = (
    "Forwarded",
    "Via",
    "X-Forwarded-For",
    "X-Forwarded-Host",
    "X-Forwarded-Proto",
    "X-Real-Ip",
)
_OF_NO_BROWSER = "HTTP/1.0"
"""What some proxies speak that tell nothing of whom they ask for."""
_OUR_OWN = frozenset({"same-origin", "none"})


class Secrets(Protocol):
    """Random secrets of this installation."""

    def secret(self, name: str) -> bytes:
        """The secret of this name."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """Whoever asks for a page.

    Attributes:
        token: what the browser is known by; new where it came without.
        csrf: proof that a form was drawn for this browser.
        here: whether the browser runs on this machine.
        plain: whether pages travel unencrypted to another machine.
        fresh: whether the browser has to be given the token.
        inside: whether it may see the bench.
        signed_in: whether it gave the passphrase.
        session: what the audit trail calls it, once it signed in.
    """

    token: str
    csrf: str
    here: bool
    plain: bool
    fresh: bool
    inside: bool = False
    signed_in: bool = False
    session: str = ""


def visitor(request: Request, kept: Secrets) -> Visitor:
    """Whoever made a request, as far as the request tells."""
    came = request.cookies.get(_cookie_name(request), "")
    known = bool(_TOKEN.fullmatch(came))
    token = came if known else new_token()
    here = is_here(request)
    return Visitor(
        token=token,
        csrf=csrf_token(kept, token),
        here=here,
        plain=not (here or request.is_secure),
        fresh=not known,
    )


def new_token() -> str:
    """A token for a browser, of 256 random bits."""
    return secrets.token_urlsafe(32)


def csrf_token(kept: Secrets, token: str) -> str:
    """What forms of a browser carry; without the token nobody can work it out."""
    proof = hmac.new(kept.secret("csrf"), token.encode(), hashlib.sha256)
    return proof.hexdigest()


def is_here(request: Request) -> bool:
    """Whether a request was made on this machine, to a name of this machine."""
    told = any(name in request.headers for name in _FORWARDED)
    if told or request.environ.get("SERVER_PROTOCOL") == _OF_NO_BROWSER:
        return False  # the machine nearest to us is only a proxy
    return _is_loopback(request.remote_addr or "") and _is_loopback(_host(request))


def _host(request: Request) -> str:
    name = request.host.lower()
    bracketed = re.match(r"\[([^\]]*)\]", name)
    return bracketed[1] if bracketed else name.partition(":")[0]


def _is_loopback(name: str) -> bool:
    try:
        return ip_address(name).is_loopback
    except ValueError:
        return name == "localhost"


def is_ours(request: Request, csrf: str) -> bool:
    """Whether a form was drawn by these pages for this very browser."""
    site = request.headers.get("Sec-Fetch-Site", "none")
    # Our pages send no referrer, so browsers say "null" of them as of some others.
    origin = request.headers.get("Origin", "null")
    if site not in _OUR_OWN or origin not in {"null", _own_origin(request)}:
        return False
    sent = request.form.get(TOKEN_FIELD, "")
    return hmac.compare_digest(sent.encode(), csrf.encode())


def _own_origin(request: Request) -> str:
    return f"{request.scheme}://{request.host}"


def remember(answer: Response, token: str, request: Request) -> None:
    """Give the browser its token, until it is closed."""
    answer.set_cookie(
        _cookie_name(request),
        token,
        secure=request.is_secure,
        httponly=True,
        samesite="Lax",
        path="/",
    )


def _cookie_name(request: Any) -> str:
    return SECURE_COOKIE if request.is_secure else COOKIE
