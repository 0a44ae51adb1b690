"""The keys that held prices are signed with: which there are, and a new one."""

from __future__ import annotations

from api.services.window.signing import PUBLISHED_FOR, USED_FOR
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit

ADDRESS = "/bench/keys/signing"
ROTATE = f"{ADDRESS}/new"

pages = Pages(
    "keys_signing",
    title="Signing keys",
    tab="keys",
    done={"made": "Prices are signed with the new key from now on."},
)


@pages.get(ADDRESS)
def signing_keys(visit: Visit) -> Page:
    """Every key, the one in use first."""
    now = visit.services.clock.now()
    values = {
        "keys": [
            (key, key.retired_at is None or now < key.retired_at + PUBLISHED_FOR)
            for key in visit.services.window.signing.kept()
        ],
        "days": USED_FOR.days,
        "hours": PUBLISHED_FOR,
    }
    return Page("bench/key_signing.html", values)


@pages.get(ROTATE)
def ask_to_rotate(_: Visit) -> Page:
    """What a new key means, before it is made."""
    return Page("bench/key_signing_new.html")


@pages.post(ROTATE, again=ask_to_rotate, once=True)
def rotate(visit: Visit) -> Redirect:
    """Sign with a new key from now on."""
    visit.services.window.signing.rotate()
    return Redirect(ADDRESS, done="made")
