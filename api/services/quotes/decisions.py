"""What may become of a quote: one decision at a time, and none too late.

open → accepted, declined or renewed; open and past its time (expired) → renewed;
declined → renewed. Accepted and renewed are final.
"""

from __future__ import annotations

from collections.abc import Mapping

from api.ports import (
    Conflict,
    NotFound,
    PreconditionFailed,
    QuoteDecision,
    QuoteExpired,
    QuoteStatus,
    StoredQuote,
    UnitOfWork,
)
from api.services.audit import note
from api.services.hooks.events import tell_quote
from api.services.quotes.document import instant
from api.services.quotes.formats import kept

FROM: Mapping[QuoteStatus, tuple[QuoteStatus, ...]] = {
    "accepted": ("open",),
    "declined": ("open",),
    "renewed": ("open", "expired", "declined"),
}
"""From which status, by the clock, each decision may be taken."""

_NEXT: Mapping[QuoteStatus, str] = {
    "accepted": "that is final; make a new quote",
    "declined": "renew it first",
    "expired": "renew it if it is still wanted",
    "renewed": "go on with the quote that took its place",
}


def found(quote: StoredQuote | None, name: str) -> StoredQuote:
    """The quote. Raises NotFound where there is none."""
    if quote is None:
        raise NotFound(f"there is no quote '{name[:40]}'; check what it is called")
    return quote


def decide(
    unit: UnitOfWork,
    quote_id: str,
    decision: QuoteDecision,
    *,
    expected: int | None,
    after: Mapping[str, object] | None = None,
) -> StoredQuote:
    """The quote as decided, with its line in the audit trail.

    The write is the check; what was read before it serves to say why not.

    Args:
        unit: the transaction.
        quote_id: the quote.
        decision: what becomes of it, at the clock's time in this transaction.
        expected: the version it was made from [count]; None for whatever it is.
        after: more to say in the audit trail.

    Raises:
        NotFound: there is no such quote.
        PreconditionFailed: it has another version.
        QuoteExpired: it is to be accepted, and its time has passed.
        Conflict: this cannot become of it.
    """
    quote = found(unit.quotes.get(quote_id), quote_id)
    if expected not in {None, quote.version}:
        raise PreconditionFailed(
            f"quote {quote.number} is at version {quote.version}, not {expected}; "
            "read it again and decide anew",
            current=quote.version,
        )
    status, decided = quote.status_at(decision.at), None
    if status in FROM[decision.status]:
        decided = unit.quotes.decide(quote_id, decision, expected=quote.version)
    if decided is None:
        raise _refusal(quote, status, decision)
    # The number, because people know no id.
    told = {"number": quote.number, "status": decision.status, **(after or {})}
    if decision.reason:
        told["reason"] = decision.reason
    action = f"quote.{decision.status}"
    note(unit, decision.at, action, quote_id, before={"status": status}, after=told)
    if decision.status == "accepted":
        tell_quote(unit, decision.at, quote_id)
    return decided


def _refusal(
    quote: StoredQuote, status: QuoteStatus, decision: QuoteDecision
) -> Conflict:
    if (status, decision.status) == ("expired", "accepted"):
        held = kept(quote)["held"] is not None
        advice = "hold the ring anew" if held else "renew it"
        return QuoteExpired(
            f"quote {quote.number} was valid until {instant(quote.valid_until)} and "
            f"can no longer be accepted; {advice} for a price of today"
        )
    said = f"quote {quote.number} is {status}"
    if status == decision.status:
        return Conflict(f"{said} already")
    advice = _NEXT.get(status, "read it again")
    return Conflict(f"{said} and cannot be {decision.status}; {advice}")
