"""The JSON reader alone; the same over HTTP is in tests/http/test_bombs.py."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.json_body import DEEPEST, load

CONTROLS = "".join(map(chr, range(32)))
TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters=CONTROLS))
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**17), 10**17)
    | st.floats(allow_nan=False, allow_infinity=False)
    | TEXTS,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4)
    ),
    max_leaves=20,
)


def sentence_about(data: bytes) -> str:
    """Why a text is refused, or that it is not."""
    try:
        load(data)
    except ValueError as refusal:
        return str(refusal)
    return "Read."


@given(VALUES, st.booleans())
def test_what_json_writes_is_read_back_the_same(value, ascii_only):
    assert load(json.dumps(value, ensure_ascii=ascii_only).encode()) == value


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_with_a_sentence(data):
    assert sentence_about(data).endswith(".")


@given(st.text('[]{}",:\\ua1', max_size=200))
def test_anything_like_json_is_read_or_refused_with_a_sentence(text):
    assert sentence_about(text.encode()).endswith(".")


def test_brackets_inside_texts_are_no_levels():
    value = ["[" * 100, {'"[': "\\[" * 50}]
    assert load(json.dumps(value).encode()) == value


@pytest.mark.parametrize("levels", [DEEPEST, DEEPEST + 1])
@pytest.mark.parametrize("pair", ["[]", "{}"])
def test_the_depth_limit_is_exact(levels, pair):
    opened = '{"a":' if pair == "{}" else "["
    inside = "1" if pair == "{}" else ""
    text = opened * levels + inside + pair[1] * levels
    if levels > DEEPEST:
        with pytest.raises(ValueError, match="32 levels"):
            load(text.encode())
    else:
        assert load(text.encode())


def test_wide_is_not_deep():
    assert load(b"[" + b"[],".join([b""] * 100) + b"[]]")


def test_depth_is_found_before_anything_is_parsed(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError

    monkeypatch.setattr(json, "loads", refuse)
    with pytest.raises(ValueError, match="32 levels"):
        load(b"[" * 20_000)


def test_an_integer_keeps_all_19_characters():
    assert load(b"9223372036854775807") == 2**63 - 1


def test_the_place_of_a_fault_is_said():
    with pytest.raises(ValueError, match="Line 2, column 3 is not JSON: expecting"):
        load(b'{\n  coin: "a"}')
    with pytest.raises(ValueError, match="Byte 2 is not UTF-8"):
        load(b'["\xff"]')
    with pytest.raises(ValueError, match="member 'coin' is there twice"):
        load(b'{"coin": 1, "coin": 2}')
