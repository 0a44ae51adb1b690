from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime
from ipaddress import ip_network

import pytest

from api.hooks.on_demand import SenderOnDemand
from tests.hooks.test_sender import MESSAGE, hook

LOCAL = (ip_network("127.0.0.0/8"),)


@pytest.mark.parametrize(
    ("url", "reason"),
    [
        ("https://shop.example/hooks?a=1", ""),
        ("https://9.9.9.9/", ""),
        ("http://shop.example/", "plain_http"),
        ("https://10.0.0.1/", "forbidden_address"),
        ("https://127.0.0.1/", "forbidden_address"),
        ("https://169.254.169.254/latest", "forbidden_address"),
        ("https://[::1]/", "forbidden_address"),
        ("https://[::ffff:127.0.0.1]/", "forbidden_address"),
        ("https://[64:ff9b::7f00:1]/", "forbidden_address"),
        ("https://[2002:7f00:1::]/", "forbidden_address"),
        ("https://[fe80::1]/", "forbidden_address"),
        ("https://224.0.0.1/", "forbidden_address"),
        ("https://9.9.9.9:8443/", "forbidden_port"),
        ("https://shop.example:8443/", "forbidden_port"),
        ("https://2130706433/", "bad_url"),
        ("https://0x7f.1/", "bad_url"),
        ("https://127.1/", "bad_url"),
        ("https://localhost./", "bad_url"),
        ("https://a@b.example/", "bad_url"),
        ("https://a:b@b.example/", "bad_url"),
        ("https://shop.example\\@10.0.0.1/", "bad_url"),
        ("https://shöp.example/", "bad_url"),
        ("https://shop.example/#part", "bad_url"),
        ("file:/etc/hosts", "bad_url"),
        ("gopher://shop.example/", "bad_url"),
        ("https://shop.example/\r\nX: 1", "bad_url"),
        ("", "bad_url"),
    ],
)
def test_a_url_that_cannot_be_an_endpoint_is_refused(url, reason):
    assert SenderOnDemand().refusal(url) == reason


def test_what_a_setting_allows_is_allowed():
    allowing = SenderOnDemand(networks=LOCAL, plain_http=True)
    assert allowing.refusal("http://127.0.0.1:8372/hooks") == ""
    assert allowing.refusal("http://10.0.0.1/") == "forbidden_address"
    assert allowing.refusal("http://shop.example:8372/") == ""  # it may lie in there


def test_it_sends_what_is_to_be_sent(receiver):
    sender = SenderOnDemand(networks=LOCAL, plain_http=True)
    now = datetime(2026, 12, 1, 12, tzinfo=UTC)
    for _ in range(2):
        assert sender.send(hook(receiver.url()), MESSAGE, at=now).status == 200
    assert receiver.ids == ["msg_1", "msg_1"]


def test_nothing_that_sends_is_imported_before_something_is_sent():
    code = "import sys, api.hooks.on_demand; print('requests' in sys.modules)"
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "False"
