from __future__ import annotations

import json
from collections import Counter
from datetime import timedelta

import pytest

from api.ports.hooks import Sent
from api.services.counting_ahead import GOOD_FOR_S
from api.services.hooks.delivery import KEPT, LEASE, Delivered, _spread
from api.services.hooks.retries import WAITS_S
from tests.services.hooking import BROKEN, OK, URL

GONE, BUSY = Sent(status=410), Sent(status=429, retry_after_s=900)


def hook(office):
    return office.hooks.list()[0]


def last_of_all(office):
    """Every wait that may be is over."""
    office.clock.advance(days=2)


def test_with_nothing_to_tell_nothing_is_written(office):
    assert office.run() == Delivered()
    office.hook()
    assert office.run() == Delivered()
    assert office.storage.read(lambda unit: unit.hooks.expired_until()) is None


def test_what_is_delivered_is_counted_and_not_sent_again(office):
    office.hook()
    office.create()
    assert office.run() == Delivered(delivered=1)
    assert office.run() == Delivered()
    assert len(office.sender.sent) == 1


def test_a_try_that_failed_is_made_again_under_the_same_id_with_the_same_bytes(office):
    office.hook()
    office.create()
    office.sender.answers.extend([BROKEN, Sent(reason="timeout"), OK])
    assert office.run() == Delivered(put_off=1)
    office.clock.advance(seconds=4)
    assert office.run() == Delivered()
    office.clock.advance(seconds=1)
    assert office.run() == Delivered(put_off=1)
    office.clock.advance(minutes=5)
    assert office.run() == Delivered(delivered=1)
    tries = office.sender.sent
    assert len({(message.id, message.body) for _, message, _ in tries}) == 1
    assert len({at for *_, at in tries}) == 3


def test_the_tries_are_made_at_the_times_of_the_schedule(office):
    office.hook()
    office.create()
    office.sender.answers.extend([BROKEN] * 20)
    begun = office.clock.now()
    for _ in range(400):
        office.run()
        office.clock.advance(minutes=15)
    times = [(at - begun).total_seconds() for *_, at in office.sender.sent]
    assert len(times) == len(WAITS_S)
    for before, after, wait in zip(times, times[1:], WAITS_S[1:], strict=False):
        assert wait <= after - before < wait + 901


def test_after_the_last_try_the_hook_is_switched_off_and_all_is_reported(office):
    office.hook()
    office.create()
    office.sender.answers.extend([BROKEN] * len(WAITS_S))
    office.run()
    office.create(sku="behind")
    for _ in WAITS_S:
        last_of_all(office)
        office.run()
    off = hook(office)
    assert (off.enabled, off.why_disabled) == (False, "too_many_failures")
    first, behind = office.hooks.failures(off.id)
    assert (first.tries, first.answered, first.reason) == (10, 500, "http_status")
    assert (behind.tries, behind.reason) == (0, "disabled")
    [(_, subject, before, after)] = office.shop.entries("hook.disabled")
    assert subject == off.id
    assert before == {"enabled": True}
    assert after == {"enabled": False, "why": "too_many_failures", "given_up": 2}
    assert Counter(office.sender.ids)[behind.id] == 0


def test_what_happens_while_the_last_try_is_made_is_reported_too(office):
    made = office.hook()
    office.create()
    office.sender.answers.extend([GONE, GONE])

    def happen():
        office.sender.ahead = lambda: None
        office.create(sku="meanwhile")

    office.sender.ahead = happen
    assert office.run() == Delivered(put_off=1)
    assert hook(office).enabled
    office.clock.advance(seconds=1)
    assert office.run() == Delivered(given_up=1)
    failed = [json.loads(each.body) for each in office.hooks.failures(made.id)]
    told = [each["data"]["listings"][0]["sku"] for each in failed]
    assert told == ["ring-1", "meanwhile"]
    assert hook(office).why_disabled == "gone"


def test_what_failed_is_replayed_in_order_under_its_ids(office):
    office.hook()
    office.sender.answers.append(GONE)
    office.create()
    office.create(sku="ring-2")
    office.run()
    off = hook(office)
    assert off.why_disabled == "gone"
    failed = [message.id for message in office.hooks.failures(off.id)]
    office.hooks.change(off.id, url=URL, events=off.events, enabled=True)
    assert hook(office).why_disabled == ""
    assert office.hooks.replay(off.id) == 2
    assert office.run() == Delivered(delivered=2)
    assert office.sender.ids == [failed[0], *failed]


