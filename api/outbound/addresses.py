"""The addresses behind a name: only public ones, or networks allowed by hand."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Sequence
from ipaddress import (
    IPv4Address,
    IPv4Network,
    IPv6Network,
    ip_address,
)
from typing import Any

from api.outbound.urls import Address, AddressRefused, Target, literal
from api.ports.feeds import FeedFailed

Network = IPv4Network | IPv6Network
Resolver = Callable[..., Sequence[tuple[Any, ...]]]


# IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890), and multicast.
_NOT_PUBLIC_4 = tuple(
    IPv4Network(text)
    for text in (
        "0.0.0.0/8",
        "10.0.0.0/8",
        "100.64.0.0/10",
        "127.0.0.0/8",
        "169.254.0.0/16",
        "172.16.0.0/12",
        "192.0.0.0/24",
        "192.0.2.0/24",
        "192.88.99.0/24",
        "192.168.0.0/16",
        "198.18.0.0/15",
        "198.51.100.0/24",
        "203.0.113.0/24",
        "224.0.0.0/4",
        "240.0.0.0/4",
    )
)
# Of IPv6 only 2000::/3 is given out (IANA IPv6 Address Space). All that holds an
# IPv4 address inside lies outside of it, but for Teredo and 6to4.
_GIVEN_OUT_6 = IPv6Network("2000::/3")
_NOT_PUBLIC_6 = tuple(
    IPv6Network(text)
    for text in ("2001::/23", "2001:db8::/32", "2002::/16", "3fff::/20")
)


def is_public(address: Address) -> bool:
    """Whether an address belongs to the open internet and to nothing special.

    >>> is_public(ip_address("2002:7f00:1::")), is_public(ip_address("9.9.9.9"))
    (False, True)
    """
    if isinstance(address, IPv4Address):
        return not any(address in network for network in _NOT_PUBLIC_4)
    return address in _GIVEN_OUT_6 and not any(
        address in network for network in _NOT_PUBLIC_6
    )


def resolve_public(
    target: Target,
    *,
    allowed: Sequence[Network] = (),
    resolver: Resolver = socket.getaddrinfo,
    within_s: float = 5,
) -> tuple[Address, ...]:
    """Every address of a host, asked for once, all of them fit to connect to.

    Args:
        target: where to go.
        allowed: networks that are allowed though they are not public, on any port.
        resolver: looks a name up, as ``socket.getaddrinfo`` does.
        within_s: longest wait for the resolver [s].

    Raises:
        AddressRefused: one of the addresses is neither public nor allowed, or
            the port is an unusual one outside the allowed networks.
        FeedFailed: the name is unknown or the resolver did not answer.
    """
    own = literal(target.host)
    addresses = (own,) if own else _looked_up(target, resolver, within_s)
    for address in addresses:
        if any(address in network for network in allowed):
            continue
        if not is_public(address):
            raise AddressRefused(
                "forbidden_address",
                f"'{target.host}' leads to an address inside a private or reserved "
                "network. If it is a machine of yours, allow its network with "
                "FINEWEIGHT_FEED_NETWORKS.",
            )
        if not target.usual_port:
            raise AddressRefused(
                "forbidden_port",
                f"Port {target.port} is not asked outside of allowed networks; "
                "feeds are served on 443 (https) or 80 (http).",
            )
    return addresses


def _looked_up(
    target: Target, resolver: Resolver, within_s: float
) -> tuple[Address, ...]:
    rows = _bounded(
        lambda: resolver(target.host, target.port, type=socket.SOCK_STREAM), within_s
    )
    if rows is None:
        raise FeedFailed(
            "unknown_host",
            f"No address could be found for '{target.host}'. Check the name, and the "
            "connection of this machine to the internet.",
        )
    # A scope makes an address one of this machine's own links.
    found = dict.fromkeys(ip_address(row[4][0]) for row in rows)
    return tuple(found)


def _bounded(look_up: Callable[[], Any], within_s: float) -> Any:
    """What ``look_up`` returns; None if it fails or takes too long.

    The system's resolver has no time limit of its own, so it runs in a thread
    that is left behind when it is late.
    """
    answers: list[Any] = []

    def work() -> None:
        try:
            answers.append(look_up())
        except (OSError, UnicodeError):  # unknown, or no name a resolver can take
            return

    thread = threading.Thread(target=work, name="feed-resolver", daemon=True)
    thread.start()
    thread.join(within_s)
    return answers[0] if answers and answers[0] else None
