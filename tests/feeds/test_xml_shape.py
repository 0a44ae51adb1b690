"""XML is read without document types and entities, one text at a time."""

from __future__ import annotations

import time

import pytest

from api.feeds.answer_text import MOST_VALUES
from api.feeds.xml_shape import DEEPEST, one_text, parsed, xml_rows
from api.ports import Feed, FeedFailed

TREE = """<metals date="2026-11-23">
  <metal code="XAG"><bid> 27.45 </bid><ask usd="27.55"/></metal>
  <metal code="XAU"><bid>2031</bid><note>a<b/>c</note><empty/></metal>
</metals>"""


def why(follow, *given):
    with pytest.raises(FeedFailed) as refused:
        follow(*given)
    return refused.value.reason


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("metal[@code='XAG']/bid", " 27.45 "),
        ("metal/ask/@usd", "27.55"),
        (".//ask/@usd", "27.55"),
        ("./@date", "2026-11-23"),
        ("metal[2]/bid", "2031"),
        ("metal/empty", ""),
    ],
)
def test_a_path_leads_to_one_text(path, text):
    assert one_text(parsed(TREE), path) == text


@pytest.mark.parametrize(
    ("path", "reason"),
    [
        ("metal/last", "no_such_path"),
        ("metal/bid/@usd", "no_such_path"),
        ("metal/bid", "ambiguous_path"),
        ("metal/@code", "ambiguous_path"),
        ("metal[@code='XAG']", "not_a_price"),
        ("metal/note", "not_a_price"),
    ],
)
def test_a_path_to_none_several_or_more_is_refused(path, reason):
    assert why(one_text, parsed(TREE), path) == reason


@pytest.mark.parametrize(
    "text",
    [
        '<!DOCTYPE r [<!ENTITY a "1">]><r>&a;</r>',
        '<!DOCTYPE r [<!ENTITY a SYSTEM "x">]><r>&a;</r>',
        '<!DOCTYPE r [<!ENTITY % p "x">%p;]><r/>',
        '<!DOCTYPE r SYSTEM "https://feeds.example/r.dtd"><r/>',
        "<!DOCTYPE r><r/>",
        '<!DOCTYPE r [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]><r>&b;</r>',
    ],
)
def test_document_types_and_entities_are_refused(text):
    assert why(parsed, text) == "xml_entities"


@pytest.mark.parametrize(
    "text",
    ["", "a", "<a>", "<a></b>", "<a/><b/>", "<a b=1/>", "<a b='1' b='2'/>", "<p:a/>",
     "<a>&x;</a>", "<a>\x01</a>", "<a>\ud800</a>", '{"a": 1}'],
)  # fmt: skip
def test_what_is_not_xml_is_refused(text):
    assert why(parsed, text) == "not_xml"


def test_the_depth_has_a_limit():
    assert parsed("<a>" * DEEPEST + "</a>" * DEEPEST) is not None
    assert parsed("<a>" + "<b/>" * 999 + "</a>") is not None
    began = time.process_time()
    assert why(parsed, "<a>" * 300_000) == "too_deep"
    assert time.process_time() - began < 2


def test_the_number_of_elements_and_of_attributes_has_a_limit():
    assert parsed("<a>" + "<b/>" * (MOST_VALUES - 1) + "</a>") is not None
    assert why(parsed, "<a>" + "<b/>" * MOST_VALUES + "</a>") == "too_many_values"
    many = " ".join(f'a{n}=""' for n in range(MOST_VALUES + 1))
    assert why(parsed, f"<a {many}/>") == "too_many_values"


def test_a_declared_encoding_does_not_disturb_a_text_already_decoded():
    assert parsed('<?xml version="1.0" encoding="iso-8859-1"?><a>ä</a>').text == "ä"


def test_rows_are_elements():
    feed = Feed(title="A", url="https://feeds.example/", format="xml", rows="metal")
    rows = xml_rows(feed, TREE)
    assert [row("bid") for row in rows] == [" 27.45 ", "2031"]
    nowhere = Feed(title="A", url="https://feeds.example/", format="xml", rows="x")
    assert why(xml_rows, nowhere, TREE) == "no_such_path"
