"""Bodies that are text of their own format rather than JSON, such as CSV.

References:
    [1] RFC 4180 §3, text/csv with its parameters charset and header.
    [2] JSON-LD 1.1 (W3C, 2020), application/ld+json.
"""

from __future__ import annotations

from dataclasses import dataclass

from flask import Request

from api.errors import Refused
from api.problems import UNSUPPORTED_MEDIA_TYPE


@dataclass(frozen=True, slots=True, kw_only=True)
class TextFormat:
    """A format of text, in UTF-8.

    Attributes:
        media: its media type.
        parameters: what the media type of an answer goes on with.
        most: how long a body may be [bytes].
    """

    media: str
    parameters: str = ""
    most: int

    @property
    def content_type(self) -> str:
        """The Content-Type of an answer."""
        return self.media + self.parameters


CSV = TextFormat(
    media="text/csv",
    parameters="; charset=utf-8; header=present",
    most=2 * 1024 * 1024,
)
"""Comma-separated values [1]; the first row is a header."""


JSON_LD = TextFormat(media="application/ld+json", most=0)
"""JSON with the meaning of its members in it [2]; only answered with."""


def read_text(request: Request, form: TextFormat) -> bytes:
    """The bytes in the body of ``request``; whether they are text is not looked at.

    Raises:
        Refused: 415 for another media type, charset or coding.
        RequestEntityTooLarge: more bytes than the format takes.
    """
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if request.mimetype != form.media or charset not in {"utf-8", "us-ascii"}:
        raise Refused(
            UNSUPPORTED_MEDIA_TYPE,
            f"The body has to be {form.media} in UTF-8; say so in Content-Type.",
            headers={"Accept": form.media},
        )
    if request.headers.get("Content-Encoding", "identity").lower() != "identity":
        raise Refused(
            UNSUPPORTED_MEDIA_TYPE,
            "The body has to come uncompressed; leave Content-Encoding out.",
            headers={"Accept-Encoding": "identity"},
        )
    request.max_content_length = form.most
    return request.get_data(cache=True)
