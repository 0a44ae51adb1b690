"""Paths lead to exactly one value, strictly by their standards."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.feeds.paths import many_values, one_value
from api.ports import FeedFailed
from pricing.errors import InvalidInput

DOCUMENT = {
    "rates": {"XAG": Decimal("27.50"), "a/b": 1, "m~n": 2, "": 3, "01": 4, "-": 5},
    "rows": [[10, 11], [20, 21]],
    "text": "words",
    "none": None,
    "metals": [{"code": "XAU", "p": 1}, {"code": "XAG", "p": 2, "n": Decimal("1.5")}],
}


def why(path, document=DOCUMENT, follow=one_value):
    with pytest.raises(FeedFailed) as refused:
        follow(document, path)
    return refused.value.reason


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("", DOCUMENT),
        ("/rates/XAG", Decimal("27.50")),
        ("/rates/a~1b", 1),
        ("/rates/m~0n", 2),
        ("/rates/", 3),
        ("/rates/01", 4),
        ("/rates/-", 5),
        ("/rows/1/0", 20),
        ("/none", None),
        ("$", DOCUMENT),
        ("$.rates.XAG", Decimal("27.50")),
        ("$['rates']['a/b']", 1),
        ("$.rows[-1][0]", 20),
        ("$..XAG", Decimal("27.50")),
        ("$.metals[?@.code=='XAG'].p", 2),
        ("$.metals[?@.n == 1.5].p", 2),
        ("$.metals[?@.p < 2].code", "XAU"),
        ("$.metals[?length(@.code) == 3 && @.n].p", 2),
    ],
)
def test_a_path_leads_to_its_value(path, value):
    assert one_value(DOCUMENT, path) == value


@pytest.mark.parametrize(
    "path",
    [
        "/rates/XAU",
        "/rates/XAG/x",
        "/text/0",
        "/none/x",
        "/rows/2",
        "/rows/01",
        "/rows/00",
        "/rows/-",
        "/rows/-/0",
        "/rows/-1",
        "/rows/+1",
        "/rows/1.0",
        "/rows/\u0661",
        f"/rows/{'9' * 30}",
        "$.rates.XAU",
        "$.rows[2]",
        "$.text[0]",
        "$.metals[?@.code=='XPT']",
    ],
)
def test_a_path_to_nothing_is_refused(path):
    assert why(path) == "no_such_path"


@pytest.mark.parametrize("path", ["$.rows[*]", "$..p", "$.metals[?@.p > 0].p"])
def test_a_query_with_several_answers_is_refused(path):
    assert why(path) == "ambiguous_path"


def test_a_document_that_is_one_value_is_led_to_by_the_whole():
    for path in ("", "$"):
        assert one_value(Decimal("27.5"), path) == Decimal("27.5")
    assert why("$.a", Decimal("27.5")) == "no_such_path"


def test_a_text_is_never_taken_for_json():
    assert one_value('{"a": 1}', "$") == '{"a": 1}'
    assert why("$.a", '{"a": 1}') == "no_such_path"
    assert why("$.a.b", {"a": '{"b": 1}'}) == "no_such_path"
    assert why("/a/b", {"a": '{"b": 1}'}) == "no_such_path"


def test_rows_are_the_elements_of_one_array_or_what_a_query_finds():
    for path in ("/rows", "$.rows", "$.rows[*]", "$['rows'][0:2]"):
        assert many_values(DOCUMENT, path) == [[10, 11], [20, 21]]
    assert many_values(DOCUMENT, "$.metals[?@.n]") == [DOCUMENT["metals"][1]]
    assert many_values(DOCUMENT, "$.rows[?@.x]") == []


@pytest.mark.parametrize("path", ["/rates", "/text", "/none", "$.rates", ""])
def test_rows_that_are_no_array_are_refused(path):
    assert why(path, follow=many_values) == "no_rows"


def test_data_deeper_than_a_query_goes_is_refused():
    deep = []
    for _ in range(200):
        deep = [deep]
    assert why("$..x", deep) == "no_such_path"


def test_what_is_no_path_is_the_description_s_fault():
    for path in ("rates", "$.", "$[?match(@.a, 'x')]", "/a~2"):
        with pytest.raises(InvalidInput):
            one_value(DOCUMENT, path)


NAMES = st.text(max_size=6)


@given(st.lists(NAMES, min_size=1, max_size=5), st.integers())
def test_a_pointer_finds_any_name(names, value):
    document = value
    for name in reversed(names):
        document = {name: document}
    path = "".join("/" + name.replace("~", "~0").replace("/", "~1") for name in names)
    assert one_value(document, path) == value
