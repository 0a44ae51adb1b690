"""Why a repricing cannot become what is asked of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from api.ports import Conflict, NotFound, PreconditionFailed, Repricing
from pricing import money

MOST_NAMED = 100
"""Listings or bands that a refusal names at most [count]."""
_IN_WORDS = 5


@dataclass(frozen=True, slots=True)
class Changed:
    """A listing that has changed, or the one band of it that begins at a size."""

    sku: str
    size_from: Decimal | None = None

    @property
    def words(self) -> str:
        """It as people name it, as in ``R-17 from 5.5``."""
        if self.size_from is None:
            return self.sku
        return f"{self.sku} from {money.trimmed(self.size_from)}"


class Overtaken(Conflict):
    """Listings have changed since, so that what is asked would undo an edit.

    Attributes:
        changed: which ones, at most 100.
    """

    def __init__(self, message: str, changed: Iterable[Changed]) -> None:
        self.changed = tuple(changed)
        super().__init__(f"{message}: {_listed(self.changed)}")


class Outdated(Conflict):
    """What a preview was worked out by, other than listings, is not in force now."""


def _listed(changed: Sequence[Changed]) -> str:
    named = ", ".join(each.words for each in changed[:_IN_WORDS])
    more = len(changed) - _IN_WORDS
    if more <= 0:
        return named
    least = "at least " if len(changed) >= MOST_NAMED else ""
    return f"{named} and {least}{more} more"


def found(run: Repricing | None, run_id: str) -> Repricing:
    """The run. Raises NotFound where there is none."""
    if run is None:
        raise NotFound(
            f"there is no repricing '{run_id[:40]}'; check its id. A preview that is "
            "not applied goes after 30 days, or when 20 newer ones were made: make a "
            "new one then"
        )
    return run


def check_version(run: Repricing, expected: int | None) -> None:
    """Raise PreconditionFailed unless the run is at the version that was seen.

    One that is being applied is also still the preview that it was begun from.
    """
    known: set[int | None] = {None, run.version}
    if run.status == "applying":
        known.add(run.version - 1)
    if expected not in known:
        raise moved_on(run)


def moved_on(run: Repricing) -> PreconditionFailed:
    """That the run has become another since it was read."""
    return PreconditionFailed(
        f"the repricing is {_STATUS[run.status]} by now, at version {run.version}; "
        "read it again and decide anew",
        current=run.version,
    )


def check_status(run: Repricing, *allowed: str) -> None:
    """Raise Conflict unless the run has one of these statuses."""
    if run.status not in allowed:
        raise Conflict(f"the repricing is {_STATUS[run.status]}; {_ADVICE[run.status]}")


_STATUS = {
    "preview": "a preview",
    "applying": "being applied",
    "applied": "applied",
    "undone": "undone",
}
_ADVICE = {
    "preview": "nothing of it is in force yet",
    "applying": "apply it again to go on with it",
    "applied": "it can only be undone",
    "undone": "make a new preview",
}
