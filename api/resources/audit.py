"""The audit trail: who changed what, when. It is read here, and changed nowhere."""

from __future__ import annotations

from flask import request

from api.cursors import LINKS, SECRET, Listing
from api.endpoint import Call, Examples, Reply, Routes
from api.ports import AuditFilter
from api.problems import UNKNOWN_CURSOR
from api.schemas.audit import AuditListDocument, AuditQuery
from api.security import BENCH

_ENTRIES = "/v1/audit-entries"

routes = Routes(
    "audit",
    title="Audit trail",
    about="Each change of quotes, prices, feeds, coins, keys and the price book, and "
    "each restore of a backup, written down together with it. Entries are never "
    "changed or removed.",
)


@routes.operation(
    "GET",
    _ENTRIES,
    scope=BENCH,
    summary="Who changed what, newest first",
    query=AuditQuery(),
    answers={200: AuditListDocument()},
    problems=(UNKNOWN_CURSOR,),
    answer_headers={"Link": LINKS},
    examples=Examples(
        query={"action": "key", "since": "2026-01-01T00:00:00Z", "limit": "10"}
    ),
)
def list_audit_entries(call: Call) -> Reply:
    """List who changed what and when; follow the Link header for older entries.

    'before' and 'after' hold what differs. No entry holds a secret.
    """
    asked = call.query
    listing = Listing(
        path=_ENTRIES,
        query=request.args.to_dict(),
        secret=call.services.installation.secret(SECRET),
    )
    place = listing.place()
    wanted = AuditFilter(
        action=asked["action"] or "",
        subject=asked["subject"] or "",
        by=asked["by"] or "",
        since=asked["since"],
    )
    page = call.services.audit.page(
        wanted, limit=asked["limit"], past=place.past, newer=place.newer
    )
    ids = [entry.id for entry in page.entries]
    links = listing.links(ids, older=page.older, newer=page.newer)
    return Reply({"audit_entries": page.entries}, headers=links)