def test_later_messages_wait_for_the_one_before_and_other_hooks_do_not(office):
    office.hook(f"{URL}/slow")
    office.hook(f"{URL}/quick")
    office.sender.answers.append(BROKEN)
    for sku in ("a", "b"):
        office.create(sku=sku)
        office.run()
    assert [url for url, *_ in office.sender.sent] == [
        f"{URL}/slow",
        f"{URL}/quick",
        f"{URL}/quick",
    ]
    office.clock.advance(seconds=5)
    office.run()
    versions = [
        document["data"]["version"]
        for (url, *_), document in zip(
            office.sender.sent, office.sender.documents, strict=True
        )
        if url.endswith("slow")
    ]
    assert versions == sorted(versions)
    assert len(versions) == 3


def test_the_pause_that_an_endpoint_asks_for_is_kept(office):
    office.hook()
    office.create()
    office.sender.answers.append(BUSY)
    office.run()
    office.clock.advance(seconds=899)
    assert office.run() == Delivered()
    office.clock.advance(seconds=1)
    assert office.run() == Delivered(delivered=1)


def test_two_deliver_in_turn_and_each_message_once(office):
    office.hook()
    other = office.another()
    office.create()
    office.sender.ahead = lambda: seen.append(other.run())
    seen = []
    assert office.run() == Delivered(delivered=1)
    assert seen == [Delivered(elsewhere=True)]
    office.sender.ahead = lambda: None
    office.create(sku="ring-2")
    assert other.run().elsewhere
    office.delivery.release()
    assert other.run() == Delivered(delivered=1)
    assert len({*office.sender.ids}) == len(office.sender.ids) == 2


def test_who_says_nothing_for_long_is_replaced(office):
    office.hook()
    other = office.another()
    office.create()
    office.sender.answers.append(BROKEN)
    office.run()
    office.clock.advance(seconds=30)
    assert other.run().elsewhere
    office.clock.time += LEASE - timedelta(seconds=30)
    assert other.run() == Delivered(delivered=1)


def test_who_was_replaced_while_it_sent_stops(office):
    office.hook()
    office.create()
    office.create(sku="ring-2")
    other = office.another()

    def sleep():
        office.sender.ahead = lambda: None
        office.clock.advance(minutes=2)
        assert other.run().delivered == 2

    office.sender.ahead = sleep
    assert office.run().delivered == 1
    first, second, again = office.sender.ids
    assert again == first != second


def test_who_was_replaced_while_it_wrote_messages_stops(office):
    office.hook()
    office.create()
    other = office.another()
    hour = timedelta(hours=1)

    def look():
        if not office.sender.sent:
            office.clock.time += hour
            assert other.run().delivered == 1
        return False

    assert office.delivery.run(look) == Delivered()
    assert len(office.sender.sent) == 1


def test_a_hook_that_is_removed_while_it_is_told_is_no_trouble(office):
    made = office.hook()
    office.create()
    office.sender.ahead = lambda: office.hooks.remove(made.id)
    assert office.run() == Delivered()


@pytest.mark.parametrize("sent", [OK, BROKEN])
def test_a_hook_that_is_switched_off_while_it_is_told_keeps_what_came_of_it(
    office, sent
):
    made = office.hook()
    office.create()
    office.sender.answers.append(sent)
    off = {"url": URL, "events": made.events, "enabled": False}
    office.sender.ahead = lambda: office.hooks.change(made.id, **off)
    done = office.run()
    assert (done.delivered, done.given_up) == ((1, 0) if sent is OK else (0, 1))
    assert len(office.hooks.failures(made.id)) == done.given_up
    assert hook(office).why_disabled == ""


@pytest.mark.parametrize("after", [0, 1, 2, 3])
def test_it_stops_when_it_is_told_to_and_nothing_is_lost(office, after):
    office.hook()
    for sku in ("a", "b", "c"):
        office.create(sku=sku)
    office.delivery.run(lambda: len(office.sender.sent) >= after)
    assert len(office.sender.sent) == after
    office.run()
    assert len({*office.sender.ids}) == len(office.sender.ids) == 3


def test_what_is_long_over_is_forgotten(office):
    office.hook()
    office.create()
    office.run()
    [done] = office.sender.ids
    found = lambda: office.storage.read(lambda u: u.hooks.get_message(done))  # noqa: E731
    assert found().status == "delivered"
    office.clock.time += KEPT + timedelta(seconds=1)
    office.create(sku="ring-2")
    office.run()
    assert found() is None


def test_waits_are_stretched_and_never_shortened():
    assert all(1 <= _spread() <= 1.1 for _ in range(100))


def test_nobody_is_told_before_every_server_answers_by_what_changed(
    office, monkeypatch
):
    office.hook()
    office.create()
    waited = []
    pause = "api.services.hooks.delivery.time.sleep"
    monkeypatch.setattr(pause, waited.append)
    office.sender.ahead = lambda: waited.append("sent")
    office.run()
    assert waited == [GOOD_FOR_S, "sent"]
    office.run()
    assert len(waited) == 2
