"""Bodies made to hurt: each is refused with a problem, none gets to a service."""

from __future__ import annotations

import json

import pytest

from tests.http.fakes import bearer

PATH = "/v1/probe-rings"
GOOD = {"coin": "a_coin", "price": "12.50"}


def member(name: str, raw: str) -> bytes:
    """A good body with one member's value replaced by raw JSON text."""
    others = {key: value for key, value in GOOD.items() if key != name}
    return f"{json.dumps(others)[:-1]}, {json.dumps(name)}: {raw}}}".encode()


MALFORMED = {
    "NaN": member("price", "NaN"),
    "Infinity": member("price", "-Infinity"),
    "a float beyond all floats": member("price", "1e400"),
    "an integer of 5 000 digits": member("quantity", "9" * 5000),
    "an integer of 20 digits": member("quantity", "1" * 20),
    "20 000 open lists": b"[" * 20_000,
    "20 000 open objects": b'{"a":' * 10_000,
    "33 levels": b"[" * 33 + b"]" * 33,
    "deep after a text full of brackets": b'["]]]]]]",' + b"[" * 40 + b"]" * 41,
    "an unclosed text of escapes": b'{"a": "' + b'\\"' * 30_000,
    "a lone surrogate": member("note", '"\\ud800"'),
    "a surrogate in a name": member("\ud800", '"x"'),
    "NUL": member("note", '"a\\u0000b"'),
    "a control character": member("note", '"a\\u001bb"'),
    "a control character, raw": member("note", '"a\x01b"'),
    "a surrogate in a list": member("pieces", '[["\\udfff"]]'),
    "a member twice": b'{"coin": "a", "price": "1", "coin": "b"}',
    "a member twice, deep": member("spare", '{"label": "a", "label": "b"}'),
    "nothing": b"",
    "half an object": b'{"coin": ',
    "two values": b"{} {}",
    "Latin-1": '{"coin": "é"}'.encode("latin-1"),
    "a byte order mark": b"\xef\xbb\xbf{}",
    "UTF-16": '{"coin": "a"}'.encode("utf-16"),
}
UNUSABLE = {
    "an exponent of a million": ("price", '"1e1000000"'),
    "a tiny exponent": ("price", '"1e-1000000"'),
    "not a number": ("price", '"sNaN"'),
    "a number": ("price", "12.5"),
    "full-width digits": ("price", '"１２"'),
    "Arabic digits": ("price", '"٣"'),
    "an underscore": ("price", '"1_000"'),
    "blanks": ("price", '" 1 "'),
    "a line end": ("price", '"1\\n"'),
    "a plus": ("price", '"+1"'),
    "zero where more is needed": ("price", '"0.00"'),
    "13 digits": ("price", '"1234567890123"'),
    "a hundred thousandth": ("price", '"1.00001"'),
    "an integer of 63 bits": ("quantity", "9223372036854775807"),
    "a float for an integer": ("quantity", "3.0"),
    "true for an integer": ("quantity", "true"),
    "text for true": ("engraved", '"true"'),
    "one for true": ("engraved", "1"),
    "a list for text": ("coin", "[]"),
    "text for a list": ("pieces", '"abc"'),
    "too long a list": ("pieces", json.dumps([{"label": "a"}] * 6)),
    "too long a text": ("note", json.dumps("x" * 201)),
    "a text for an object": ("spare", '"x"'),
    "an unknown member": ("margin", '"0.5"'),
    "an unknown member inside": ("spare", '{"label": "a", "cost": "1"}'),
    "a time without offset": ("made_at", '"2026-01-01T00:00:00"'),
}


def post(client, body, **headers):
    sent = {"Content-Type": "application/json"} | bearer("bench") | headers
    return client.post(PATH, data=body, headers=sent)


