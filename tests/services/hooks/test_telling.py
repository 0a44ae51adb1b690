from __future__ import annotations

from decimal import Decimal
from unittest.mock import patch

import pytest

from api.ports.hooks import Happening
from tests.services.hooking import URL
from tests.services.promising import ask


def types(told):
    return [each["type"] for each in told]


def ids(told):
    return [each["data"]["id"] for each in told]


def test_each_hook_is_told_what_it_wants_under_ids_of_its_own(office):
    office.hook(f"{URL}/all")
    office.hook(f"{URL}/prices", ["listing.prices_changed"])
    office.hook(f"{URL}/quotes", ["quote.accepted"])
    office.create()
    office.run()
    assert sorted(url for url, *_ in office.sender.sent) == [
        f"{URL}/all",
        f"{URL}/prices",
    ]
    assert len({*office.sender.ids}) == 2
    assert all("." not in each for each in office.sender.ids)


def test_a_quote_whose_time_is_over_is_told_once(office):
    office.hook()
    quote = office.shop.create(ask())
    assert office.told() == []
    office.clock.time = quote.valid_until
    [told] = office.told()
    assert told["type"] == "quote.expired"
    assert told["data"] == {
        "id": quote.id,
        "number": quote.number,
        "total": f"{quote.total:.2f}",
        "currency": "EUR",
    }
    office.clock.advance(days=100)
    assert office.told() == []


def test_what_ended_otherwise_has_not_expired(office):
    office.hook(events=["quote.expired"])
    made = [office.shop.create(ask(size=size)) for size in ("7", "8", "9")]
    office.shop.quotes.accept(made[0].id, expected=1)
    office.shop.quotes.decline(made[1].id, expected=1)
    office.clock.advance(days=40)
    assert ids(office.told()) == [made[2].id]


def test_what_expired_before_somebody_wanted_to_know_is_not_told(office):
    early = office.shop.create(ask())
    office.clock.time = early.valid_until
    office.clock.advance(seconds=1)
    office.hook()
    office.shop.silver("27.50")
    late = office.shop.create(ask())
    office.clock.time = late.valid_until
    assert ids(office.told()) == [late.id]


def test_who_does_not_want_to_know_what_expires_is_not_told(office):
    office.hook(events=["quote.accepted"])
    office.shop.create(ask())
    office.clock.advance(days=40)
    assert office.told() == []


def test_a_long_run_is_told_piece_by_piece(office):
    office.hook()
    names = [f"ring-{n:02}" for n in range(25)]
    band = ("5", "9.5", "100")
    listings = [office.shop.listing(name, band, published=True) for name in names]
    office.shop.list(*listings)
    run = office.shop.repricings.preview(Decimal(30))
    named = office.moving(run)
    office.shop.applied(run, named)
    with patch("api.services.hooks.telling.AT_ONCE", 10):
        told = office.told()
    parts = [[one["sku"] for one in each["data"]["listings"]] for each in told]
    assert parts == [names[:10], names[10:20], names[20:]]
    assert office.happenings() is None


@pytest.mark.parametrize("way", ["switched off", "removed"])
def test_what_nobody_wants_to_know_any_more_is_forgotten(office, way):
    hook = office.hook()
    office.create()
    if way == "removed":
        office.hooks.remove(hook.id)
    else:
        office.hooks.change(hook.id, url=URL, events=hook.events, enabled=False)
    office.hook(f"{URL}/2", ["quote.accepted"])
    assert office.told() == []
    assert office.happenings() is None


def test_a_run_that_nobody_wants_to_know_any_more_is_forgotten(office):
    hook = office.hook()
    office.shop.list(office.shop.listing("a", ("5", "9.5", "100"), published=True))
    run = office.shop.repricings.preview()
    office.shop.applied(run)
    office.hooks.change(hook.id, url=URL, events=["quote.accepted"], enabled=True)
    assert office.told() == []
    assert office.happenings() is None


def test_what_is_told_first_happened_first(office):
    office.hook()
    quote = office.shop.create(ask())
    office.create()
    office.shop.quotes.accept(quote.id, expected=1)
    assert types(office.told()) == ["listing.prices_changed", "quote.accepted"]


def test_a_quote_that_is_not_there_is_not_told(office):
    office.hook()
    now = office.clock.now()
    lost = Happening(event="quote.accepted", at=now, quote="lost")
    office.storage.write(lambda unit: unit.hooks.note(lost))
    assert office.told() == []
    assert office.happenings() is None
