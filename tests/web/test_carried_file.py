"""A file carried in a hidden field, and what comes in its place."""

from __future__ import annotations

import base64
import zlib

import pytest

from api.web.carried_file import packed, unpacked
from pricing.errors import InvalidInput

ROWS = b"sku,from,to\r\n" * 5000


def test_a_file_comes_back_to_the_byte_and_lighter():
    assert unpacked(packed(ROWS), most=len(ROWS)) == ROWS
    assert len(packed(ROWS)) < len(ROWS) / 50
    assert unpacked("", most=10) == b""


@pytest.mark.parametrize(
    "text",
    [
        "not base 64!",
        base64.b64encode(b"not zlib").decode(),
        base64.b64encode(zlib.compress(ROWS)[:-9]).decode(),
        base64.b64encode(zlib.compress(b"")).decode(),
        "\u00e9",
    ],
)
def test_what_is_no_whole_file_is_refused(text):
    with pytest.raises(InvalidInput, match="choose it again"):
        unpacked(text, most=10**6)


def test_a_file_that_would_swell_is_refused():
    with pytest.raises(InvalidInput, match="did not arrive whole"):
        unpacked(packed(b"0" * 10**7), most=10**6)
