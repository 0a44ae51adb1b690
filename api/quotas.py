"""Quotas as HTTP tells them: which there are, how much is left, and the 429.

References:
    [1] draft-ietf-httpapi-ratelimit-headers-11 (May 2026): RateLimit-Policy and
        RateLimit, Structured Fields (RFC 9651); the problem type quota-exceeded.
    [2] RFC 6585 §4: 429, not to be stored by caches. RFC 9110 §10.2.3: Retry-After.
"""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address, ip_network
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
    """

    name: str
    usual: int


QUOTES = QuotaPolicy(name="quotes", usual=USUAL_QUOTES)
"""The operations on quotes, a key."""
SHEETS = QuotaPolicy(name="sheets", usual=USUAL_SHEETS)
"""The pages that customers open, a client address."""
SHOWN = QuotaPolicy(name="window", usual=USUAL_WINDOW)
"""What a storefront shows, a key."""
HOLDS = QuotaPolicy(name="holds", usual=USUAL_HOLDS)
"""Prices held for buyers, a key."""


class QuotaCount(Protocol):
    """Counts requests."""

    def count(self, policy: str, who: str) -> QuotaStanding:
        """Count one; how that leaves the caller."""
        ...


def spend(policy: QuotaPolicy, quotas: QuotaCount, key: KeyRecord | None) -> None:
    """Count the present request. Raises Refused where its quota is used up."""
    who = f"key {key.id}" if key else f"address {_site(request.remote_addr)}"
    standing = quotas.count(policy.name, who)
    g.quota = standing
    if not standing.passed:
        raise Refused(
            QUOTA_EXCEEDED,
            f"{standing.limit} requests in {WINDOW_S} seconds are allowed under the "
            f"policy '{policy.name}'; ask again in {standing.ends_in_s} seconds.",
            members={"violated-policies": [policy.name]},
            headers={
                "Retry-After": str(standing.ends_in_s),
                "Cache-Control": "no-store",
            },
        )


def _site(address: str | None) -> str:
    """Whoever has this address: of IPv6 ones, all of the same site are one."""
    try:
        found = ip_address(address or "")
    except ValueError:
        return ""  # no network between, as in a socket of this machine
    if isinstance(found, IPv6Address):
        return str(ip_network((found, _ONE_SITE), strict=False))
    return str(found)


def install(app: Flask) -> None:
    """Tell on every counted answer of ``app`` what is left."""
    app.after_request(_tell)


def _tell(response: Response) -> Response:
    standing: QuotaStanding | None = g.get("quota")
    if standing is not None:
        name = f'"{standing.policy}"'
        limit = f"{name};q={standing.limit};w={WINDOW_S}"
        response.headers["RateLimit-Policy"] = limit
        response.headers["RateLimit"] = (
            f"{name};r={standing.left};t={standing.ends_in_s}"
        )
    return response
