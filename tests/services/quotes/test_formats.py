"""What a quote keeps: one text, and one place that reads it."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from api.ports import StorageUnavailable
from api.services.quotes.formats import kept, kept_text


def test_the_text_is_the_same_whatever_the_order_of_the_members():
    text = kept_text({"b": "½", "a": [1, None, True]})
    assert text == '{"a":[1,null,true],"b":"\\u00bd","format":2}'
    assert kept_text({"a": [1, None, True], "b": "½"}) == text


def test_a_number_that_is_none_is_never_kept():
    with pytest.raises(ValueError, match="JSON compliant"):
        kept_text({"a": float("nan")})


def test_what_was_kept_is_read_back(promises):
    quote = promises.create()
    assert kept_text({**kept(quote)}) == quote.document


@pytest.mark.parametrize("number", [3, 0, None, "1"])
def test_another_format_is_named_and_not_guessed_at(promises, number):
    quote = promises.create()
    document = json.dumps({**json.loads(quote.document), "format": number})
    other = replace(quote, document=document)
    for read in (promises.quotes.document, promises.quotes.sheet):
        with pytest.raises(StorageUnavailable, match=f"2026-0001.*format {number}"):
            read(other)


def test_the_first_format_held_nothing_for_a_storefront(promises):
    quote = promises.create()
    document = json.loads(quote.document) | {"format": 1}
    del document["held"]
    old = replace(quote, document=json.dumps(document))
    assert kept(old) == document | {"held": None}
    assert promises.quotes.document(old) == promises.quotes.document(quote)
