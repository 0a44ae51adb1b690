"""How the demo's shop knows its workshop, and does what it is told once."""

from __future__ import annotations

import importlib

import pytest

from tests.architecture.source import ROOT

# The published example of the Standard Webhooks project: repository
# standard-webhooks/standard-webhooks, libraries/python/tests/test_webhooks.py,
# test_sign_function.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
HEADERS = {
    "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek",
    "webhook-timestamp": "1614265330",
    "webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
}
BODY = b'{"test": 2432232314}'
NOW = 1_614_265_330


@pytest.fixture
def check(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    return importlib.import_module("webhook_check")


@pytest.mark.parametrize(
    ("off", "right"), [(0, 1), (300, 1), (-300, 1), (301, 0), (-301, 0)]
)
def test_the_published_example_is_genuine_for_five_minutes(check, off, right):
    assert check.is_genuine([SECRET], HEADERS, BODY, now=NOW + off) == right


def test_of_several_secrets_and_signatures_one_pair_is_enough(check):
    other = f"{check.PREFIX}AAAA"
    signatures = f"v1,AAAA v1a,x  {HEADERS['webhook-signature']}"
    headers = HEADERS | {"webhook-signature": signatures}
    assert check.is_genuine([other, SECRET], headers, BODY, now=NOW)
    assert not check.is_genuine([other], headers, BODY, now=NOW)
    assert not check.is_genuine([], headers, BODY, now=NOW)


def test_every_signature_is_compared_in_constant_time(check, monkeypatch):
    compared = []
    sound = check.hmac.compare_digest

    def compare(one, other):
        compared.append((one, other))
        return sound(one, other)

    monkeypatch.setattr(check.hmac, "compare_digest", compare)
    signatures = f"v1,AAAA {HEADERS['webhook-signature']}"
    headers = HEADERS | {"webhook-signature": signatures}
    assert check.is_genuine([SECRET], headers, BODY, now=NOW)
    assert [one == other for one, other in compared] == [False, True]


def test_what_fails_is_done_when_the_message_comes_again(check):
    once, done = check.Once(), []

    def fail():
        raise LookupError

    with pytest.raises(LookupError):
        once("msg_1", fail)
    for _ in range(2):
        once("msg_1", lambda: done.append("it"))
    assert done == ["it"]


def test_messages_of_long_ago_are_forgotten(check, monkeypatch):
    monkeypatch.setattr(check, "REMEMBERED", 2)
    once, done = check.Once(), []
    for name in ("a", "b", "c", "c", "b", "a"):
        once(name, lambda name=name: done.append(name))
    assert done == ["a", "b", "c", "a"]
