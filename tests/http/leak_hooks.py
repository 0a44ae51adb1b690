"""What endpoints of others are told, and what alone it may hold."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from api.hooks.signing import signed_headers
from api.ports.hooks import HOOK_EVENTS, Sent
from api.services.hooks.delivery import HookDelivery
from api.services.hooks.telling import HookTelling
from tests.http import leaks
from tests.http.leaks import SECRET_NAMES, Leak

URL = "https://shop.example/told"
_ABOUT_A_QUOTE = dict.fromkeys(("id", "number", "total", "currency"))
ALLOWED = {
    "listing.prices_changed": dict.fromkeys(("version", "currency"))
    | {"listings": {"sku": None, "published": None, "bands": {
        "from": None, "to": None, "price": None,
    }}},
    "quote.accepted": _ABOUT_A_QUOTE,
    "quote.expired": _ABOUT_A_QUOTE,
}  # fmt: skip
"""What the data of each event holds: member → members of what it holds."""
AROUND = {"type", "timestamp", "data"}
HEADERS = {"Content-Type", "webhook-id", "webhook-timestamp", "webhook-signature"}


@dataclass
class Told:
    """A sender that keeps what it is to send, with its headers, and sends nothing."""

    messages: list[tuple[dict[str, str], str]] = field(default_factory=list)

    def refusal(self, url):
        return "" if urlsplit(url).scheme == "https" else "plain_http"

    def send(self, hook, message, *, at):
        body = message.body.encode()
        at = int(at.timestamp())
        headers = signed_headers(hook.secrets, message.id, at, body)
        self.messages.append((dict(headers), message.body))
        return Sent(status=200)


def listen(place):
    """Let an endpoint be told of everything from now on."""
    leaks.done(
        place.workshop.post("/v1/hooks", {"url": URL, "events": list(HOOK_EVENTS)})
    )


def told(place):
    """What it is told now: headers and body of each message."""
    services, sender = place.workshop.services, Told()
    telling = HookTelling(services.price_books)
    HookDelivery(
        services.snapshots, services.clock, telling=telling, sender=sender
    ).run()
    return sender.messages


def check(headers, body, secrets) -> str:
    """The event of a message; Leak for anything that has to stay in the workshop."""
    more = sorted(set(headers) - HEADERS)
    if more:
        raise Leak(f"headers that nobody allowed: {', '.join(more)}")
    for text in (str(headers), body):
        found = leaks.search(text, secrets)
        if found:
            raise Leak(f"{', '.join(found)} in {text[:200]}")
    document = json.loads(body)
    named = [name for name in leaks.names(document) if SECRET_NAMES.search(name)]
    if set(document) != AROUND or named:
        raise Leak(f"a message has {', '.join(named or sorted(document))}")
    event = document["type"]
    _check_members(event, document["data"], ALLOWED[event])
    return event


def _check_members(event, document, allowed) -> None:
    for one in document if isinstance(document, list) else [document]:
        if not isinstance(one, dict) or set(one) != set(allowed):
            raise Leak(f"{event} has {one!r}"[:200])
        for name, value in one.items():
            if allowed[name]:
                _check_members(event, value, allowed[name])
            elif isinstance(value, dict | list):
                raise Leak(f"{event}: nothing is allowed within {name}")
