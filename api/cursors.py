"""Paging through a list that grows meanwhile: signed cursors, and Link headers.

A cursor says past which entry a page begins and in which direction. It is signed
together with the list's name and its filters, so that it leads nowhere else; what
it says may be seen by anybody. Where entries stand never changes, so a reader who
follows "next" sees each of them once, whatever is added in between.

References:
    [1] RFC 8288, Web Linking: the Link header, relation types next, prev, first.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from itsdangerous import BadData, URLSafeSerializer

from api.errors import Refused
from api.problems import UNKNOWN_CURSOR

SECRET = "cursors"  # noqa: S105 - the name of one
LINKS = (
    'Further pages: rel="next" (older), "prev" (newer) and "first"; there is no '
    "next on the last page."
)
"""What the header of a list says, for its description."""
_NOT_FILTERS = ("cursor", "limit")
_DIGEST = 16


@dataclass(frozen=True, slots=True)
class Place:
    """Where a page begins: past an entry, None at the first; which way it goes.

    ``past`` is whatever the list says where an entry stands with, as JSON has it.
    """

    past: Any = None
    newer: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """One list as it is asked for.

    Attributes:
        path: its address.
        query: every parameter as it was sent, the cursor among them.
        secret: signs the cursors.
    """

    path: str
    query: Mapping[str, str]
    secret: bytes

    def place(self) -> Place:
        """Where the page asked for begins. Raises Refused for a cursor not of it."""
        cursor = self.query.get("cursor")
        if cursor is None:
            return Place()
        try:
            past, newer, filters = self._signer().loads(cursor)
        except BadData:
            raise lost() from None
        if filters != self._filters():
            raise lost()
        return Place(past, newer)

    def links(self, ids: Sequence[Any], *, older: bool, newer: bool) -> dict[str, str]:
        """The Link header of a page.

        Args:
            ids: where its entries stand, mostly in the order of making, newest first.
            older: whether there are more beyond the last of them.
            newer: whether there are more before the first of them.
        """
        found = [self._link("first", None)]
        if ids and newer:
            found.insert(0, self._link("prev", Place(ids[0], newer=True)))
        if ids and older:
            found.insert(0, self._link("next", Place(ids[-1])))
        return {"Link": ", ".join(found)}

    def _link(self, rel: str, place: Place | None) -> str:
        query = {name: text for name, text in self.query.items() if name != "cursor"}
        if place is not None:
            said: list[Any] = [place.past, place.newer, self._filters()]
            query["cursor"] = str(self._signer().dumps(said))
        mark = "?" if query else ""
        return f'<{self.path}{mark}{urlencode(query)}>; rel="{rel}"'

    def _signer(self) -> URLSafeSerializer:
        return URLSafeSerializer(self.secret, salt=f"cursor {self.path}")

    def _filters(self) -> str:
        """A digest of what the list is narrowed to."""
        kept = {k: v for k, v in self.query.items() if k not in _NOT_FILTERS}
        text = json.dumps(kept, sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:_DIGEST]


def lost() -> Refused:
    """The refusal of a cursor that leads nowhere."""
    return Refused(
        UNKNOWN_CURSOR,
        UNKNOWN_CURSOR.meaning,
        errors=({"detail": "this cursor is not of this list", "parameter": "cursor"},),
    )
