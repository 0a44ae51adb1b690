"""Quotes page by page."""

from __future__ import annotations

from dataclasses import dataclass, replace

from api.ports import QuoteFilter, Storage, StoredQuote
from api.services.paging import check_limit, cut
from api.services.plain_text import sought


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotePage:
    """Some quotes, newest first, and whether there are more on either side."""

    quotes: tuple[StoredQuote, ...]
    older: bool
    newer: bool


def quote_page(
    storage: Storage,
    wanted: QuoteFilter,
    *,
    limit: int,
    past: int | None,
    newer: bool,
) -> QuotePage:
    """The quotes next to one of them, as `Quotes.page` says. Raises InvalidInput."""
    check_limit(limit)
    meant = replace(wanted, text=sought(wanted.text))
    quotes = storage.read(
        lambda unit: unit.quotes.page(meant, limit=limit + 1, past=past, newer=newer)
    )
    shown, older, before = cut(quotes, limit=limit, begun=past is not None, back=newer)
    return QuotePage(quotes=shown, older=older, newer=before)
