"""What every storage does with quotes: kept whole, decided once, found again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import insert, text
from sqlalchemy.exc import IntegrityError

from api.db.quote_mapping import quote_values
from api.db.tables import quotes as table
from api.ports import (
    KEPT_STATUSES,
    QUOTE_STATUSES,
    Conflict,
    QuoteFilter,
    StorageCollision,
)
from tests.contract.quoting import DAY, NOON, decision, quote, stored, with_a_book

MOMENT = timedelta(microseconds=1)
DECISIONS = ("accepted", "declined", "renewed")


@pytest.fixture
def shop(any_storage):
    return with_a_book(any_storage)


def get(storage, quote_id="id-1"):
    return storage.read(lambda unit: unit.quotes.get(quote_id))


def decide(storage, made, expected=1, quote_id="id-1"):
    return storage.write(
        lambda unit: unit.quotes.decide(quote_id, made, expected=expected)
    )


def numbers(storage, *, limit=99, past=None, newer=False, **wanted):
    """Numbers of a page's quotes, as whole numbers, in the order of the page."""
    asked = QuoteFilter(**{"now": NOON} | wanted)
    found = storage.read(
        lambda unit: unit.quotes.page(asked, limit=limit, past=past, newer=newer)
    )
    return [int(each.number[5:]) for each in found]


def test_a_quote_comes_back_as_it_was_made_by_each_of_its_names(shop):
    bare = quote(2, deposit=None, make_by=None, customer_note="", renews="id-1")
    first, second = stored(shop, quote(total=Decimal("0.0001")), bare)
    assert first == replace(quote(), seq=first.seq, total=Decimal("0.0001"))
    assert second == replace(bare, seq=second.seq)
    assert 0 < first.seq < second.seq
    with shop.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM quotes")).scalar_one() == 2
    found = shop.read(
        lambda unit: (
            unit.quotes.get("id-2"),
            unit.quotes.by_number("2026-0002"),
            unit.quotes.by_sheet("sheet-2"),
            unit.quotes.renewal_of("id-1"),
            unit.quotes.get("id-1"),
        )
    )
    assert found == (second, second, second, second, first)
    nothing = shop.read(
        lambda unit: (
            unit.quotes.get("sheet-1"),
            unit.quotes.by_number("id-1"),
            unit.quotes.by_sheet("id-1"),
            unit.quotes.renewal_of("id-2"),
        )
    )
    assert nothing == (None,) * 4


def test_what_no_quote_can_be_is_not_stored(shop):
    for wrong in (
        {"status": "expired"},
        {"version": 0},
        {"book_version": 2},
        {"renews": "nobody"},
        {"decided_at": NOON},
        {"status": "accepted"},
    ):
        with pytest.raises(IntegrityError):
            stored(shop, quote(**wrong))
    assert numbers(shop) == []


def test_what_names_one_quote_never_names_two(shop):
    (first,) = stored(shop, quote())
    for more in ({"id": "id-1"}, {"sheet_token": "sheet-1"}):
        with pytest.raises(IntegrityError):
            stored(shop, quote(2, **more))
    assert numbers(shop) == [1]
    assert get(shop) == first


def test_numbers_of_each_year_are_counted_from_one_without_gaps(shop):
    def take(year):
        return shop.write(lambda unit: unit.quotes.next_number(year))

    def take_and_fail(unit):
        unit.quotes.next_number(2026)
        raise Conflict("not after all")

    assert [take(2026), take(2026), take(2027)] == [1, 2, 1]
    with pytest.raises(Conflict):
        shop.write(take_and_fail)
    assert [take(2026), take(2027)] == [3, 2]


def test_a_decision_is_written_and_counted(shop):
    other, *firsts = stored(shop, *(quote(n) for n in range(4)))
    for first, status in zip(firsts, DECISIONS, strict=True):
        made = decision(status, at=NOON + DAY, reason="dearer than thought")
        done = decide(shop, made, 1, first.id)
        assert done == replace(
            first,
            status=status,
            version=2,
            decided_at=NOON + DAY,
            decided_by="shop key",
            reason="dearer than thought",
        )
        assert get(shop, first.id) == done
    assert get(shop, other.id) == other


def test_a_decision_about_another_version_is_none(shop):
    (first,) = stored(shop, quote())
    for expected in (0, -1, 2, 2**31 - 1, 2**31, 2**63, 10**30):
        assert decide(shop, decision(), expected) is None
    assert decide(shop, decision(), 1, "nobody") is None
    assert get(shop) == first


def test_only_what_may_follow_follows(shop):
    """Every decision about every status, against a table of what is allowed."""
    allowed = {
        ("open", "accepted"),
        ("open", "declined"),
        ("open", "renewed"),
        ("declined", "renewed"),
    }
    number, happened = 0, set()
    for before in KEPT_STATUSES:
        for after in DECISIONS:
            number += 1
            stored(shop, quote(number))
            name, version = f"id-{number}", 1
            if before != "open":
                assert decide(shop, decision(before), 1, name)
                version = 2
            was = get(shop, name)
            done = decide(shop, decision(after), version, name)
            if done is None:
                assert get(shop, name) == was
            else:
                happened.add((before, done.status))
    assert happened == allowed


