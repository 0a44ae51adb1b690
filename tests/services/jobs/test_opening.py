"""Jobs opened for accepted quotes and for listings."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest

from api.ports import Band, Conflict, Listing, NotFound
from api.services.jobs.terms import JobAsk
from pricing.errors import InvalidInput
from pricing.ring_size import ring_size
from tests.services.promising import COIN, DOLLAR, ask

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
TEN = ring_size("us", "10")


def stock(logbook, **more):
    """A ready-made ring in the shop."""
    band = Band(size_from=Decimal(5), size_to=Decimal(12), price=Decimal("210.0000"))
    ring = {
        "sku": "ring-1",
        "title": "Band ring",
        "kind": "ready_made",
        "coin": COIN,
        "channel": "own_shop",
        "policy": "retail",
        "extras": ("box",),
        "bands": (band,),
        "created_at": NOON,
        "changed_at": NOON,
        "changed_by": "anna",
    }
    listing = Listing(**ring | more)
    logbook.storage.write(lambda unit: unit.listings.add([listing]))


def test_a_job_is_numbered_and_says_what_is_made(logbook):
    quote = logbook.accepted(ask(quantity=2), ask(DOLLAR, size="6.5"))
    job = logbook.jobs.open(JobAsk(quote=quote.number, reference="K-17"))
    assert job.number == "J2026-0001"
    assert job.title.startswith("2 × Austria 50 schilling")
    assert job.title.endswith("US 6.5")
    assert (job.quote_id, job.sku, job.pieces) == (quote.id, None, 3)
    assert (job.status, job.reference) == ("open", "K-17")
    assert logbook.opened().number == "J2026-0002"
    assert logbook.told("job.opened")[0] == {"number": job.number, "quote": quote.id}


def test_a_quote_has_to_be_accepted_and_has_one_job(logbook):
    still_open = logbook.create()
    with pytest.raises(Conflict, match="is open; a job is opened once"):
        logbook.jobs.open(JobAsk(quote=still_open.id))
    quote = logbook.accepted()
    logbook.jobs.open(JobAsk(quote=quote.id))
    with pytest.raises(Conflict, match="J2026-0001 already"):
        logbook.jobs.open(JobAsk(quote=quote.id))


def test_a_reference_is_used_once(logbook):
    logbook.opened(reference="K-17")
    with pytest.raises(Conflict, match="J2026-0001 already"):
        logbook.opened(reference="K-17")


@pytest.mark.parametrize("name", ["", "x" * 65, "a\nb"])
def test_a_reference_is_one_plain_name(logbook, name):
    with pytest.raises(InvalidInput) as refused:
        logbook.opened(reference=name)
    assert refused.value.path == ("reference",)


def test_a_job_is_for_one_thing(logbook):
    for nothing in (JobAsk(), JobAsk(quote="a", sku="b")):
        with pytest.raises(InvalidInput, match="name one of them"):
            logbook.jobs.open(nothing)
    with pytest.raises(NotFound, match="no quote 'gone'"):
        logbook.jobs.open(JobAsk(quote="gone"))
    with pytest.raises(NotFound, match="no listing"):
        logbook.jobs.open(JobAsk(sku="gone", size=TEN))


def test_a_listings_pieces_are_planned_at_its_price(logbook):
    stock(logbook)
    job = logbook.jobs.open(JobAsk(sku="ring-1", size=TEN, quantity=2))
    plan = logbook.plan(job)
    assert plan.sold_price == Decimal(420)
    assert (job.sku, job.quote_id, job.pieces) == ("ring-1", None, 2)
    assert job.title == "Band ring, US 10"
    again = JobAsk(sku="ring-1", size=TEN, spot_price=Decimal(60))
    dearer = logbook.plan(logbook.jobs.open(again))
    assert dearer.sold_price == Decimal(210)
    assert dearer.lines[0].coin_amount > plan.lines[0].coin_amount / 2


def test_a_listing_has_to_have_the_size(logbook):
    stock(logbook)
    with pytest.raises(InvalidInput, match="say which size"):
        logbook.jobs.open(JobAsk(sku="ring-1"))
    with pytest.raises(InvalidInput, match="not there in"):
        logbook.jobs.open(JobAsk(sku="ring-1", size=ring_size("us", "13")))


def test_the_calibration_is_that_of_the_quotes_own_book(logbook):
    logbook.change_book(calibrations=[{"coin": COIN, "slug": "1.25"}])
    measured = logbook.plan(logbook.opened(ask()))
    quote = logbook.accepted(ask())
    logbook.change_book(calibrations=[{"coin": COIN, "slug": "2"}])
    later = logbook.plan(logbook.jobs.open(JobAsk(quote=quote.id)))
    assert later.lines[0].slug_g == measured.lines[0].slug_g
