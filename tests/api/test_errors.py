from __future__ import annotations

from urllib.parse import unquote

from hypothesis import given
from hypothesis import strategies as st

from api.errors import pointer


def resolve(document, text):
    """The member a JSON Pointer leads to, by RFC 6901 §4."""
    for part in text.split("/")[1:]:
        document = document[part.replace("~1", "/").replace("~0", "~")]
    return document


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=1))
def test_a_pointer_leads_back_to_the_member(path):
    document: object = "here"
    for name in reversed(path):
        document = {name: document}
    found = pointer(tuple(path))
    assert found.isascii()
    assert resolve(document, unquote(found.removeprefix("#"))) == "here"


def test_the_whole_body_has_the_empty_pointer():
    assert pointer(()) == "#"
