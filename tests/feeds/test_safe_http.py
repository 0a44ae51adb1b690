from __future__ import annotations

import gc
import ssl
import threading
from dataclasses import replace
from ipaddress import ip_network

import pytest
import requests

from api.outbound.deadline import Deadline, Limits
from api.outbound.safe_http import Reach, SafeAdapter, safe_session
from api.ports.feeds import FeedFailed
from tests.feeds.conftest import PUBLIC, Connector, resolver
from tests.feeds.hostile_server import GOOD_BODY, HostileServer, for_ever, says
from tests.feeds.test_addresses import FORBIDDEN
from tests.feeds.test_urls import ODD

ENDLESS_100 = b"HTTP/1.1 100 Continue\r\n\r\n"


def ask(url, reach, limits=None, **settings):
    with safe_session(reach, limits=limits) as session:
        return session.get(url, **settings)


def in_brackets(address):
    return f"[{address}]" if ":" in address else address


# Where it goes


@pytest.mark.parametrize("url", ODD)
def test_no_odd_spelling_makes_a_connection(url):
    connector = Connector()
    reach = Reach(
        plain_http=True, connector=connector, resolver=resolver(["127.0.0.1"])
    )
    with pytest.raises((FeedFailed, requests.RequestException)):
        ask(url, reach)
    assert connector.made == []


def test_nothing_is_asked_without_encryption_unless_it_is_allowed():
    connector = Connector()
    reach = Reach(connector=connector, resolver=resolver([PUBLIC]))
    with pytest.raises(FeedFailed, match="FINEWEIGHT_FEED_HTTP"):
        ask("http://feed.example/", reach)
    assert connector.made == []


@pytest.mark.parametrize("scheme", ["http", "https"])
@pytest.mark.parametrize("address", FORBIDDEN)
def test_no_special_address_is_connected_to(scheme, address):
    connector = Connector()
    reach = Reach(plain_http=True, connector=connector, resolver=resolver([address]))
    for host in ("feed.example", "localhost", in_brackets(address)):
        with pytest.raises(FeedFailed):
            ask(f"{scheme}://{host}/", reach)
    assert connector.made == []


def test_no_connection_is_made_if_one_of_several_addresses_is_special():
    connector = Connector()
    for answer in ([PUBLIC, "127.0.0.1"], ["127.0.0.1", PUBLIC]):
        reach = Reach(connector=connector, resolver=resolver(answer))
        with pytest.raises(FeedFailed):
            ask("https://feed.example/", reach)
    assert connector.made == []


def test_a_name_that_changes_its_address_after_the_check_leads_nowhere_else(server):
    connector = Connector(server.port)
    rebinding = resolver([PUBLIC], ["127.0.0.1"])
    reach = Reach(plain_http=True, connector=connector, resolver=rebinding)
    assert ask("http://feed.example/good", reach).content == GOOD_BODY
    with pytest.raises(FeedFailed):
        ask("http://feed.example/good", reach)
    assert connector.made == [(PUBLIC, 80)]


def test_the_next_address_is_tried_where_one_is_down(server):
    class OneDown(Connector):
        def __call__(self, address, seconds):
            if address[0] == PUBLIC:
                self.made.append(address)
                raise TimeoutError
            return super().__call__(address, seconds)

    connector = OneDown(server.port)
    reach = Reach(
        plain_http=True, connector=connector, resolver=resolver([PUBLIC, "1.1.1.1"])
    )
    assert ask("http://feed.example/good", reach).ok
    assert [each[0] for each in connector.made] == [PUBLIC, "1.1.1.1"]


def test_at_most_four_addresses_are_tried():
    connector = Connector()
    many = resolver([f"9.9.9.{n}" for n in range(1, 20)])
    with pytest.raises(FeedFailed) as failed:
        ask("https://feed.example/", Reach(connector=connector, resolver=many))
    assert failed.value.reason == "unreachable"
    assert len(connector.made) == 4


@pytest.mark.parametrize("path", ["/301", "/302", "/307", "/308"])
def test_a_redirect_is_never_followed(server, path):
    connector = Connector(server.port)
    reach = Reach(plain_http=True, connector=connector, resolver=resolver([PUBLIC]))
    with pytest.raises(FeedFailed, match="not followed"):
        ask(f"http://feed.example{path}", reach, allow_redirects=True)
    assert connector.made == [(PUBLIC, 80)]


def test_the_server_sees_the_original_host_and_nothing_from_the_environment(
    server, monkeypatch, tmp_path
):
    netrc = tmp_path / "netrc"
    netrc.write_text("machine feed.example login me password hunter2\n")
    netrc.chmod(0o600)
    monkeypatch.setenv("NETRC", str(netrc))
    for name in ("http_proxy", "https_proxy", "all_proxy", "HTTP_PROXY"):
        monkeypatch.setenv(name, "http://127.0.0.1:1")
    connector = Connector(server.port)
    reach = Reach(plain_http=True, connector=connector, resolver=resolver([PUBLIC]))
    assert ask("http://feed.example/good?a=b%20c", reach).ok
    assert connector.made == [(PUBLIC, 80)]
    (seen,) = server.requests
    assert seen.path == "/good?a=b%20c"
    assert seen.headers == {
        "host": "feed.example",
        "user-agent": "fineweight",
        "accept": "*/*",
        "accept-encoding": "gzip, deflate",
        "connection": "close",
    }


