"""The audit trail: one line for each change that was kept, and none for any other."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from api.ports import AuditEntry, AuditFilter, ServiceError
from api.services import Coins, Keys, PriceBooks
from api.services.actor import Actor, acting
from api.services.audit import Audit, difference, note
from pricing.coin_document import read_coin
from pricing.errors import InvalidInput, PricingError
from tests.services.feeding import ASSAY, NOON, Fetchery, reading

WHO = Actor(
    by="4bf92f3577b34da6", via="api", request="0af7651916cd43dd8448eb211c80319c"
)
ALL = AuditFilter()
EAST = timezone(timedelta(hours=1))
HUSH = "hush-hush-canary"
TABLES = ("price_book_versions", "coins", "spot_prices", "feeds", "feed_secrets")


class Workshop:
    """Every service that writes, on one storage."""

    def __init__(self, storage, clock, book_document):
        fetchery = Fetchery(storage, clock)
        self.storage, self.clock, self.book = storage, clock, book_document
        self.source, self.snapshots = fetchery.source, fetchery.snapshots
        self.feeds, self.spots = fetchery.feeds, fetchery.spots
        self.keys = Keys(self.snapshots, clock)
        self.books = PriceBooks(self.snapshots, clock)
        self.coins = Coins(self.snapshots, clock)
        self.audit = Audit(self.snapshots)
        self.key_id = "0" * 16

    def trail(self, wanted=ALL):
        return self.audit.page(wanted, limit=1000).entries

    def newest(self):
        return self.trail()[0]

    def rows(self):
        """Everything that is kept but the trail and the log of fetches."""
        with self.storage.engine.connect() as connection:
            found = {table: self._rows(connection, table) for table in TABLES}
            keys = text("SELECT id, label, revoked_at FROM api_keys")
            return found | {"keys": sorted(map(repr, connection.execute(keys)))}

    @staticmethod
    def _rows(connection, table):
        wanted = text(f"SELECT * FROM {table}")  # noqa: S608 - our own names
        return sorted(map(repr, connection.execute(wanted)))


@pytest.fixture
def workshop(any_storage, clock, book_document):
    return Workshop(any_storage, clock, book_document)


@pytest.fixture
def bench(storage, clock, book_document):
    return Workshop(storage, clock, book_document)


def coin(key="own", mass="20", **more):
    given = {"key": key, "gross_mass_g": mass, "fineness_permille": "900"}
    return read_coin(given | {"diameter_mm": "34"} | more)


# What can be done, each as often as one likes; some of it is refused at times.


def make_key(w):
    w.key_id = w.keys.create("shop", "Till")[0].id


def revoke_key(w):
    w.keys.revoke(w.key_id)


def replace_book(w):
    versions = w.books.versions()
    expected = versions[0].version if versions else None
    w.books.replace(w.book, expected=expected, note="wages")


def replace_stale_book(w):
    w.books.replace(w.book, expected=7)


def refuse_book(w):
    w.books.replace({"title": "Half a book"}, expected=None)


def add_coin(w):
    w.coins.add(coin())


def change_coin(w):
    known = w.coins.get("own")
    w.coins.replace("own", coin(mass="19.5"), expected=known.revision)


def change_published(w):
    known = w.coins.get("at_50s_1959_1973")
    w.coins.replace("at_50s_1959_1973", coin(), expected=known.revision)


def remove_coin(w):
    w.coins.remove("own", expected=w.coins.get("own").revision)


def remove_stale_coin(w):
    w.coins.remove("own", expected=10_000)


def remove_published(w):
    w.coins.remove("at_10s_1957_1973", expected=0)


def enter_price(w):
    w.spots.enter("XAG", Decimal("27.50"), "EUR", note="the board")


def enter_bad_price(w):
    w.spots.enter("XAG", Decimal(0), "EUR")


def set_feed_up(w):
    document = ASSAY | {"secret_headers": ["X-Key"]}
    w.feeds.put("assay", document, expected=None)


def change_feed(w):
    changed = ASSAY | {"title": "Moved", "secret_headers": ["X-Key"]}
    w.feeds.put("assay", changed, expected=w.feeds.get("assay").revision)


def change_stale_feed(w):
    w.feeds.put("assay", ASSAY, expected=10_000)


def set_secret(w):
    w.feeds.set_secrets("assay", {"X-Key": HUSH})


def set_unknown_secret(w):
    w.feeds.set_secrets("assay", {"X-Other": HUSH})


def remove_feed(w):
    w.feeds.remove("assay", expected=w.feeds.get("assay").revision)


def fetch(w):
    w.clock.advance(minutes=1)
    last = w.spots.history(limit=1, status="accepted")
    w.source.say(reading(str(last[0].price if last else 27), w.clock.now()))
    w.spots.fetch("assay")


def fetch_a_jump(w):
    w.clock.advance(minutes=1)
    w.source.say(reading("50", w.clock.now()))
    w.spots.fetch("assay")


def held(w):
    waiting = w.spots.history(limit=1, status="held")
    return waiting[0].id if waiting else 10_000


def accept(w):
    w.spots.accept(held(w))


def reject(w):
    w.spots.reject(held(w))


STORY = (
    (replace_book, "price_book.replaced", "1"),
    (replace_book, "price_book.replaced", "2"),
    (make_key, "key.created", None),
    (revoke_key, "key.revoked", None),
    (add_coin, "coin.added", "own"),
    (change_coin, "coin.changed", "own"),
    (change_published, "coin.changed", "at_50s_1959_1973"),
    (remove_coin, "coin.removed", "own"),
    (set_feed_up, "feed.added", "assay"),
    (set_secret, "feed.secret_set", "assay"),
    (change_feed, "feed.changed", "assay"),
    (enter_price, "spot.entered", "1"),
    (fetch, "spot.fetched", "2"),
    (fetch_a_jump, "spot.fetched", "3"),
    (accept, "spot.accepted", "3"),
    (fetch_a_jump, "spot.fetched", "4"),
    (enter_price, "spot.entered", "5"),
    (remove_feed, "feed.removed", "assay"),
)
FETCHES = (fetch, fetch_a_jump)
DEEDS = (
    make_key, revoke_key, replace_book, replace_stale_book, refuse_book, add_coin,
    change_coin, change_published, remove_coin, remove_stale_coin, remove_published,
    enter_price, enter_bad_price, set_feed_up, change_feed, change_stale_feed,
    set_secret, set_unknown_secret, remove_feed, *FETCHES, accept, reject,
)  # fmt: skip


def test_each_change_is_one_line_that_says_who_did_what_and_when(workshop):
    for done, (deed, action, subject) in enumerate(STORY):
        with acting(WHO):
            deed(workshop)
        workshop_trail = workshop.trail()
        assert len(workshop_trail) == done + 1, action
        line = workshop_trail[0]
        wanted = workshop.key_id if subject is None else subject
        assert (line.action, line.subject) == (action, wanted)
        assert (line.by, line.via, line.request) == (WHO.by, WHO.via, WHO.request)
        assert line.at == workshop.clock.now()
        assert line.before or line.after
    ids = [line.id for line in workshop.trail()]
    assert ids == sorted(set(ids), reverse=True)


@settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(deeds=st.lists(st.sampled_from(DEEDS), max_size=12))
def test_whatever_is_done_a_line_stands_for_each_kept_change_and_no_other(bench, deeds):
    for deed in deeds:
        lines, rows = len(bench.trail()), bench.rows()
        try:
            deed(bench)
        except (ServiceError, PricingError):
            assert len(bench.trail()) == lines
            assert bench.rows() == rows
            continue
        if deed in FETCHES:  # a line for each entry that was recorded
            recorded = len(bench.rows()["spot_prices"]) - len(rows["spot_prices"])
            assert len(bench.trail()) == lines + recorded
        else:
            assert len(bench.trail()) == lines + 1


def test_a_line_goes_with_its_change_when_the_transaction_is_given_up(workshop):
    def work(_):
        make_key(workshop)
        enter_price(workshop)
        raise LookupError("something else went wrong")

    with pytest.raises(LookupError):
        workshop.snapshots.transaction(work)
    assert workshop.trail() == ()
    assert workshop.keys.list() == ()


def test_changes_that_are_kept_together_have_a_line_each(workshop):
    workshop.snapshots.transaction(
        lambda _: (make_key(workshop), enter_price(workshop))
    )
    actions = [line.action for line in workshop.trail()]
    assert actions == ["spot.entered", "key.created"]


def test_many_who_change_at_once_leave_a_line_for_each_change(workshop):
    def work(number):
        with acting(Actor(by=f"maker {number}", via="command line")):
            return workshop.keys.create("shop", f"Till {number}")[0]

    with ThreadPoolExecutor(6) as pool:
        made = list(pool.map(work, range(12)))
    told = {(line.subject, line.after["label"], line.by) for line in workshop.trail()}
    assert len(workshop.trail()) == 12
    assert told == {
        (key.id, key.label, key.label.replace("Till", "maker")) for key in made
    }


# What a line tells


def test_a_changed_coin_tells_the_figures_that_changed(bench):
    add_coin(bench)
    assert bench.newest().before is None
    assert bench.newest().after["gross_mass_g"] == "20"
    change_coin(bench)
    line = bench.newest()
    assert (line.before, line.after) == (
        {"gross_mass_g": "20"},
        {"gross_mass_g": "19.5"},
    )
    remove_coin(bench)
    assert bench.newest().before["gross_mass_g"] == "19.5"
    assert bench.newest().after is None


def test_figures_in_place_of_published_ones_tell_both(bench):
    published = bench.coins.get("at_50s_1959_1973").coin
    bench.coins.replace(
        "at_50s_1959_1973", replace(published, wear=Decimal("0.02")), expected=0
    )
    line = bench.newest()
    assert line.after == {"wear": "0.02"}
    assert set(line.before or {}) <= {"wear"}


def test_a_key_tells_its_scope_and_label_and_nothing_of_its_secret(bench):
    record, token = bench.keys.create("bench", "Desk")
    bench.keys.revoke(record.id)
    revoked, created = bench.trail()
    told = {"scope": "bench", "label": "Desk"}
    assert (created.before, created.after) == (None, told)
    assert (revoked.before, revoked.after) == (told, None)
    secret = token.rpartition(f"{record.id}_")[2]
    [key] = bench.snapshots.take().keys.values()
    for hidden in (secret, key.digest.hex()):
        assert hidden not in repr(bench.trail())


def test_a_new_version_of_the_book_tells_its_number_and_why(bench):
    replace_book(bench)
    first = bench.newest()
    assert first.before is None
    assert first.after == {"version": 1, "title": "A bench", "note": "wages"}
    replace_book(bench)
    assert bench.newest().before == {"version": 1}


def test_a_decided_price_tells_what_it_was_and_is(bench):
    set_feed_up(bench)
    set_secret(bench)
    enter_price(bench)
    assert bench.newest().after == {
        "metal": "XAG",
        "price": "27.50",
        "currency": "EUR",
        "as_of": "2026-12-01T12:00:00Z",
        "source": "manual",
        "status": "accepted",
        "note": "the board",
    }
    fetch_a_jump(bench)
    assert bench.newest().after["status"] == "held"
    reject(bench)
    line = bench.newest()
    assert line.action == "spot.rejected"
    assert line.before == {"status": "held"}
    assert (line.after["status"], line.after["source"]) == ("rejected", "assay")


def test_no_secret_of_a_feed_is_ever_told(bench):
    document = ASSAY | {
        "url": f"https://feeds.example/silver?key={HUSH}",
        "headers": {"Accept-Language": "en", "X-Client": HUSH},
        "secret_headers": ["X-Key", "X-Name"],
    }
    bench.feeds.put("assay", document, expected=None)
    bench.feeds.set_secrets("assay", {"X-Key": HUSH, "X-Name": HUSH})
    assert bench.newest().before == {"secrets_set": []}
    assert bench.newest().after == {"secrets_set": ["X-Key", "X-Name"]}
    fewer = document | {"secret_headers": ["X-Key"]}
    revision = bench.feeds.get("assay").revision
    bench.feeds.put("assay", fewer, expected=revision)
    line = bench.newest()
    assert line.before["secrets_set"] == ["X-Key", "X-Name"]
    assert line.after["secrets_set"] == ["X-Key"]
    bench.feeds.remove("assay", expected=bench.feeds.get("assay").revision)
    removed = bench.newest().before
    assert removed["url"] == "https://feeds.example/silver?…"
    assert removed["headers"] == ["Accept-Language", "X-Client"]
    assert [each.action for each in bench.trail()] == [
        "feed.removed",
        "feed.changed",
        "feed.secret_set",
        "feed.added",
    ]
    assert HUSH not in repr(bench.trail())


def test_a_change_of_hidden_values_alone_still_tells_the_revisions(bench):
    bench.feeds.put("assay", ASSAY | {"headers": {"X-Client": "a"}}, expected=None)
    bench.feeds.put("assay", ASSAY | {"headers": {"X-Client": "b"}}, expected=1)
    line = bench.newest()
    assert (line.before, line.after) == ({"revision": 1}, {"revision": 2})


def test_a_document_is_written_down_as_json_can_hold_it():
    written = []
    unit = SimpleNamespace(audit=SimpleNamespace(add=written.append))
    moment = datetime(2026, 12, 1, 13, tzinfo=EAST)
    parts = ({"tax": Decimal("1E+1")}, None, True, 3)
    document = {"total": Decimal("100.00"), "at": moment, "parts": parts}
    note(unit, NOON, "quote.accepted", "abc", after=document)
    [line] = written
    assert line == AuditEntry(
        at=NOON,
        by="",
        via="program",
        action="quote.accepted",
        subject="abc",
        after={
            "total": "100.00",
            "at": "2026-12-01T12:00:00Z",
            "parts": [{"tax": "10"}, None, True, 3],
        },
    )
    assert json.loads(json.dumps(line.after)) == line.after


@given(
    st.dictionaries(st.sampled_from("abcd"), st.integers(0, 2)),
    st.dictionaries(st.sampled_from("abcd"), st.integers(0, 2)),
)
def test_a_difference_leads_from_one_document_to_the_other(old, new):
    before, after = difference(old, new)
    kept = {name: value for name, value in old.items() if name not in before}
    assert kept | after == new
    assert {name: old[name] for name in before} == before
    assert all(old.get(name) != value for name, value in after.items())


# Reading


@pytest.fixture
def lines(any_storage, clock):
    """A trail of 23 lines, an hour apart, of two makers."""
    audit = Audit(Fetchery(any_storage, clock).snapshots)

    def work(unit):
        for number in range(23):
            who = Actor(by=f"maker {number % 2}", via="command line")
            kind = "coin" if number % 3 else "coinage"
            with acting(who):
                at = NOON + timedelta(hours=number)
                note(unit, at, f"{kind}.changed", f"subject {number % 4}")

    any_storage.write(work)
    return audit


def walked(audit, wanted, limit, *, newer=False):
    """Every line, page by page, in one direction."""
    page = audit.page(wanted, limit=limit, newer=newer)
    pages = [page]
    while page.newer if newer else page.older:
        past = page.entries[0 if newer else -1].id
        page = audit.page(wanted, limit=limit, past=past, newer=newer)
        pages.append(page)
        assert page.older if newer else page.newer
        assert page.entries
    return pages


@pytest.mark.parametrize("limit", [1, 5, 22, 23, 24])
def test_following_the_pages_shows_every_line_once_either_way(lines, limit):
    everything = lines.page(ALL, limit=1000).entries
    assert len(everything) == 23
    down = walked(lines, ALL, limit)
    assert [line for page in down for line in page.entries] == list(everything)
    up = walked(lines, ALL, limit, newer=True)
    assert [e for page in reversed(up) for e in page.entries] == list(everything)
    assert all(len(page.entries) <= limit for page in down + up)
    assert not down[0].newer
    assert not up[0].older


def test_lines_are_chosen_by_kind_action_subject_actor_and_time(lines):
    def count(**wanted):
        return len(lines.page(AuditFilter(**wanted), limit=1000).entries)

    assert count(action="coin") == count(action="coin.changed") == 15
    assert count(action="coinage") == 8
    assert count(action="coin.added") == count(action="COIN") == 0
    assert count(subject="subject 3") == 5
    assert count(by="maker 1") == 11
    assert count(by="maker 1", subject="subject 2") == 0
    assert count(since=NOON + timedelta(hours=20)) == 3
    assert count(since=(NOON + timedelta(hours=22)).astimezone(EAST)) == 1


def test_a_page_of_a_chosen_part_ends_where_that_ends(lines):
    wanted = AuditFilter(by="maker 1")
    pages = walked(lines, wanted, 4)
    assert [len(page.entries) for page in pages] == [4, 4, 3]
    assert {line.by for page in pages for line in page.entries} == {"maker 1"}


def test_an_empty_trail_is_one_empty_page(bench):
    for newer in (False, True):
        page = bench.audit.page(ALL, limit=10, newer=newer)
        assert (page.entries, page.older, page.newer) == ((), False, False)


@pytest.mark.parametrize("limit", [-1, 0, 1001])
def test_a_page_has_a_size_that_can_be(bench, limit):
    with pytest.raises(InvalidInput, match="1 to 1000") as refused:
        bench.audit.page(ALL, limit=limit)
    assert refused.value.path == ("limit",)
