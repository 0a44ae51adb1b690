from __future__ import annotations

import base64
from dataclasses import replace

import pytest

from api.hooks.signing import signature, signed_headers
from tests.hooks.receiver import Came, is_signed

# The published example of the Standard Webhooks project: repository
# standard-webhooks/standard-webhooks, libraries/python/tests/test_webhooks.py,
# test_sign_function.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
ID, TIME, BODY = "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330, b'{"test": 2432232314}'
PUBLISHED = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
OTHER = "whsec_" + base64.b64encode(bytes(range(32))).decode()


def came(*secrets):
    return Came("/", dict(signed_headers(secrets, ID, TIME, BODY)), BODY)


def test_the_published_example_is_signed_as_published():
    assert signature(SECRET, ID, TIME, BODY) == PUBLISHED


def test_the_headers_are_those_of_the_specification():
    assert dict(signed_headers([SECRET], ID, TIME, BODY)) == {
        "Content-Type": "application/json",
        "webhook-id": ID,
        "webhook-timestamp": "1614265330",
        "webhook-signature": PUBLISHED,
    }


def test_with_two_secrets_who_knows_either_believes_it():
    both = came(OTHER, SECRET)
    assert both.headers["webhook-signature"].split(" ")[1] == PUBLISHED
    assert is_signed(both, SECRET)
    assert is_signed(both, OTHER)
    assert not is_signed(came(SECRET), OTHER)


@pytest.mark.parametrize(
    "change",
    [
        {"body": BODY + b" "},
        {"headers": {"webhook-id": "msg_q"}},
        {"headers": {"webhook-timestamp": "1614265331"}},
        {"headers": {"webhook-signature": "v2" + PUBLISHED[2:]}},
    ],
)
def test_nothing_can_be_changed(change):
    sound = came(SECRET)
    headers = sound.headers | change.get("headers", {})
    changed = replace(sound, headers=headers, body=change.get("body", BODY))
    assert is_signed(sound, SECRET)
    assert not is_signed(changed, SECRET)