def test_an_expired_quote_is_not_accepted_but_declined_or_renewed(shop):
    stored(shop, *(quote(n) for n in range(1, 6)))
    end = NOON + 7 * DAY
    for name, at, accepted in (
        ("id-1", end - MOMENT, True),
        ("id-2", end, False),
        ("id-3", end + DAY, False),
    ):
        assert bool(decide(shop, decision(at=at), 1, name)) is accepted
        assert get(shop, name).status == ("accepted" if accepted else "open")
    assert decide(shop, decision("renewed", at=end), 1, "id-4")
    assert decide(shop, decision("declined", at=end), 1, "id-5")


def test_a_second_renewal_is_a_conflict(shop):
    stored(shop, quote(), quote(2, renews="id-1"))
    with pytest.raises(Conflict, match="renewed already"):
        stored(shop, quote(3, renews="id-1"))
    assert numbers(shop) == [2, 1]


def test_only_what_two_can_race_for_is_tried_again(shop):
    stored(shop, quote(), quote(2, renews="id-1"))
    # On SQLite writers go one after the other and never race.
    races = shop.engine.dialect.name == "postgresql"
    for more, race in (
        ({"renews": "id-1"}, races),
        ({"number": "2026-0002"}, races),
        ({"id": "id-2"}, False),
    ):
        runs = []

        def add_unseen(unit, runs=runs, more=more):
            runs.append(1)
            values = quote_values(quote(3, **more))
            unit.quotes._connection.execute(insert(table), values)

        with pytest.raises(StorageCollision if race else IntegrityError):
            shop.write(add_unseen)
        assert len(runs) == (5 if race else 1)
    assert numbers(shop) == [2, 1]


def test_quotes_are_found_by_status_by_the_clock(shop):
    stored(
        shop,
        quote(1),
        quote(2, valid_until=NOON),
        quote(3, valid_until=NOON + MOMENT),
        *(quote(n) for n in range(4, 8)),
    )
    decide(shop, decision("accepted"), 1, "id-4")
    decide(shop, decision("declined"), 1, "id-5")
    decide(shop, decision("renewed"), 1, "id-6")
    found = {status: numbers(shop, status=status) for status in QUOTE_STATUSES}
    assert found == {
        "open": [7, 3, 1],
        "expired": [2],
        "accepted": [4],
        "declined": [5],
        "renewed": [6],
    }
    later = NOON + 8 * DAY
    assert numbers(shop, status="open", now=later) == []
    assert numbers(shop, status="expired", now=later) == [7, 3, 2, 1]
    assert numbers(shop, status="accepted", now=later) == [4]
    everything = shop.read(
        lambda unit: unit.quotes.page(QuoteFilter(now=NOON), limit=99, past=None)
    )
    assert {q.number[-1]: q.status_at(NOON) for q in everything} == {
        str(n): status for status, listed in found.items() for n in listed
    }


def test_quotes_are_found_by_when_they_were_made(shop):
    stored(shop, *(quote(n, created_at=NOON + n * DAY) for n in range(1, 5)))
    two, four = NOON + 2 * DAY, NOON + 4 * DAY
    assert numbers(shop, created_from=two) == [4, 3, 2]
    assert numbers(shop, created_before=four) == [3, 2, 1]
    assert numbers(shop, created_from=two, created_before=four) == [3, 2]
    assert numbers(shop, created_from=two, created_before=two) == []


def test_quotes_are_found_by_text_in_any_case_and_literally(shop):
    found = {
        "2026-0001": [1],
        "-000": [4, 3, 2, 1],
        "öSTER": [1],
        "O\N{COMBINING DIAERESIS}ster": [1],
        "ring": [2, 1],
        "RING": [2, 1],
        "STRASSE": [3],
        "straße": [3],
        "ώμεγα": [4],
        "ΏΜΕΓΑ": [4],
        "0 %": [1],
        "%": [1],
        "_": [1],
        "\\": [1],
        "/": [],
        "'; DROP TABLE quotes; --": [],
        "nowhere": [],
        "": [4, 3, 2, 1],
    }
    stored(
        shop,
        quote(1),
        quote(2, customer_note="A Ring for Ada"),
        quote(3, customer_note="Straße 3"),
        quote(4, customer_note="Ώμεγα"),
    )
    assert {words: numbers(shop, text=words) for words in found} == found


def test_filters_are_joined(shop):
    stored(
        shop,
        quote(1, created_at=NOON + DAY),
        quote(2),
        quote(3, created_at=NOON + DAY, customer_note="plain"),
        quote(4, created_at=NOON + DAY, valid_until=NOON),
    )
    wanted = {"text": "öster", "created_from": NOON + DAY, "status": "open"}
    assert numbers(shop, **wanted) == [1]


