"""Long lists page by page: the place an address names, and the ways on from there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol
from urllib.parse import urlencode

from api.web.typed_numbers import whole_number

_LONGEST = 18


class Cut(Protocol):
    """A page of a list, which knows whether there is more on either side."""

    @property
    def newer(self) -> bool:
        """Whether there are entries before the first."""
        ...

    @property
    def older(self) -> bool:
        """Whether there are entries after the last."""
        ...


def place(query: Mapping[str, str]) -> tuple[int | None, bool]:
    """Past which entry an address asks for others, and whether for newer ones.

    >>> place({"newer": "7"}), place({"older": "x"})
    ((7, True), (None, False))
    """
    for name in ("newer", "older"):
        number = whole_number(query.get(name, ""), digits=_LONGEST)
        if number is not None:
            return number, name == "newer"
    return None, False


def ways(
    address: str, found: Cut, seqs: Sequence[int], *, chosen: Mapping[str, str]
) -> dict[str, str]:
    """The addresses of the pages on either side, '' for none, as `parts.pager` has it.

    Args:
        address: path of the list.
        found: the page that is shown.
        seqs: places of its entries, newest first.
        chosen: what of the address chooses entries.
    """

    def way(name: str, seq: int) -> str:
        return f"{address}?{urlencode({**chosen, name: seq})}"

    return {
        "newer": way("newer", seqs[0]) if found.newer and seqs else "",
        "older": way("older", seqs[-1]) if found.older and seqs else "",
    }
