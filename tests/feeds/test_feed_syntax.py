"""What may be written as a path, a column or a time in a feed's description."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.ports.feed_syntax import (
    ElementPath,
    csv_column,
    element_path,
    json_path,
    time_pattern,
)
from pricing.errors import InvalidInput


def test_a_pointer_and_a_query_are_told_apart():
    assert json_path("/a/b").parts == ["a", "b"]
    assert json_path("").parts == []
    assert json_path("$.a").singular_query()
    assert not json_path("$..a").singular_query()


@pytest.mark.parametrize(
    "path",
    [
        "a",
        "a/b",
        "/a~",
        "/a~2",
        "$a",
        "$.",
        "$ .a ",
        "$.a\n",
        "$.a[01]",
        "$.a[0,1]",
        "$.a | $.b",
        "$..a..b",
        "$[?@.a][?@.b]",
        "$[?@.a == $.b]",
        "$[?match(@.a, 'x')]",
        "$[?search(@.a, 'x')]",
        "$[?search(@.a)]",
        "$[?count(@.a) == ]",
        "$[" * 80,
        "$[?" + "(" * 90,
        "$['a",
        "/" + "a" * 200,
    ],
)
def test_what_is_no_path_in_json_is_refused(path):
    with pytest.raises(InvalidInput):
        json_path(path)


def test_signs_inside_quoted_names_do_not_count():
    for path in ("$['a,b']", "$['..']['..']", '$["?"]["?"]["$"]', "$['it\\'s, ok']"):
        assert json_path(path).singular_query()


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("price", ElementPath("price", None)),
        (".", ElementPath(".", None)),
        ("./@rate", ElementPath(".", "rate")),
        ("a/b/@c", ElementPath("a/b", "c")),
        ("{urn:x}a/@{urn:x}b", ElementPath("{urn:x}a", "{urn:x}b")),
        (".//{*}Cube[@currency='USD']/@rate",
         ElementPath(".//{*}Cube[@currency='USD']", "rate")),
        ("a[@b='x//y/..']", ElementPath("a[@b='x//y/..']", None)),
        ("row[2]/price", ElementPath("row[2]/price", None)),
    ],
)  # fmt: skip
def test_an_element_path_may_end_in_an_attribute(text, path):
    assert element_path(text) == path


@pytest.mark.parametrize(
    "text",
    [
        "", "/a", "@a", "a[", "a[0]", "a[b", "ns:a", "a//b//c", "a/..", "a[@*]",
        "a/@", "a/b/", "a" * 201,
    ],
)  # fmt: skip
def test_what_is_no_element_path_is_refused(text):
    with pytest.raises(InvalidInput):
        element_path(text)


def test_a_column_is_a_name_or_a_number_from_one():
    assert csv_column(" USD ", header=True) == "USD"
    assert csv_column("1", header=True) == "1"
    assert csv_column("12", header=False) == 11
    for text, header in [(" ", True), ("0", False), ("USD", False), ("9999", False)]:
        with pytest.raises(InvalidInput):
            csv_column(text, header=header)


@pytest.mark.parametrize(
    ("text", "with_time"),
    [
        ("%d.%m.%Y", False),
        ("%Y-%j", False),
        ("%Y%m%d%H%M%S", True),
        ("%d %B %y %I%p", True),
    ],
)
def test_a_pattern_says_the_whole_date(text, with_time):
    assert time_pattern(text) is with_time


@pytest.mark.parametrize(
    "text",
    [
        "", "iso", "%H:%M", "%Y", "%Y-%m", "%m-%d", "%Y-%y-%m-%d", "%Y-%m-%b-%d",
        "%Y-%m-%d %d", "%c", "%x", "%Y-%m-%d %Z", "%Y-%m-%d %q", "%Y-%m-%d %",
        "%Y-%m-%d %I:%M", "%G-%V-%u", "%Y-%m-%d" + " " * 200,
    ],
)  # fmt: skip
def test_a_pattern_that_leaves_something_open_is_refused(text):
    with pytest.raises(InvalidInput):
        time_pattern(text)


def accepts(check, text):
    try:
        check(text)
    except InvalidInput as refused:
        return len(refused.message) > 300
    return True


@given(st.text(alphabet="$.[]?@'\"()/*{}=!<>&|,-~ \\ab01:", max_size=30))
def test_any_text_is_a_path_or_refused(text):
    for check, path in [(json_path, "$" + text), (element_path, text)]:
        assert accepts(check, path) in {True, False}
