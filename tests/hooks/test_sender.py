from __future__ import annotations

import base64
from datetime import UTC, datetime
from ipaddress import ip_network

import pytest

from api.hooks.sender import LIMITS, HttpSender
from api.outbound.deadline import Limits
from api.outbound.safe_http import Reach
from api.ports.hooks import Hook, HookMessage, Sent
from tests.feeds.conftest import Connector, resolver
from tests.hooks.receiver import is_signed

NOW = datetime(2026, 12, 1, 12, 0, 0, 900_000, UTC)
SECRETS = tuple("whsec_" + base64.b64encode(bytes([n]) * 32).decode() for n in (1, 2))
BODY = '{"type":"quote.accepted","data":{"number":"2026-0001"}}'
LOCAL = Reach(networks=(ip_network("127.0.0.0/8"),), plain_http=True)
QUICK = Limits(connect_s=0.5, read_s=0.2, total_s=0.4)


def hook(url, secrets=SECRETS[:1]):
    return Hook(
        id="a", url=url, events=("quote.accepted",), secrets=secrets,
        created_at=NOW, since=NOW,
    )  # fmt: skip


MESSAGE = HookMessage(
    id="msg_1", hook="a", event="quote.accepted", body=BODY, created_at=NOW, due=NOW
)


def sent(url, *, reach=LOCAL, secrets=SECRETS[:1], limits=LIMITS):
    sender = HttpSender(reach, limits=limits)
    return sender.send(hook(url, secrets), MESSAGE, at=NOW)


def test_the_bytes_that_are_signed_are_the_bytes_that_are_sent(receiver):
    assert sent(receiver.url("/200")) == Sent(status=200)
    [came] = receiver.came
    assert came.body == BODY.encode()
    assert is_signed(came, SECRETS[0])
    assert came.headers["content-type"] == "application/json"
    assert came.headers["webhook-timestamp"] == str(int(NOW.timestamp()))
    assert came.id == "msg_1"


def test_while_secrets_are_changed_both_are_signed_with(receiver):
    sent(receiver.url("/200"), secrets=SECRETS)
    assert all(is_signed(receiver.came[0], secret) for secret in SECRETS)


@pytest.mark.parametrize("status", [200, 204, 302, 307, 400, 404, 410, 429, 500, 503])
def test_any_status_is_reported_and_no_redirect_followed(receiver, status):
    assert sent(receiver.url(f"/{status}")).status == status
    assert len(receiver.came) == 1


@pytest.mark.parametrize(
    ("said", "wait"), [("7", 7), ("999999", 86_400), ("soon", None), ("-1", None)]
)
def test_the_pause_that_is_asked_for_is_read(receiver, said, wait):
    receiver.answer = (429, {"Retry-After": said})
    assert sent(receiver.url()).retry_after_s == wait


def test_an_endpoint_that_hangs_is_left(receiver):
    assert sent(receiver.url("/hang"), limits=QUICK) == Sent(reason="timeout")


def test_an_endpoint_that_is_not_there_is_reported():
    assert sent("http://127.0.0.1:9/").reason == "unreachable"


@pytest.mark.parametrize(
    ("url", "addresses", "reason"),
    [
        ("https://shop.example/", ["127.0.0.1"], "forbidden_address"),
        ("https://shop.example/", ["9.9.9.9", "10.0.0.1"], "forbidden_address"),
        ("https://shop.example/", ["::ffff:127.0.0.1"], "forbidden_address"),
        ("https://shop.example/", ["64:ff9b::7f00:1"], "forbidden_address"),
        ("https://shop.example/", ["2002:7f00:1::"], "forbidden_address"),
        ("https://shop.example/", ["169.254.169.254"], "forbidden_address"),
        ("https://shop.example:8443/", ["9.9.9.9"], "forbidden_port"),
        ("http://shop.example/", ["9.9.9.9"], "plain_http"),
    ],
)
def test_no_connection_is_made_to_where_none_may_go(url, addresses, reason):
    connector = Connector()
    reach = Reach(resolver=resolver(addresses), connector=connector)
    assert sent(url, reach=reach) == Sent(reason=reason)
    assert connector.made == []


def test_a_name_is_looked_up_once_and_that_address_connected_to():
    connector = Connector()
    reach = Reach(resolver=resolver(["9.9.9.9"], ["127.0.0.1"]), connector=connector)
    assert sent("https://shop.example/", reach=reach).reason == "unreachable"
    assert connector.made == [("9.9.9.9", 443)]
