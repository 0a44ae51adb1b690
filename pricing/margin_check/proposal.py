"""A new standard for one place in the price book, and putting it there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from pricing.errors import InvalidInput, Path, UnknownKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A new standard for one place in the price book.

    Attributes:
        path: the list, the key of the entry, and the figure, such as stages, fold,
            scrap.
        current, proposed: as a person reads it.
        n: tries, attempts or readings it rests on [count].
        how: the reasoning in one line.
        sets: the members of the entry that change, as a document has them.
    """

    path: Path
    current: str
    proposed: str
    n: int
    how: str
    sets: Mapping[str, Any]

    @property
    def dotted(self) -> str:
        """The path as a change of the price book is told: ``stages.fold.scrap``."""
        return ".".join(str(part) for part in self.path)


def apply_proposals(
    book_document: Mapping[str, Any], proposals: Iterable[Proposal]
) -> dict[str, Any]:
    """A new price-book document with the ``proposals`` in it; the old one stays.

    Raises:
        UnknownKey: a stage that the document does not have.
        InvalidInput: two proposals for one place.
    """
    new = deepcopy(dict(book_document))
    seen: set[Path] = set()
    for proposal in proposals:
        if proposal.path in seen:
            raise InvalidInput(
                f"{proposal.dotted} is proposed twice; name it once",
                path=("proposals",),
            )
        seen.add(proposal.path)
        _entry(new, proposal.path).update(deepcopy(dict(proposal.sets)))
    return new


def _entry(document: dict[str, Any], path: Path) -> dict[str, Any]:
    """The entry of a list that a path leads to; a missing calibration is begun."""
    name, key = str(path[0]), path[1]
    named_by = "coin" if name == "calibrations" else "key"
    entries: list[dict[str, Any]] = document.setdefault(name, [])
    for entry in entries:
        if entry.get(named_by) == key:
            return entry
    if name != "calibrations":
        raise UnknownKey(
            f"the price book has no entry '{key}' in {name} any more; ask for the "
            "proposals again",
            path=path,
        )
    begun: dict[str, Any] = {named_by: key}
    entries.append(begun)
    return begun
