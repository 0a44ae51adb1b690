"""A person decides about a held price, once."""

from __future__ import annotations

from dataclasses import replace

from api.ports import Conflict, Decision, NotFound, SpotEntry, UnitOfWork
from api.services.audit import note_price

LARGEST_ID = 2**63 - 1


def decided(unit: UnitOfWork, entry_id: int, decision: Decision) -> SpotEntry:
    """The entry as it was decided.

    Raises:
        NotFound: there is no such entry.
        Conflict: it was decided before, or never held.
    """
    entry = unit.spots.get(min(entry_id, LARGEST_ID))
    if entry is None:
        raise NotFound(f"there is no spot price with the id {entry_id}")
    if not unit.spots.decide(entry.id, decision):
        raise Conflict(_decided_already(entry))
    unit.revisions.bump("spot_prices")
    after = replace(
        entry,
        status=decision.status,
        decided_by=decision.by,
        decided_at=decision.at,
    )
    action = f"spot.{decision.status}"
    note_price(unit, decision.at, action, after, before={"status": entry.status})
    return after


def _decided_already(entry: SpotEntry) -> str:
    if entry.decided_at is None:
        return f"entry {entry.id} was {entry.status} as it came; nothing waits there"
    return (
        f"entry {entry.id} was {entry.status} already, on "
        f"{entry.decided_at:%Y-%m-%d %H:%M} UTC"
    )
