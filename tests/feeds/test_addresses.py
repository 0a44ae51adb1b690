from __future__ import annotations

import socket
import threading
import time
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.outbound.addresses import is_public, resolve_public
from api.outbound.urls import AddressRefused, target_of
from api.ports.feeds import FeedFailed
from tests.feeds.conftest import PUBLIC, resolver

HTTPS = target_of("https://prices.example/")

FORBIDDEN = [
    "0.0.0.0",  # noqa: S104 - nothing is bound to it
    "0.1.2.3",
    "10.0.0.1",
    "100.64.0.1",
    "100.127.255.255",
    "127.0.0.1",
    "127.255.255.254",
    "169.254.169.254",
    "172.16.0.1",
    "172.31.255.255",
    "192.0.0.1",
    "192.0.2.1",
    "192.88.99.1",
    "192.168.0.1",
    "198.18.0.1",
    "198.19.255.255",
    "198.51.100.1",
    "203.0.113.1",
    "224.0.0.1",
    "239.255.255.255",
    "240.0.0.1",
    "255.255.255.255",
    "::",
    "::1",
    "::7f00:1",
    "::ffff:127.0.0.1",
    "::ffff:9.9.9.9",
    "64:ff9b::7f00:1",
    "64:ff9b::909:909",
    "64:ff9b:1::1",
    "100::1",
    "2001::1",
    "2001:0:7f00:1::",
    "2001:db8::1",
    "2002:7f00:1::",
    "2002:909:909::",
    "3fff::1",
    "5f00::1",
    "fc00::1",
    "fd12:3456::1",
    "fe80::1",
    "fec0::1",
    "ff02::1",
    "4000::1",
]


@pytest.mark.parametrize("text", FORBIDDEN)
def test_special_addresses_are_not_public(text):
    assert not is_public(ip_address(text))


@pytest.mark.parametrize(
    "text",
    ["1.1.1.1", PUBLIC, "100.63.255.255", "172.32.0.1", "2620:fe::fe", "2a00:1450::1"],
)
def test_addresses_of_the_open_internet_are_public(text):
    assert is_public(ip_address(text))


@given(
    st.one_of(
        st.integers(0, 2**32 - 1).map(IPv4Address),
        st.integers(0, 2**128 - 1).map(IPv6Address),
        st.integers(2**125, 2**126 - 1).map(IPv6Address),
    )
)
def test_nothing_is_public_that_the_standard_library_calls_special(address):
    if is_public(address):
        assert address.is_global
        assert not address.is_multicast
        assert not address.is_reserved


@pytest.mark.parametrize("text", FORBIDDEN)
def test_a_name_that_leads_to_a_special_address_is_refused(text):
    with pytest.raises(AddressRefused, match="FINEWEIGHT_FEED_NETWORKS") as refused:
        resolve_public(HTTPS, resolver=resolver([text]))
    assert refused.value.reason == "forbidden_address"
    assert text not in refused.value.message


def test_one_special_address_among_others_is_enough_to_refuse():
    for answer in ([PUBLIC, "10.0.0.1"], ["10.0.0.1", PUBLIC], [PUBLIC] * 50 + ["::1"]):
        with pytest.raises(AddressRefused):
            resolve_public(HTTPS, resolver=resolver(answer))


def test_every_address_is_returned_once_and_in_order():
    answer = [PUBLIC, "2620:fe::fe", PUBLIC]
    found = resolve_public(HTTPS, resolver=resolver(answer))
    assert found == (ip_address(PUBLIC), ip_address("2620:fe::fe"))


def test_an_address_with_a_scope_is_of_this_machine():
    with pytest.raises(AddressRefused):
        resolve_public(HTTPS, resolver=resolver(["fe80::1%1"]))


def test_an_address_in_the_url_is_judged_without_a_resolver():
    def none(*_, **__):
        raise AssertionError

    target = target_of("https://9.9.9.9/")
    assert resolve_public(target, resolver=none) == (ip_address(PUBLIC),)
    with pytest.raises(AddressRefused):
        resolve_public(target_of("https://[::ffff:127.0.0.1]/"), resolver=none)


def test_an_allowed_network_is_reached_on_any_port():
    lan = (ip_network("192.168.7.0/24"), ip_network("fd00::/8"))
    target = target_of("https://box.lan:8443/")
    answer = ["192.168.7.9", "fd00::9"]
    found = resolve_public(target, allowed=lan, resolver=resolver(answer))
    assert [str(each) for each in found] == answer
    for beyond in ("192.168.8.9", PUBLIC):
        mixed = resolver(["192.168.7.9", beyond])
        with pytest.raises(AddressRefused):
            resolve_public(target, allowed=lan, resolver=mixed)


@pytest.mark.parametrize("port", [22, 80, 8443])
def test_the_open_internet_is_asked_on_the_usual_port_alone(port):
    target = target_of(f"https://prices.example:{port}/")
    with pytest.raises(AddressRefused) as refused:
        resolve_public(target, resolver=resolver([PUBLIC]))
    assert refused.value.reason == "forbidden_port"


@pytest.mark.parametrize(
    "error", [socket.gaierror(-2, "unknown"), UnicodeError("label too long"), OSError()]
)
def test_an_unknown_name_is_told_in_plain_words(error):
    def fail(*_, **__):
        raise error

    with pytest.raises(FeedFailed, match=r"No address .* 'prices.example'") as failed:
        resolve_public(HTTPS, resolver=fail)
    assert failed.value.reason == "unknown_host"


def test_a_name_without_addresses_is_unknown():
    with pytest.raises(FeedFailed, match="No address"):
        resolve_public(HTTPS, resolver=resolver([]))


def test_a_resolver_that_hangs_is_left_behind():
    end = threading.Event()
    began = time.monotonic()
    with pytest.raises(FeedFailed, match="No address"):
        resolve_public(HTTPS, resolver=lambda *_, **__: end.wait(), within_s=0.02)
    assert time.monotonic() - began < 1
    end.set()