def test_a_proxy_given_by_the_caller_has_no_effect(server, local):
    url = server.url("/good")
    proxies = {"http": "http://127.0.0.1:1"}
    assert ask(url, local, proxies=proxies, timeout=0.000001, stream=True).ok


# Encryption


def test_the_certificate_has_to_be_of_the_name_in_the_url(tls_server, trust):
    connector = Connector(tls_server.port)
    reach = Reach(connector=connector, resolver=resolver([PUBLIC]), trust=trust)
    assert ask("https://feed.example/good", reach).content == GOOD_BODY
    with pytest.raises(FeedFailed, match="Nothing was sent") as failed:
        ask("https://other.example/good", reach)
    assert failed.value.reason == "bad_certificate"
    assert len(tls_server.requests) == 1


def test_a_certificate_of_an_unknown_issuer_is_refused(tls_server, local):
    for settings in ({}, {"verify": False}):
        with pytest.raises(FeedFailed) as failed:
            ask(tls_server.url("/good"), local, **settings)
        assert failed.value.reason == "bad_certificate"
    assert tls_server.requests == []


def test_an_address_in_the_url_has_to_be_in_the_certificate(tls_server, local, trust):
    assert ask(tls_server.url("/good"), replace(local, trust=trust)).ok


def test_a_server_without_encryption_is_told_from_a_bad_certificate(server, local):
    with pytest.raises(FeedFailed) as failed:
        ask(server.url("/good").replace("http:", "https:"), local)
    assert failed.value.reason == "bad_encryption"


def test_a_server_that_never_begins_encryption_is_given_up(local, quick):
    def silent(server, sock, _request):
        server.closing.wait()

    with HostileServer() as server:
        server.script("/", [silent])
        limits = replace(quick, connect_s=0.05)
        with pytest.raises(FeedFailed) as failed:
            ask(server.url("/").replace("http:", "https:"), local, limits)
    assert failed.value.reason in {"timeout", "bad_encryption"}


# What comes back


def test_only_a_few_headers_come_through(server, local):
    url = server.script(
        "/x",
        [
            says(
                b"HTTP/1.1 200 Fine <b>words</b>\r\nSet-Cookie: a=b\r\nX-Own: 1\r\n"
                b'ETag: "v"\r\nContent-Type: text/csv\r\nVary: X-Key\r\n'
                b"Content-Length: 1\r\n\r\n1"
            )
        ],
    )
    with safe_session(local) as session:
        answer = session.get(url)
        assert not session.cookies
    assert answer.headers == {"ETag": '"v"', "Content-Type": "text/csv"}
    assert answer.reason == "OK"


def test_a_size_at_the_limit_passes(server, local):
    url = server.script("/x", [says(b"HTTP/1.1 200 OK\r\n\r\n" + b"1" * 2**20)])
    assert len(ask(url, local).content) == 2**20


def test_a_length_of_absurd_size_is_no_trouble(server, local):
    head = b"HTTP/1.1 200 OK\r\nContent-Length: " + b"9" * 4000 + b"\r\n\r\n"
    url = server.script("/x", [says(head)])
    with pytest.raises(FeedFailed):
        ask(url, local)


def test_the_deadline_can_be_shared_by_several_requests(server, local):
    server.script("/slow", [for_ever(b"HTTP/1.1 200 OK\r\n\r\n", b"1")])
    deadline = Deadline(0.05)
    with safe_session(local, deadline=deadline) as session:
        for path in ("/slow", "/good"):
            with pytest.raises(FeedFailed) as failed:
                session.get(server.url(path))
            assert failed.value.reason == "timeout"
    assert len(server.requests) == 1


def test_no_thread_or_socket_is_left_behind(server, local):
    before = threading.active_count()
    for path in ("/good", "/bomb", "/302", "/truncated", "/head-line"):
        try:
            ask(server.url(path), local)
        except FeedFailed:
            continue
    gc.collect()  # an open socket would be a warning, and that an error
    ours = {t.name for t in threading.enumerate() if t.name.startswith("Timer")}
    assert not ours
    assert threading.active_count() <= before + 5  # the server's own


def test_failures_carry_nothing_of_the_answer_in_their_chain(server, local):
    with pytest.raises(FeedFailed) as failed:
        ask(server.url("/not-http"), local)
    assert failed.value.__cause__ is None
    assert failed.value.__suppress_context__


def test_the_usual_trust_checks_names_and_certificates():
    context = Reach().trust()
    assert context.verify_mode is ssl.CERT_REQUIRED
    assert context.check_hostname
    assert context.minimum_version >= ssl.TLSVersion.TLSv1_2
    assert context.get_ca_certs()


def test_a_session_sends_through_the_adapter_alone():
    reach = Reach(networks=(ip_network("10.0.0.0/8"),))
    with safe_session(reach, limits=Limits(tries=1)) as session:
        adapters = set(session.adapters.values())
        assert len(adapters) == 1
        (adapter,) = adapters
        assert isinstance(adapter, SafeAdapter)
        assert adapter.reach is reach
        assert session.trust_env is False
