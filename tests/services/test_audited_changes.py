"""One line of the audit trail for each change that was kept, and no other."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.ports import ServiceError
from api.services.actor import Actor, acting
from pricing.errors import PricingError
from tests.services.deeds import (
    DEEDS,
    FETCHES,
    HUSH,
    LINES,
    STORY,
    Workshop,
    add_coin,
    change_coin,
    decline_quote,
    enter_price,
    fetch_a_jump,
    make_key,
    promise,
    reject,
    remove_coin,
    renew_quote,
    replace_book,
    set_feed_up,
    set_secret,
)
from tests.services.feeding import ASSAY
from tests.thoroughness import thorough

WHO = Actor(
    by="4bf92f3577b34da6", via="api", request="0af7651916cd43dd8448eb211c80319c"
)


@pytest.fixture
def workshop(any_storage, clock, book_document):
    return Workshop(any_storage, clock, book_document)


@pytest.fixture
def bench(storage, clock, book_document):
    return Workshop(storage, clock, book_document)


def test_each_change_is_one_line_that_says_who_did_what_and_when(workshop):
    for done, (deed, action, subject) in enumerate(STORY):
        with acting(WHO):
            deed(workshop)
        trail = workshop.trail()
        assert len(trail) == done + 1, action
        line = trail[0]
        wanted = workshop.made if subject is None else subject
        assert (line.action, line.subject) == (action, wanted)
        assert (line.by, line.via, line.request) == (WHO.by, WHO.via, WHO.request)
        assert line.at == workshop.clock.now()
        assert line.before or line.after
    ids = [line.id for line in workshop.trail()]
    assert ids == sorted(set(ids), reverse=True)


@settings(
    max_examples=thorough(25, 60),
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
            assert len(bench.trail()) == lines + LINES.get(deed, 1)


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


def test_a_renewed_quote_tells_of_both(bench):
    for deed in (replace_book, enter_price, promise, decline_quote):
        deed(bench)
    old = bench.made
    renew_quote(bench)
    created, renewed, declined, *_ = bench.trail()
    assert (created.action, created.after["renews"]) == ("quote.created", old)
    assert (renewed.action, renewed.subject) == ("quote.renewed", old)
    assert renewed.after["renewed_by"] == created.subject
    assert (declined.after["status"], declined.after["reason"]) == (
        "declined",
        "too dear",
    )
    assert renewed.after["number"] == declined.after["number"] == "2026-0001"


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
