"""The margin check's sums, the same from both databases."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from api.ports import BookVersion, StoredBook, StoredQuote
from api.ports.jobs import LoggedCoins, ReadingSums
from api.ports.margin_checks import Span
from tests.contract.completed_jobs import MONDAY, job, lay, line, parts, stage

SUNDAY = MONDAY + timedelta(days=6)
WEEK = Span(first=MONDAY, last=SUNDAY)
NOON = datetime(2026, 11, 23, 12, tzinfo=UTC)


def asked(storage, method, *arguments, **named):
    return storage.read(
        lambda unit: getattr(unit.margin_checks, method)(*arguments, **named)
    )


def books(storage, *moments):
    """Versions of the price book that came into force at these moments."""

    def add(unit):
        for number, at in enumerate(moments, start=1):
            about = BookVersion(version=number, created_at=at, by="anna", note="")
            unit.books.add(StoredBook(about=about, document="{}"))

    storage.write(add)


def quote(number, *, status="accepted", valid_until=NOON, version=1):
    return StoredQuote(
        id=f"quote-{number}",
        number=f"2026-{number:04}",
        status=status,
        created_at=NOON,
        created_by="anna",
        valid_until=valid_until,
        decided_at=None if status == "open" else NOON,
        currency="EUR",
        total=Decimal(100),
        tax=Decimal(0),
        deposit=None,
        book_version=version,
        bench_hours=Decimal(1),
        make_by=None,
        sheet_token=f"sheet-{number}",
        document=json.dumps({"format": 2, "of": number}),
    )


def test_nothing_adds_up_to_nothing(any_storage):
    for method, more in (
        ("sums", ()),
        ("weekly", ("EUR",)),
        ("coins", ("EUR",)),
        ("stages", ("EUR",)),
        ("evidence", ()),
        ("readings", ()),
    ):
        assert asked(any_storage, method, WEEK, *more) == ()
    assert asked(any_storage, "jobs", WEEK, "EUR", limit=9) == ()
    assert asked(any_storage, "most_made", WEEK, limit=3) == ()
    assert asked(any_storage, "promised", NOON, limit=9) == ()


def test_jobs_of_a_span_are_added_up_by_currency(any_storage):
    lay(
        any_storage,
        (job(parts={"price": "-1.25"}, pieces=2, under_floor=True), [], []),
        (job(SUNDAY, parts={"price": "0.25", "tax": "-3"}, coins=3), [], []),
        (job(currency="GBP", planned=7), [], []),
        (job(SUNDAY + timedelta(days=1), planned=1000), [], []),
        (job(MONDAY - timedelta(days=1), planned=1000), [], []),
        (job(status="open", planned=1000), [], []),
    )
    euro, pound = asked(any_storage, "sums", WEEK)
    assert (euro.currency, euro.jobs, euro.pieces, euro.under_floor) == ("EUR", 2, 3, 1)
    assert euro.coins_used == 4
    assert euro.planned_margin == 80
    assert euro.margin == Decimal("76.00")
    assert euro.parts == parts(price="-1.00", tax="-3")
    assert euro.revenue - euro.cost == euro.margin
    assert (euro.minutes, euro.planned_minutes, euro.labour) == (120, 100, 64)
    assert (pound.currency, pound.jobs, pound.margin) == ("GBP", 1, 7)


def test_weeks_are_told_apart_at_their_edges(any_storage):
    edges = [date(2026, 12, 27), date(2026, 12, 28), date(2027, 1, 3), date(2027, 1, 4)]
    lay(any_storage, *((job(day), [], []) for day in edges))
    span = Span(first=edges[0], last=edges[-1])
    weeks = asked(any_storage, "weekly", span, "EUR")
    assert [(each.week, each.jobs) for each in weeks] == [
        ("2026-W52", 1), ("2026-W53", 2), ("2027-W01", 1),
    ]  # fmt: skip


def test_coins_come_with_the_one_that_lost_most_first(any_storage):
    lay(
        any_storage,
        (job(), [line("a", parts={"spoilage": -2}, coins=2), line("b", place=1)], []),
        (job(), [line("a", parts={"spoilage": "-1.5"}, pieces=3)], []),
        (job(currency="GBP"), [line("c", parts={"spoilage": -99})], []),
    )
    first, second = asked(any_storage, "coins", WEEK, "EUR")
    assert (first.coin, first.pieces, first.coins_used) == ("a", 4, 3)
    assert (first.coins_planned, first.margin) == (Decimal("2.50"), Decimal("76.50"))
    assert first.parts == parts(spoilage="-3.5")
    assert (second.coin, second.planned_margin) == ("b", 40)


def test_stages_are_added_up(any_storage):
    lay(
        any_storage,
        (job(), [], [stage(tried=3, failed=1, efficiency="-0.75"), stage("bore")]),
        (job(), [], [stage(tried=2, minutes="25.5", difference_sq="30.25")]),
    )
    bore, fold = asked(any_storage, "stages", WEEK, "EUR")
    assert (bore.stage, bore.title, bore.tried) == ("bore", "Bore", 1)
    assert (fold.tried, fold.failed, fold.timed, fold.book_version) == (5, 1, 5, 0)
    assert (fold.minutes, fold.planned_minutes) == (Decimal("55.50"), 50)
    assert fold.difference_sq == Decimal("33.25")
    assert fold.labour_efficiency == Decimal("-0.75")


def test_jobs_under_their_floor_come_first_then_those_that_lost_most(any_storage):
    lay(
        any_storage,
        (job(title="fine"), [], []),
        (job(title="lost", parts={"fees": -9}), [], []),
        (job(title="under", under_floor=True, cause="price", planned=1), [], []),
    )
    found = asked(any_storage, "jobs", WEEK, "EUR", limit=2)
    assert [each.title for each in found] == ["under", "lost"]
    assert (found[0].cause, found[1].parts["fees"]) == ("price", -9)
    assert found[1].completed_day == MONDAY


def test_evidence_is_apart_by_the_version_that_planned_it(any_storage):
    books(any_storage, NOON - timedelta(days=9), NOON, NOON + timedelta(days=2))
    any_storage.write(lambda unit: unit.quotes.add(quote(1, version=1)))
    before = NOON - timedelta(seconds=1)
    lay(
        any_storage,
        (job(created_at=before), [], [stage(tried=2)]),
        (job(created_at=NOON), [], [stage(tried=4)]),
        (job(created_at=NOON + timedelta(days=3)), [], [stage(tried=8)]),
        (
            replace(job(created_at=NOON), sku=None, quote_id="quote-1"),
            [],
            [stage(tried=16, failed=3)],
        ),
    )
    found = asked(any_storage, "evidence", WEEK)
    assert [(each.book_version, each.tried) for each in found] == [
        (1, 18), (2, 4), (3, 8),
    ]  # fmt: skip
    assert found[0].failed == 3


def test_readings_of_coins_with_a_key_are_added_up(any_storage):
    read = ReadingSums(n=2, ratio=Decimal("2.1"), ratio_sq=Decimal("2.21"))
    lay(
        any_storage,
        (job(), [line("a", slug=read), line("", place=1, slug=read)], []),
        (job(), [line("a", slug=read, bored=read), line("b", place=1)], []),
    )
    (found,) = asked(any_storage, "readings", WEEK)
    assert found.coin == "a"
    assert (found.slug.n, found.slug.ratio, found.slug.ratio_sq) == (
        4, Decimal("4.2"), Decimal("4.42"),
    )  # fmt: skip
    assert found.bored == read


def test_the_rings_made_most_are_known_by_coin_and_size(any_storage):
    lay(
        any_storage,
        (job(), [line("a", "10", pieces=2), line("a", "9", place=1)], []),
        (job(), [line("b", "10", pieces=5), line("", place=1, pieces=9)], []),
    )
    found = asked(any_storage, "most_made", WEEK, limit=2)
    assert [(each.coin, each.size_us, each.pieces) for each in found] == [
        ("b", 10, 5), ("a", 10, 2),
    ]  # fmt: skip


def test_a_quote_is_promised_while_it_can_still_have_to_be_kept(any_storage):
    books(any_storage, NOON)
    standing = [("open", 1), ("open", 0), ("accepted", -9), ("declined", 9),
                ("renewed", 9)]  # fmt: skip

    def add(unit):
        for number, (status, hours) in enumerate(standing):
            until = NOON + timedelta(hours=hours)
            unit.quotes.add(quote(number, status=status, valid_until=until))

    any_storage.write(add)
    found = asked(any_storage, "promised", NOON, limit=9)
    assert [(each.number, each.accepted) for each in found] == [
        ("2026-0002", True), ("2026-0000", False),
    ]  # fmt: skip
    assert json.loads(found[0].document)["of"] == 2


def test_a_promise_ends_when_its_job_is_completed_and_knows_the_coins_taken(
    any_storage,
):
    books(any_storage, NOON)

    def add(unit):
        for number in (1, 2, 3):
            unit.quotes.add(quote(number))

    any_storage.write(add)
    made = replace(job(), sku=None, quote_id="quote-1")
    begun = replace(job(status="open"), sku=None, quote_id="quote-2")
    _, waiting = lay(any_storage, (made, [], []), (begun, [], []))
    taken = [LoggedCoins(count=each, unit_cost=Decimal(9)) for each in (2, 1)]
    any_storage.write(lambda unit: unit.jobs.set_coins({waiting.seq: taken}))
    found = asked(any_storage, "promised", NOON, limit=9)
    assert [(each.number, each.coins_taken) for each in found] == [
        ("2026-0003", 0), ("2026-0002", 3),
    ]  # fmt: skip
    assert len(asked(any_storage, "promised", NOON, limit=1)) == 1
