"""Keys of programs, and who may come in to the bench."""

from __future__ import annotations

from typing import Any

from flask import abort

from api.ports import KeyRecord
from api.schemas.keys import KeyBody
from api.web.bench.sign_in import PASSPHRASE
from api.web.pages import Page, Pages, Redirect
from api.web.visit import Visit

ADDRESS = "/bench/keys"
REVOKE = f"{ADDRESS}/<key_id>/revoke"
ENDING = f"{ADDRESS}/sessions"

_WINDOW = (
    "Window: pages that buyers see. Published listings and their prices, nothing else; "
    "whoever reads it out of a page learns what every buyer may see."
)
_SHOP = (
    "Shop: the server of your shop. The same, and it may accept quotes and read what "
    "was held for buyers. No cost, no margin."
)
_BENCH = (
    "Bench: everything, costs and keys too. For programs of your own, on machines that "
    "you trust."
)
REACHES = (("window", _WINDOW), ("shop", _SHOP), ("bench", _BENCH))
"""Scopes and what they reach, the narrowest first."""

pages = Pages(
    "keys",
    title="Keys",
    tab="keys",
    done={
        "revoked": "The key is revoked, and refused from now on.",
        "ended": "Everybody who had signed in has to sign in again.",
    },
)


@pages.get(ADDRESS)
def keys(visit: Visit) -> Page:
    """Every key, one to make, and who may sign in."""
    found: tuple[KeyRecord, ...] = visit.services.keys.list()
    values: dict[str, Any] = {
        "standing": [key for key in reversed(found) if key.revoked_at is None],
        "revoked": [key for key in reversed(found) if key.revoked_at is not None],
        "reaches": REACHES,
        "passphrase": visit.services.sessions.has_passphrase(),
        "passphrase_page": PASSPHRASE,
        "now": visit.services.clock.now(),
    }
    return Page("bench/keys.html", values)


@pages.post(ADDRESS, again=keys, once=True)
def make(visit: Visit) -> Page:
    """Make a key, and show it this once."""
    asked = visit.read(KeyBody())
    record, token = visit.services.keys.create(asked["scope"], asked["label"])
    values = {"record": record, "token": token}
    return Page("bench/key_made.html", values, told_once=True)


@pages.get(REVOKE)
def ask_to_revoke(visit: Visit) -> Page:
    """What stops with a key, before it does."""
    return Page("bench/key_revoke.html", {"record": _record(visit)})


@pages.post(REVOKE, again=ask_to_revoke, once=True)
def revoke(visit: Visit) -> Redirect:
    """Refuse a key from now on."""
    visit.services.keys.revoke(_record(visit).id)
    return Redirect(ADDRESS, done="revoked")


@pages.get(ENDING)
def ask_to_end(_: Visit) -> Page:
    """What it means to end every session, before it is done."""
    return Page("bench/key_sessions.html")


@pages.post(ENDING, again=ask_to_end)
def end_all(visit: Visit) -> Redirect:
    """Let everybody sign in anew."""
    visit.services.sessions.sign_out_everywhere()
    return Redirect(ADDRESS, done="ended")


def _record(visit: Visit) -> KeyRecord:
    found: tuple[KeyRecord, ...] = visit.services.keys.list()
    record = next((one for one in found if one.id == visit.path["key_id"]), None)
    if record is None:
        abort(404)
    return record
