"""Quotas as HTTP tells them: which there are, how much is left, and the 429.

References:
    [1] draft-ietf-httpapi-ratelimit-headers-11 (May 2026): RateLimit-Policy and
        RateLimit, Structured Fields (RFC 9651); the problem type quota-exceeded.
    [2] RFC 6585 §4: 429, not to be stored by caches. RFC 9110 §10.2.3: Retry-After.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from typing import Protocol

from flask import Flask, Response, g, request

from api.errors import Refused
from api.ports import KeyRecord
from api.problems import QUOTA_EXCEEDED
from api.services.quotas import WINDOW_S, QuotaStanding
from api.settings import USUAL_HOLDS, USUAL_QUOTES, USUAL_SHEETS, USUAL_WINDOW

_ONE_SITE = 64  # bits of an IPv6 address that one customer of a provider has
HEADERS = {
    "RateLimit-Policy": "How many requests are allowed (q) in how many seconds (w).",
    "RateLimit": "How many of them are left (r), and until the window ends [s] (t).",
}
"""What the fields on every answer say, for the description."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotaPolicy:
    """How many requests a caller may make for a group of operations together.

    Attributes:
        name: as the RateLimit fields tell it.
        usual: limit where no setting says another [requests/minute].
        shared: a window key stands in a page, and its quota is for all visitors; none
            of them may use it up alone.
        ahead: whether a busy process may count several requests at once, and answer
            them by what was stored a moment ago: for what promises nothing.
    """

    name: str
    usual: int
    shared: bool = False
    ahead: bool = False


QUOTES = QuotaPolicy(name="quotes", usual=USUAL_QUOTES)
"""The operations on quotes, a key."""
SHEETS = QuotaPolicy(name="sheets", usual=USUAL_SHEETS)
"""The pages that customers open, a client address."""
SHOWN = QuotaPolicy(name="window", usual=USUAL_WINDOW, shared=True, ahead=True)
"""What a storefront shows, a key; and a visitor of a page."""
HOLDS = QuotaPolicy(name="holds", usual=USUAL_HOLDS, shared=True)
"""Prices held for buyers, a key; and a visitor of a page."""


class QuotaCount(Protocol):
    """Counts requests."""

    def count(self, policy: str, who: str, *, ahead: bool = False) -> QuotaStanding:
        """Count one, or with it some that may come; how that leaves the caller."""
        ...

    def visit(self, policy: str, who: str, visitor: str) -> QuotaStanding:
        """Count one of a visitor who shares a key; how that leaves the visitor."""
        ...


def spend(policy: QuotaPolicy, quotas: QuotaCount, key: KeyRecord | None) -> None:
    """Count the present request. Raises Refused where its quota is used up."""
    who = f"key {key.id}" if key else f"address {site(request.remote_addr)}"
    g.quotas = []
    visits = policy.shared and key and key.scope == "window"
    visitor = _visitor(request.remote_addr) if visits else None
    if visitor:
        _pass(quotas.visit(policy.name, who, visitor))
    _pass(quotas.count(policy.name, who, ahead=policy.ahead))


def _pass(standing: QuotaStanding) -> None:
    """Go on if there was one left. Raises Refused."""
    g.quotas.append(standing)
    if not standing.passed:
        raise Refused(
            QUOTA_EXCEEDED,
            f"{standing.limit} requests in {WINDOW_S} seconds are allowed under the "
            f"policy '{standing.policy}'; ask again in {standing.ends_in_s} seconds.",
            members={"violated-policies": [standing.policy]},
            headers={
                "Retry-After": str(standing.ends_in_s),
                "Cache-Control": "no-store",
            },
        )


@lru_cache(maxsize=1024)
def _visitor(address: str | None) -> str | None:
    """Who looks at a page; None where it cannot be told from the address.

    One that is not public is that of a proxy, or of a machine of the workshop.
    """
    found = _read(address)
    return site(address) if found and found.is_global else None


def site(address: str | None) -> str:
    """Whoever has this address: of IPv6 ones, all of the same site are one."""
    found = _read(address)
    if found is None:
        return ""  # no network between, as in a socket of this machine
    if isinstance(found, IPv6Address):
        return str(ip_network((found, _ONE_SITE), strict=False))
    return str(found)


def _read(address: str | None) -> IPv4Address | IPv6Address | None:
    """An address; of IPv4 also where a proxy that listens to both writes it as IPv6."""
    try:
        found = ip_address(address or "")
    except ValueError:
        return None
    mapped = found.ipv4_mapped if isinstance(found, IPv6Address) else None
    return mapped or found


def install(app: Flask) -> None:
    """Tell on every counted answer of ``app`` what is left."""
    app.after_request(_tell)


def _tell(response: Response) -> Response:
    standings: list[QuotaStanding] = g.get("quotas", [])
    if standings:
        headers = response.headers
        limits = [f'"{each.policy}";q={each.limit};w={WINDOW_S}' for each in standings]
        left = [
            f'"{each.policy}";r={each.left};t={each.ends_in_s}' for each in standings
        ]
        headers.add("RateLimit-Policy", ", ".join(limits))
        headers.add("RateLimit", ", ".join(left))
    return response
