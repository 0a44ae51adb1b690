"""An answer's bytes become text by what it says of itself, or are refused."""

from __future__ import annotations

import pytest

from api.feeds.answer_text import MOST_BYTES, MOST_VALUES, refuse_crowded, text_of
from api.ports import FeedFailed


def why(body, content_type=""):
    with pytest.raises(FeedFailed) as refused:
        text_of(body, content_type)
    return refused.value.reason


@pytest.mark.parametrize(
    ("body", "content_type"),
    [
        ("ä".encode(), ""),
        ("ä".encode(), "application/json"),
        ("ä".encode(), "text/csv; Charset=UTF-8; header=present"),
        ("ä".encode("utf-8-sig"), ""),
        ("ä".encode("utf-8-sig"), "text/csv; charset=iso-8859-1"),
        ("ä".encode("utf-16"), ""),
        ("\ufeffä".encode("utf-16-be"), "application/json"),
        ("ä".encode("utf-16-le"), "text/csv; charset=UTF-16LE"),
        ("ä".encode("latin-1"), "text/csv; charset=iso-8859-1"),
        ("ä".encode("latin-1"), 'text/csv;charset="ISO-8859-1"'),
        ("ä".encode("cp1252"), "text/csv; charset=windows-1252"),
    ],
)
def test_a_mark_goes_before_the_header(body, content_type):
    assert text_of(body, content_type) == "ä"


def test_xml_may_declare_its_encoding_itself():
    text = '<?xml version="1.0" encoding="iso-8859-1"?><a>ä</a>'
    assert text_of(text.encode("latin-1"), "application/xml") == text
    assert why(text.encode("latin-1"), "application/xml; charset=utf-8")
    other = text.replace('"', "'")
    assert text_of(other.encode("latin-1"), "") == other


@pytest.mark.parametrize("name", ["zlib", "rot13", "idna", "utf-7", "punycode", "x"])
def test_an_encoding_that_is_not_one_of_text_is_refused(name):
    assert why(b"abc", f"text/csv; charset={name}") == "unknown_charset"
    declared = f'<?xml version="1.0" encoding="{name}"?><a/>'.encode()
    assert why(declared) == "unknown_charset"


def test_bytes_that_are_not_what_they_claim_are_refused():
    assert why(b"\xff") == "wrong_charset"
    assert why(b"\xe4", "text/csv; charset=us-ascii") == "wrong_charset"
    assert why(b"a\0b") == "wrong_charset"
    assert why(b"\xff\xfea") == "wrong_charset"
    assert why(b"\xff\xfe\x00\x00a\x00\x00\x00") == "wrong_charset"


def test_the_size_has_a_limit():
    assert text_of(b"1" * MOST_BYTES, "")
    assert why(b"1" * (MOST_BYTES + 1)) == "too_large"


@pytest.mark.parametrize(
    "page",
    [
        "<!DOCTYPE html><p>x",
        "\n <html>",
        "<HTML lang='en'><body>",
        "<!-- closed --><html><head>",
        "<?xml version='1.0'?><html xmlns='http://www.w3.org/1999/xhtml'>",
        "<body>Too many requests</body>",
    ],
)
def test_a_page_is_known_by_its_beginning(page):
    assert why(page.encode()) == "looks_like_a_page"


def test_html_inside_data_is_not_a_page():
    for data in ('{"note": "<html >"}', "<a><htmlish/></a>", "note\n<html>"):
        assert text_of(data.encode(), "text/html") == data


def test_an_answer_may_hold_so_many_values_and_no_more():
    refuse_crowded("," * MOST_VALUES, ",[")
    with pytest.raises(FeedFailed, match="fewer days") as failed:
        refuse_crowded("," * MOST_VALUES + "[", ",[")
    assert failed.value.reason == "too_many_values"
