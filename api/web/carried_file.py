"""A file carried from one form to the next, so that nothing is kept meanwhile.

What was looked at is what is read in the end, on whichever server, and a form that is
left behind leaves nothing.

References:
    [1] RFC 1950, the zlib format; RFC 4648 §4, base 64.
"""

from __future__ import annotations

import base64
import binascii
import zlib

from pricing.errors import InvalidInput


def packed(data: bytes) -> str:
    """A file as text for a hidden field.

    >>> unpacked(packed(b"sku,price"), most=100)
    b'sku,price'
    """
    return base64.b64encode(zlib.compress(data, level=9)).decode()


def unpacked(text: str, *, most: int) -> bytes:
    """The file in a hidden field; empty where there is none.

    Args:
        text: what `packed` gave.
        most: how large it may be [B].

    Raises:
        InvalidInput: it is no such text, or larger.
    """
    if not text:
        return b""
    reader = zlib.decompressobj()
    try:
        data = reader.decompress(base64.b64decode(text, validate=True), most)
    except (binascii.Error, zlib.error, ValueError):
        data = b""
    if not data or not reader.eof:
        raise InvalidInput("the file did not arrive whole; choose it again")
    return data
