"""`fineweight log open`, `complete` and `reopen`: where a job begins and ends."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import click

from api.cli.context import Desk, with_desk
from api.cli.log_options import AtCost, Moment, with_money
from api.cli.log_words import whole
from api.cli.wish_options import EXACT
from api.cli.written import WRITTEN
from api.ports.jobs import Job, LoggedCoins
from api.services.jobs.terms import JobAsk, moment_of
from pricing.ring_size import SYSTEMS, ring_size
from pricing.wish import MOST_PIECES

JOB = click.argument("job", type=WRITTEN)
IF_VERSION = click.option(
    "--if-version",
    type=click.IntRange(min=1),
    metavar="N",
    help="Only if this is still its version; else whichever it has now.",
)


@click.command("open")
@click.argument("quote", type=WRITTEN, required=False)
@click.option(
    "--sku", type=WRITTEN, help="Pieces of this listing, in place of a QUOTE."
)
@click.option("--size", type=WRITTEN, help="Their finger size.")
@click.option(
    "--system",
    type=click.Choice(SYSTEMS),
    default="us",
    show_default=True,
    help="What --size is counted in.",
)
@click.option(
    "--quantity",
    type=click.IntRange(1, MOST_PIECES),
    default=1,
    show_default=True,
    help="Pieces of the listing.",
)
@click.option("--spot", type=EXACT, metavar="PRICE", help="Else the current one.")
@click.option("--reference", type=WRITTEN, help="What your own files call the job.")
@with_desk
def open_job(desk: Desk, *, quote: str | None, **given: Any) -> None:
    """Open a job for an accepted QUOTE, or for pieces of a listing.

    \b
    Examples:
      fineweight log open 2026-0017
      fineweight log open --sku ring-50s --size 10 --reference fair-3
    """  # noqa: D301 - Click keeps the lines together at its own mark
    if (quote is None) == (given["sku"] is None):
        raise click.UsageError("say a QUOTE, or --sku and --size")
    size, system = given["size"], given["system"]
    ask = JobAsk(
        quote=quote,
        sku=given["sku"],
        size=None if size is None else ring_size(system, size),
        quantity=given["quantity"],
        spot_price=given["spot"],
        reference=given["reference"],
    )
    shown(desk, desk.services.bench.jobs.open(ask))


@click.command()
@JOB
@with_money
@click.option(
    "--coins",
    type=AtCost(),
    multiple=True,
    metavar="COUNT@COST",
    help="Coins taken, as 2@17.40; may be repeated. @LINE may follow.",
)
@click.option("--at", type=Moment(), metavar="DAY", help="When it was done; else now.")
@IF_VERSION
@with_desk
def complete(
    desk: Desk,
    *,
    job: str,
    coins: tuple[LoggedCoins, ...],
    at: date | datetime | None,
    if_version: int | None,
    **money: Any,
) -> None:
    """Say that a JOB is done, and work out what its margin came to.

    \b
    Examples:
      fineweight log complete 2026-0017 --sold 189.95 --fees 3.86 --coins 2@17.40
      fineweight log complete fair-3 --at 2026-11-21
    """  # noqa: D301 - Click keeps the lines together at its own mark
    services = desk.services
    found = services.bench.jobs.find(job)
    book = services.price_books.current()
    done = services.bench.jobs.complete(
        found.id,
        expected=found.version if if_version is None else if_version,
        at=None if at is None else moment_of(at, book, now=services.clock.now()),
        money={name: figure for name, figure in money.items() if figure is not None},
        coins=coins or None,
    )
    shown(desk, done)


@click.command()
@JOB
@IF_VERSION
@with_desk
def reopen(desk: Desk, *, job: str, if_version: int | None) -> None:
    """Take back that a JOB is done; what is written down for it stays.

    \b
    Examples:
      fineweight log reopen J2026-0017
    """  # noqa: D301 - Click keeps the lines together at its own mark
    jobs = desk.services.bench.jobs
    found = jobs.find(job)
    expected = found.version if if_version is None else if_version
    shown(desk, jobs.reopen(found.id, expected=expected))


def shown(desk: Desk, job: Job) -> None:
    """Print a job as it is now."""
    jobs = desk.services.bench.jobs

    def words() -> str:
        quote = job.quote_id and desk.services.quotes.get(job.quote_id).number
        return whole(job, jobs.log(job), sold=quote or job.sku)

    desk.show_as("job_documents:JobDocument", jobs.document(job), words)
