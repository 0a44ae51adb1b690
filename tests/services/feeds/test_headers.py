"""Headers are sent as they stand; secrets are named and never written down."""

from __future__ import annotations

import pytest

from api.services.feeds.document import read_feed_document
from pricing.errors import InvalidInput
from tests.services.feeding import LEAST


def refused(**changes):
    with pytest.raises(InvalidInput) as error:
        read_feed_document({**LEAST, **changes})
    return error.value.faults


def paths(**changes):
    return [fault.path for fault in refused(**changes)]


def test_plain_headers_are_kept_by_name():
    feed = read_feed_document(
        {**LEAST, "headers": {"X-Format": "a, b", "Accept": "application/json"}}
    )
    assert feed.headers == (("Accept", "application/json"), ("X-Format", "a, b"))


@pytest.mark.parametrize(
    "name",
    ["Host", "content-length", "Transfer-Encoding", "Connection", "Accept-Encoding",
     "Range", "If-None-Match", "Proxy-Authorization", "Sec-Fetch-Mode"],
)  # fmt: skip
def test_headers_of_the_connection_are_the_program_s(name):
    assert paths(headers={name: "x"}) == [("headers", name)]
    assert paths(secret_headers=[name]) == [("secret_headers", 0)]


@pytest.mark.parametrize(
    "name", ["Authorization", "X-Api-Key", "Cookie", "x-access-token", "X-Signature"]
)
def test_a_secret_does_not_stand_in_the_description(name):
    [fault] = refused(headers={name: "hunter2"})
    assert fault.path == ("headers", name)
    assert "secret_headers" in fault.message
    assert "hunter2" not in fault.message
    feed = read_feed_document({**LEAST, "secret_headers": [name]})
    assert feed.secret_headers == (name,)


@pytest.mark.parametrize("name", ["", "a b", "a:b", "é", "a\n", "a" * 61])
def test_a_name_is_a_token(name):
    assert paths(headers={name: "x"}) == [("headers", name[:60])]
    assert paths(secret_headers=["A", name]) == [("secret_headers", 1)]


@pytest.mark.parametrize(
    "value", ["", " x", "x ", "a\r\nb: c", "é", "x" * 201, 5, None]
)
def test_a_value_is_one_printable_line(value):
    assert paths(headers={"X-A": value}) == [("headers", "X-A")]


def test_a_name_counts_once_whatever_its_case():
    assert paths(headers={"X-A": "1", "x-a": "2"}) == [("headers", "x-a")]
    assert paths(headers={"X-A": "1"}, secret_headers=["x-A"]) == [
        ("secret_headers", 0)
    ]
    assert paths(secret_headers=["X-A", "X-a"]) == [("secret_headers", 1)]


@pytest.mark.parametrize(
    "value", ["Accept", ["Accept"], 5, {f"X-{i}": "1" for i in range(21)}]
)
def test_headers_are_a_small_table(value):
    assert paths(headers=value) == [("headers",)]


@pytest.mark.parametrize(
    "value", ["X-A", {"X-A": "1"}, 5, [f"X-{i}" for i in range(21)]]
)
def test_secret_headers_are_a_short_list(value):
    assert paths(secret_headers=value) == [("secret_headers",)]


def test_a_name_that_is_no_text_is_refused():
    assert paths(secret_headers=[5]) == [("secret_headers", 0)]
    assert paths(headers={5: "x"}) == [("headers", "5")]