def test_pages_lead_through_every_quote_once_while_more_are_added(shop):
    kept = stored(shop, *(quote(n) for n in range(1, 12)))
    seq = {int(each.number[5:]): each.seq for each in kept}
    seen, past = [], None
    for more in range(101, 105):
        seen += numbers(shop, limit=3, past=past)
        past = seq[seen[-1]]
        stored(shop, quote(more))
    assert numbers(shop, limit=3, past=past) == []
    assert seen == list(range(11, 0, -1))
    assert numbers(shop, limit=3, past=seq[2], newer=True) == [5, 4, 3]
    assert numbers(shop, limit=3, past=seq[5], newer=True) == [8, 7, 6]
    assert numbers(shop, limit=3, past=seq[9], newer=True) == [101, 11, 10]
    assert numbers(shop, limit=3, newer=True) == [3, 2, 1]
    assert numbers(shop, limit=3) == [104, 103, 102]
    assert numbers(shop, past=seq[1]) == []


def test_pages_of_a_filter_count_only_what_it_lets_through(shop):
    kept = stored(shop, *(quote(n) for n in range(1, 10)))
    for n in range(1, 10, 2):
        decide(shop, decision(), 1, f"id-{n}")
    accepted = {"status": "accepted", "limit": 2}
    assert numbers(shop, **accepted) == [9, 7]
    assert numbers(shop, **accepted, past=kept[6].seq) == [5, 3]
    assert numbers(shop, **accepted, past=kept[2].seq, newer=True) == [7, 5]


def test_the_queue_is_the_hours_of_accepted_quotes_that_are_not_due(shop):
    due = [date(2026, 12, day) for day in (17, 18, 19)]
    stored(
        shop,
        *(quote(n, make_by=day) for n, day in enumerate(due, 1)),
        quote(4),
        quote(5, make_by=None),
        quote(6),
    )
    for n in (1, 2, 3, 5):
        decide(shop, decision(), 1, f"id-{n}")
    decide(shop, decision("declined"), 1, "id-6")
    hours = shop.read(
        lambda unit: [unit.quotes.queue_hours(day) for day in (*due, date.max)]
    )
    assert hours == [Decimal(h) for h in ("6.75", "4.50", "2.25", "0")]


def refused(storage, statement, **values):
    """Whether the database refuses a statement, in words of this program."""
    try:
        with storage.engine.begin() as connection:
            connection.execute(text(statement), values)
    except IntegrityError as error:
        return "never" in str(error.orig)
    return False


def test_the_database_lets_nobody_change_what_a_quote_promises(shop):
    before = stored(shop, quote(), quote(2, renews="id-1"))
    decided = {"status", "version", "decided_at", "decided_by", "reason"}
    promised = [column.name for column in table.c if column.name not in decided]
    other = {"make_by": "'2027-01-01'", "created_at": "'2027-01-01 00:00:00'"}
    other["valid_until"] = other["created_at"]
    taken = {
        name: refused(shop, f"UPDATE quotes SET {name} = {other.get(name, '7')}")  # noqa: S608
        for name in promised
    }
    assert taken == dict.fromkeys(promised, True)
    for name in ("deposit", "make_by", "renews"):
        assert refused(shop, f"UPDATE quotes SET {name} = NULL WHERE number LIKE '%2'")  # noqa: S608
    assert refused(shop, "UPDATE quotes SET reason = 'x', total = total - 1")
    assert refused(shop, "DELETE FROM quotes")
    assert refused(shop, "DELETE FROM quotes WHERE id = :id", id="id-2")
    assert [get(shop), get(shop, "id-2")] == before


def test_the_database_lets_nobody_undo_what_is_final(shop):
    stored(shop, quote(), quote(2))
    kept = [decide(shop, decision()), decide(shop, decision("renewed"), 1, "id-2")]
    undo = "UPDATE quotes SET status = 'open', decided_at = NULL WHERE id = :id"
    for name in ("id-1", "id-2"):
        assert refused(shop, undo, id=name)
        assert refused(shop, "UPDATE quotes SET version = 9 WHERE id = :id", id=name)
    assert [get(shop), get(shop, "id-2")] == kept


@pytest.mark.parametrize("same", ["seq", "id", "number", "sheet_token", "renews"])
def test_sqlite_replaces_no_quote_by_another(storage, same):
    before = stored(with_a_book(storage), quote(), quote(2, renews="id-1"))
    values = quote_values(quote(3, document="forged"))
    values |= {"seq": 99, "renews": None, same: getattr(before[1], same)}
    replacing = insert(table).prefix_with("OR REPLACE").values(**values)
    with (
        pytest.raises(IntegrityError, match="never"),
        storage.engine.begin() as connection,
    ):
        connection.execute(replacing)
    assert [get(storage), get(storage, "id-2")] == before
    assert numbers(storage) == [2, 1]


def test_sqlite_has_no_other_way_around_it(storage):
    before = stored(with_a_book(storage), quote(), quote(2))
    assert refused(storage, "UPDATE quotes SET rowid = rowid + 90")
    assert refused(storage, "UPDATE OR IGNORE quotes SET document = ''")
    assert refused(storage, "UPDATE OR REPLACE quotes SET number = '2026-0002'")
    assert [get(storage), get(storage, "id-2")] == before
