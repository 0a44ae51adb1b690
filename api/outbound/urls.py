"""One strict reading of a URL.

The same parsed target is judged and connected to, so that no second reader of
the URL can see another host in it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address

from api.ports.feeds import FeedFailed

Address = IPv4Address | IPv6Address

PORTS = {"http": 80, "https": 443}
MOST_URL = 2000
MOST_NAME = 253  # characters, RFC 1035 section 2.3.4

# What is not here is not in a URL: no userinfo, no backslash, no blanks, no
# percent signs or letters beyond ASCII in the host, no fragment.
_URL = re.compile(
    r"(?P<scheme>https?)://"
    r"(?P<host>\[[0-9a-f:.]*:[0-9a-f:.]*\]|[a-z0-9.-]+)(?::(?P<port>[0-9]{1,5}))?"
    r"(?P<path>[/?][\w!$%&'()*+,;=:@/?.~\[\]-]*)?",
    re.ASCII | re.IGNORECASE,
)
# The last label begins with a letter, so no spelling of a number is a name.
_NAME = re.compile(
    r"(?:[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?\.)*[a-z](?:[a-z0-9-]{0,61}[a-z0-9])?"
)


class AddressRefused(FeedFailed):
    """A URL or an address that the program must not go to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A URL taken apart: host in lower case, port always given."""

    scheme: str
    host: str
    port: int
    path: str

    @property
    def usual_port(self) -> bool:
        """Whether this is the port its scheme has by default."""
        return PORTS[self.scheme] == self.port


def target_of(url: str, *, plain_http: bool = False) -> Target:
    """The parts of a URL that may be asked.

    Args:
        url: absolute, ``https`` (or ``http`` where ``plain_http``).
        plain_http: whether asking without encryption is allowed.

    Raises:
        AddressRefused: odd spelling, another scheme, name and password inside.

    >>> target_of("https://prices.example/silver?unit=ozt").host
    'prices.example'
    """
    found = _URL.fullmatch(url) if len(url) <= MOST_URL else None
    if found is None:
        raise AddressRefused(
            "bad_url",
            "The URL cannot be used. It has to look like "
            "https://prices.example/silver.json: a plain host name (xn--… where it "
            "has other letters than a-z), no name and password, no # part, and at "
            f"most {MOST_URL} characters.",
        )
    scheme, host = found["scheme"].lower(), found["host"].lower()
    if scheme == "http" and not plain_http:
        raise AddressRefused(
            "plain_http",
            "The URL begins with http://, which anyone on the way can read and "
            "change. Use https://, or allow http with FINEWEIGHT_FEED_HTTP=on.",
        )
    return Target(
        scheme=scheme,
        host=_sound_host(host),
        port=_sound_port(found["port"], scheme),
        path=_rooted(found["path"] or "/"),
    )


def _rooted(path: str) -> str:
    return path if path.startswith("/") else f"/{path}"


def _sound_port(text: str | None, scheme: str) -> int:
    port = int(text) if text else PORTS[scheme]
    if not 0 < port < 2**16:
        raise AddressRefused("bad_url", f"There is no port {port}; leave it out.")
    return port


def _sound_host(host: str) -> str:
    if host.startswith("["):
        host = host[1:-1]
    is_name = len(host) <= MOST_NAME and _NAME.fullmatch(host)
    if literal(host) is None and not is_name:
        raise AddressRefused(
            "bad_url",
            f"The host '{host}' is neither a plain name nor an address in its usual "
            "form; write it as prices.example.",
        )
    return host


def literal(host: str) -> Address | None:
    """The address that a host spells in its usual form; None for a name."""
    try:
        return ip_address(host)
    except ValueError:
        return None