@pytest.mark.parametrize("body", MALFORMED.values(), ids=MALFORMED)
def test_what_is_no_strict_json_is_refused_unread(client, services, body):
    answer = post(client, body)
    assert answer.status_code == 400
    assert answer.content_type == "application/problem+json"
    assert answer.json["type"] == "/docs/problems/malformed-json"
    assert not services.handled


@pytest.mark.parametrize(("name", "raw"), UNUSABLE.values(), ids=UNUSABLE)
def test_a_value_of_the_wrong_form_is_pointed_at(client, services, name, raw):
    answer = post(client, member(name, raw))
    assert answer.status_code == 422
    assert answer.json["type"] == "/docs/problems/invalid-input"
    [fault] = answer.json["errors"]
    assert fault["pointer"].startswith(f"#/{name}")
    assert not services.handled


@pytest.mark.parametrize("body", [b"[]", b'"text"', b"null", b"1", b"[{}]"])
def test_a_body_that_is_no_object_is_refused_as_a_whole(client, body):
    answer = post(client, body)
    assert answer.status_code == 422
    assert [one["pointer"] for one in answer.json["errors"]] == ["#"]


@pytest.mark.parametrize("size", [64 * 1024 - 1, 64 * 1024, 64 * 1024 + 1])
def test_a_body_may_hold_64_kilobytes_and_no_more(client, size):
    head = json.dumps(GOOD).encode()
    answer = post(client, head + b" " * (size - len(head)))
    assert answer.status_code == (413 if size > 64 * 1024 else 201)
    if size > 64 * 1024:
        assert answer.json["type"] == "/docs/problems/body-too-large"


@pytest.mark.parametrize(
    "kind",
    ["", "text/plain", "application/x-www-form-urlencoded", "application/jsonp"],
)
def test_another_media_type_is_refused_before_the_body_is_read(client, kind):
    answer = post(client, json.dumps(GOOD), **{"Content-Type": kind})
    assert answer.status_code == 415
    assert answer.headers["Accept"] == "application/json"


def test_another_charset_or_a_compressed_body_is_refused(client):
    body = json.dumps(GOOD)
    latin = {"Content-Type": "application/json; charset=iso-8859-1"}
    assert post(client, body, **latin).status_code == 415
    packed = post(client, body, **{"Content-Encoding": "gzip"})
    assert packed.status_code == 415
    assert packed.headers["Accept-Encoding"] == "identity"


def test_utf_8_said_aloud_is_taken(client):
    said = {"Content-Type": "application/json; charset=UTF-8"}
    assert post(client, json.dumps(GOOD), **said).status_code == 201


def test_32_levels_and_line_ends_in_a_text_are_taken(client, services):
    deep = "[" * 31 + "]" * 31
    answer = post(client, member("pieces", deep))
    assert answer.status_code == 422  # well-formed, though no list of pieces
    note = member("note", '"first\\nsecond \\ud83d\\ude00"')
    assert post(client, note).status_code == 201
    assert services.handled[0]["note"] == "first\nsecond 😀"


def test_ten_thousand_unknown_members_get_a_short_answer(client):
    body = dict.fromkeys((f"m{n}" for n in range(5000)), 1)
    answer = post(client, json.dumps(GOOD | body))
    assert answer.status_code == 422
    assert len(answer.json["errors"]) == 50
    assert answer.json["errors_left_out"] == 4950


def test_every_fault_is_listed_in_a_fixed_order(client):
    body = {"coin": "No!", "price": 1, "pieces": [{}, {"label": "a", "mass_g": "0"}]}
    pointers = [one["pointer"] for one in post(client, json.dumps(body)).json["errors"]]
    assert pointers == ["#/coin", "#/pieces/0/label", "#/pieces/1/mass_g", "#/price"]


def test_pointers_are_escaped(client):
    body = json.dumps(GOOD | {"a/b~c d é": 1})
    [fault] = post(client, body).json["errors"]
    assert fault["pointer"] == "#/a~1b~0c%20d%20%C3%A9"
