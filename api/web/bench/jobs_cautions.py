"""What to take care of with the coins of a job, before it hurts somebody."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from api.ports import NotFound
from api.ports.jobs import Job
from api.services.quotes.formats import kept
from api.web.bench.jobs_words import CARE_WORDS
from api.web.visit import Visit
from pricing.cautions import cautions_for

Care = dict[str, str]
"""Code of a caution, what it is in short, and its text."""


def cautions_of(visit: Visit, job: Job, plan: dict[str, Any]) -> list[Care]:
    """The cautions for working on a job, each once, by its quote or its coin."""
    found = _of_quote(visit, job) if job.quote_id else _of_coins(visit, plan)
    texts = {code: text for code, text in found if code in CARE_WORDS}
    return [
        {"code": code, "short": short, "text": texts[code]}
        for code, short in CARE_WORDS.items()
        if code in texts
    ]


def _of_quote(visit: Visit, job: Job) -> Iterator[tuple[str, str]]:
    document = kept(visit.services.quotes.get(job.quote_id))
    for line in document["lines"]:
        for each in line["cautions"]:
            yield each["code"], each["text"]


def _of_coins(visit: Visit, plan: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Those of the plan's coins as they are now, with all that the book uses up."""
    book = visit.book
    used = [each.key for each in book.consumables] if book else []
    for line in plan["lines"]:
        try:
            coin = visit.services.coins.get(line["coin"]).coin
        except NotFound:  # removed meanwhile
            continue
        found = cautions_for(
            coin=coin,
            finished_g=coin.gross_mass_g,
            consumables=used,
            own_coin=False,
            unlisted=not used,
        )
        yield from ((each.code, each.text) for each in found)
