"""JSON is read strictly and exactly."""

from __future__ import annotations

import json
import time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.feeds.json_shape import DEEPEST, json_rows, parsed
from api.ports import Feed, FeedFailed


def why(text):
    with pytest.raises(FeedFailed) as refused:
        parsed(text)
    return refused.value.reason


def test_numbers_are_exact():
    [number, whole] = parsed("[0.1000000000000000055511151231257827, 12]")
    assert str(number) == "0.1000000000000000055511151231257827"
    assert whole == 12
    assert isinstance(whole, int)
    assert parsed("27.50") == Decimal("27.50")
    assert parsed("1e-3") == Decimal("0.001")


def has_float(value):
    if isinstance(value, list | dict):
        return any(map(has_float, value.values() if isinstance(value, dict) else value))
    return isinstance(value, float)


@given(st.recursive(st.floats(allow_nan=False, allow_infinity=False) | st.integers(),
                    lambda x: st.lists(x) | st.dictionaries(st.text(), x)))  # fmt: skip
def test_no_number_is_ever_a_float(document):
    try:
        value = parsed(json.dumps(document))
    except FeedFailed as refused:
        assert refused.reason in {"too_deep", "number_out_of_range"}  # noqa: PT017
    else:
        assert not has_float(value)


@pytest.mark.parametrize(
    "text",
    ["", "{", "[1,]", "{'a': 1}", "{a: 1}", "01", "1.", ".5", "+1", "NaN", "[Infinity]",
     "[-Infinity]", "nul", '"a', '"\t"', "[1] 2", "\ufeff1", "[1]\0", "0x1"],
)  # fmt: skip
def test_what_is_not_json_is_refused(text):
    assert why(text) == "not_json"


def test_a_cut_off_answer_is_told_from_a_wrong_one():
    for text, said in [
        ('{"a": [1, 2', "too early"),
        ('{"a', "too early"),
        ("{a", "It"),
    ]:
        with pytest.raises(FeedFailed) as refused:
            parsed(text)
        assert said in refused.value.message


def test_a_name_given_twice_is_refused_at_any_depth():
    for text in ('{"a": 1, "a": 1}', '[{"b": {"a": 1, "\\u0061": 2}}]'):
        assert why(text) == "duplicate_name"


def test_the_depth_has_a_limit_that_brackets_in_texts_do_not_count_for():
    assert parsed("[" * DEEPEST + "]" * DEEPEST)
    assert why("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1)) == "too_deep"
    assert why('{"a":' * 500_000) == "too_deep"
    assert parsed(json.dumps(["[" * 99, '"{' * 99, "\\[" * 99]))
    assert parsed("[" + "[],{}," * 100 + "1]")


@pytest.mark.parametrize("text", ['"', '\\"', '"\\', '"[', "\\", '[""'])
def test_no_text_makes_the_reading_slow(text):
    began = time.process_time()
    why(text * (10**6 // len(text)))
    assert time.process_time() - began < 2


def test_numbers_too_long_for_anything_are_refused():
    assert why("1" * 101) == "number_out_of_range"
    assert why("0." + "1" * 101) == "number_out_of_range"
    assert why("1e" + "9" * 30) == "number_out_of_range"
    assert parsed("1e999999") > 0


def test_the_whole_answer_is_the_only_row_without_rows():
    feed = Feed(title="A", url="https://feeds.example/", format="json")
    [row] = json_rows(feed, '{"a": [1, 2]}')
    assert row("/a/1") == 2


def test_xml_instead_is_named():
    with pytest.raises(FeedFailed, match="XML"):
        parsed("<a/>")
