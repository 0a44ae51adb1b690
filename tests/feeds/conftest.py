from __future__ import annotations

import socket
import ssl
from dataclasses import dataclass, field
from ipaddress import ip_network

import pytest
import trustme

from api.outbound.deadline import Limits
from api.outbound.safe_http import Reach
from tests.feeds.hostile_server import HostileServer

PUBLIC = "9.9.9.9"


@dataclass
class Connector:
    """Records where connections go; leads every public address to a local port."""

    port: int = 0
    made: list[tuple[str, int]] = field(default_factory=list)

    def __call__(self, address, seconds):
        self.made.append(address)
        if not self.port:
            raise ConnectionRefusedError
        return socket.create_connection(("127.0.0.1", self.port), seconds)


def resolver(*answers):
    """Gives these lists of addresses in turn, then the last for ever."""
    left = list(answers)

    def resolve(_host, port, **_):
        addresses = left.pop(0) if len(left) > 1 else left[0]
        return [
            (socket.AF_INET, socket.SOCK_STREAM, 6, "", (address, port))
            for address in addresses
        ]

    return resolve


@pytest.fixture
def server():
    with HostileServer() as running:
        yield running


@pytest.fixture(scope="session")
def authority():
    return trustme.CA()


@pytest.fixture
def trust(authority):
    def context():
        made = ssl.create_default_context()
        authority.configure_trust(made)
        return made

    return context


@pytest.fixture
def tls_server(authority):
    made = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert("feed.example", "127.0.0.1").configure_cert(made)
    with HostileServer(made) as running:
        yield running


@pytest.fixture
def local():
    """Lets a fetch reach the local server, as an operator would allow a network."""
    return Reach(networks=(ip_network("127.0.0.0/8"),), plain_http=True)


@pytest.fixture
def quick():
    """Limits for tests, in tenths of seconds."""
    return Limits(connect_s=0.5, read_s=0.1, total_s=0.4, pause_s=0.001)
