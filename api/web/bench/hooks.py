"""Hooks: addresses that are told what happens."""

from __future__ import annotations

from typing import Any

from api.ports.hooks import Hook, HookMessage
from api.schemas.hooks import HookBody, HookChangeBody
from api.services.hooks.hooks import MOST_HOOKS
from api.web.pages import Page, Pages, Redirect
from api.web.typed_numbers import whole_number
from api.web.visit import Visit
from pricing.errors import InvalidInput

ADDRESS = "/bench/keys/hooks"
HOOK = f"{ADDRESS}/<hook_id>"
ROTATE, REMOVE = f"{HOOK}/rotate", f"{HOOK}/remove"
_MOST_FAILURES = 100

EVENTS = (
    ("listing.prices_changed", "Prices of listings changed"),
    ("quote.accepted", "A quote was accepted"),
    ("quote.expired", "The time of a quote ran out"),
)
"""What can be told, in words."""
REASONS = {
    "disabled": "it still waited when the hook was switched off",
    "redirect": "the address leads elsewhere",
    "gone": "the address says it is gone for good",
    "timeout": "there was no answer in time",
    "unreachable": "nobody answers there",
    "unknown_host": "there is no machine of this name",
    "forbidden_address": "the address leads into a private network",
    "bad_certificate": "its certificate is not good",
    "too_many_failures": "a message was tried for three days in vain",
}
"""Why a message did not arrive, or a hook was switched off, in words."""

pages = Pages(
    "hooks",
    title="Hooks",
    tab="keys",
    done={
        "changed": "The hook is changed.",
        "on": "The hook is told what happens from now on.",
        "off": "The hook is told nothing more.",
        "removed": "The hook is gone, with its messages.",
        "finished": "The old secret is dropped.",
        "again": "The messages are sent again.",
        "nothing": "Nothing was ticked that failed, so nothing is sent again.",
    },
)


@pages.get(ADDRESS)
def hooks(visit: Visit) -> Page:
    """Every hook, and one to make."""
    values = {
        "hooks": visit.services.hooks.list(),
        "waits": visit.services.hooks.waiting(),
        "now": visit.services.clock.now(),
        "events": EVENTS,
        "reasons": REASONS,
        "most": MOST_HOOKS,
    }
    return Page("bench/hooks.html", values)


@pages.post(ADDRESS, again=hooks, once=True)
def add(visit: Visit) -> Page:
    """Make a hook, and show its secret this once."""
    asked = visit.read(HookBody())
    hook: Hook = visit.services.hooks.add(asked["url"], asked["events"])
    values = {"hook": hook, "first": True}
    return Page("bench/hook_secret.html", values, told_once=True)


@pages.get(HOOK)
def hook(visit: Visit) -> Page:
    """One hook, what waits for it, and what did not arrive there."""
    found = visit.services.hooks.get(visit.path["hook_id"])
    failures: tuple[HookMessage, ...] = visit.services.hooks.failures(
        found.id, limit=_MOST_FAILURES
    )
    values: dict[str, Any] = {
        "hook": found,
        "waiting": visit.services.hooks.waiting().get(found.id),
        "now": visit.services.clock.now(),
        "failures": failures,
        "events": EVENTS,
        "reasons": REASONS,
        "most": _MOST_FAILURES,
        "names": dict(EVENTS),
    }
    return Page("bench/hook.html", values)


@pages.post(HOOK, again=hook, once=True)
def change(visit: Visit) -> Redirect:
    """Change a hook, switch it on or off, or send again what failed."""
    hook_id, form = visit.path["hook_id"], visit.form
    if form.wants("all") or form.wants("ticked"):
        return _replay(visit, hook_id)
    if form.wants("on") or form.wants("off"):
        old: Hook = visit.services.hooks.get(hook_id)
        _put(visit, {"url": old.url, "events": old.events, "enabled": form.wants("on")})
        return Redirect(f"{ADDRESS}/{hook_id}", done=form.text("_do"))
    if form.wants("change"):
        _put(visit, visit.read(HookChangeBody()))
        return Redirect(f"{ADDRESS}/{hook_id}", done="changed")
    raise InvalidInput("press one of the buttons of the hook")


def _put(visit: Visit, asked: dict[str, Any]) -> None:
    visit.services.hooks.change(
        visit.path["hook_id"], **asked, expected=_version(visit)
    )


def _replay(visit: Visit, hook_id: str) -> Redirect:
    ids = None if visit.form.wants("all") else visit.form.values.get("_messages", ())
    count = visit.services.hooks.replay(hook_id, ids)
    done = "again" if count else "nothing"
    return Redirect(f"{ADDRESS}/{hook_id}", done=done)


@pages.get(ROTATE)
def ask_to_rotate(visit: Visit) -> Page:
    """The two steps of a new secret."""
    found = visit.services.hooks.get(visit.path["hook_id"])
    return Page("bench/hook_rotate.html", {"hook": found})


@pages.post(ROTATE, again=ask_to_rotate, once=True)
def rotate(visit: Visit) -> Page | Redirect:
    """Sign with a new secret beside the old one, or drop the old one."""
    hook_id = visit.path["hook_id"]
    if visit.form.wants("finish"):
        visit.services.hooks.rotate(hook_id, finish=True)
        return Redirect(f"{ADDRESS}/{hook_id}", done="finished")
    found: Hook = visit.services.hooks.rotate(hook_id)
    values = {"hook": found, "first": False}
    return Page("bench/hook_secret.html", values, told_once=True)


@pages.get(REMOVE)
def ask_to_remove(visit: Visit) -> Page:
    """What is lost with a hook, before it is."""
    found = visit.services.hooks.get(visit.path["hook_id"])
    return Page("bench/hook_remove.html", {"hook": found})


@pages.post(REMOVE, again=ask_to_remove, once=True)
def remove(visit: Visit) -> Redirect:
    """Forget a hook and its messages."""
    visit.services.hooks.remove(visit.path["hook_id"], expected=_version(visit))
    return Redirect(ADDRESS, done="removed")


def _version(visit: Visit) -> int:
    return whole_number(visit.form.text("_version"), digits=18) or 0
