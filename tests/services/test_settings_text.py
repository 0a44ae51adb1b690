"""Settings as text: every digit kept, whatever the file is."""

from __future__ import annotations

import pytest

from api.services.settings_text import (
    MOST_BYTES,
    WRITINGS,
    _once,
    parsed,
    tables_of,
    text_of,
    written,
)
from pricing.errors import InvalidInput

DOCUMENT = {"title": "A “bench”", "labour": {"rate_per_hour": "32.10"}, "n": [1, 2]}


@pytest.mark.parametrize("writing", WRITINGS)
def test_what_is_written_is_read_back(writing):
    assert parsed(written(DOCUMENT, writing)) == DOCUMENT


@pytest.mark.parametrize("text", ["price = 32.10", '{"price": 32.10}'])
def test_bare_figures_keep_their_digits(text):
    assert parsed(text) == {"price": "32.10"}


@pytest.mark.parametrize(
    "text", ['{"a": 1, "a": 2}', '{"a": NaN}', "a = ", "{", '{"a":' + "[" * 100_000]
)
def test_what_is_no_document_is_refused_at_its_field(text):
    with pytest.raises(InvalidInput, match="no price book") as refused:
        tables_of(text, "file")
    assert refused.value.path == ("file",)


class Name(str):
    """A name that counts how often names are compared."""

    __slots__ = ()
    __hash__ = str.__hash__
    compared = 0

    def __eq__(self, other):
        Name.compared += 1
        return str.__eq__(self, other)


def test_many_names_are_not_each_compared_with_each():
    pairs = [(Name(number), number) for number in range(1000)]
    assert _once(pairs) == dict(pairs)
    assert Name.compared < 10 * len(pairs)


@pytest.mark.parametrize("raw", [b"", b" \n", b"\xff\xfe", b"a" * (MOST_BYTES + 1)])
def test_a_file_that_is_none_is_refused(raw):
    with pytest.raises(InvalidInput) as refused:
        text_of(raw, "file")
    assert refused.value.path == ("file",)


def test_a_mark_at_the_begin_of_a_file_is_left_out():
    assert text_of("\ufeffa = 1".encode(), "file") == "a = 1"
