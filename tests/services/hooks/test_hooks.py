from __future__ import annotations

import base64
from datetime import timedelta

import pytest

from api.ports import Conflict, NotFound, PreconditionFailed
from api.ports.hooks import Sent, Waiting
from api.services.hooks.hooks import MOST_HOOKS
from pricing.errors import InvalidInput
from tests.services.hooking import BROKEN, OK, URL

PRICES, ACCEPTED = "listing.prices_changed", "quote.accepted"


def kept(office):
    return office.hooks.list()


def test_a_new_hook_has_a_secret_of_256_random_bits(office):
    one, other = office.hook(), office.hook()
    for hook in (one, other):
        assert len(base64.b64decode(hook.secrets[0].removeprefix("whsec_"))) == 32
    assert one.secrets != other.secrets
    assert kept(office) == (one, other)
    assert "whsec_" not in repr(one)


def test_a_hook_names_its_events_in_one_order_and_each_once(office):
    assert office.hook(events=[ACCEPTED, PRICES, ACCEPTED]).events == (PRICES, ACCEPTED)


@pytest.mark.parametrize("events", [[], ["quote.made"], [PRICES, ""]])
def test_unknown_events_are_refused(office, events):
    with pytest.raises(InvalidInput) as caught:
        office.hook(events=events)
    assert caught.value.path == ("events",)


def test_a_url_that_cannot_be_an_endpoint_is_refused(office):
    hook = office.hook()
    with pytest.raises(InvalidInput, match="FINEWEIGHT_HOOK_HTTP") as caught:
        office.hook("http://shop.example/")
    assert caught.value.path == ("url",)
    with pytest.raises(InvalidInput):
        office.hooks.change(hook.id, url="http://x", events=[PRICES], enabled=True)
    assert kept(office) == (hook,)


def test_there_is_an_end_to_hooks(office):
    for _ in range(MOST_HOOKS):
        office.hook()
    with pytest.raises(Conflict, match="remove one"):
        office.hook()


def test_a_hook_can_be_changed_as_it_was_seen(office):
    hook = office.hook()
    change = {"url": f"{URL}/2", "events": [ACCEPTED], "enabled": True}
    changed = office.hooks.change(hook.id, **change, expected=1)
    assert (changed.url, changed.events, changed.version) == (
        URL + "/2",
        (ACCEPTED,),
        2,
    )
    with pytest.raises(PreconditionFailed):
        office.hooks.change(hook.id, **change, expected=1)
    same = office.hooks.change(hook.id, **change)
    assert same == changed


@pytest.mark.parametrize("events", [[PRICES], [PRICES, ACCEPTED, "quote.expired"]])
def test_what_is_not_told_yet_is_told_after_other_events_were_chosen(office, events):
    hook = office.hook(events=[PRICES, ACCEPTED])
    office.create()
    office.clock.advance(seconds=1)
    office.hooks.change(hook.id, url=URL, events=events, enabled=True)
    [told] = office.told()
    assert told["type"] == PRICES


def test_a_hook_that_is_removed_is_gone_with_its_messages(office):
    hook = office.hook()
    office.sender.answers.append(BROKEN)
    office.create()
    office.run()
    with pytest.raises(PreconditionFailed):
        office.hooks.remove(hook.id, expected=7)
    office.hooks.remove(hook.id, expected=1)
    assert kept(office) == ()
    for call in (office.hooks.get, office.hooks.remove, office.hooks.failures):
        with pytest.raises(NotFound):
            call(hook.id)


def test_a_secret_is_changed_in_two_steps(office):
    hook = office.hook()
    begun = office.hooks.rotate(hook.id)
    assert begun.secrets[1:] == hook.secrets
    again = office.hooks.rotate(hook.id)
    assert again.secrets[1:] == begun.secrets[:1]
    done = office.hooks.rotate(hook.id, finish=True)
    assert done.secrets == again.secrets[:1]
    with pytest.raises(Conflict):
        office.hooks.rotate(hook.id, finish=True)


def test_the_trail_tells_of_hooks_and_of_no_secret(office):
    hook = office.hook()
    office.hooks.rotate(hook.id)
    office.hooks.change(hook.id, url=URL, events=[PRICES], enabled=False)
    office.hooks.remove(hook.id)
    told = office.shop.entries("hook")
    assert [action for action, *_ in told] == [
        "hook.added",
        "hook.rotated",
        "hook.changed",
        "hook.removed",
    ]
    assert {subject for _, subject, *_ in told} == {hook.id}
    assert "whsec_" not in repr(told)


def test_what_waits_when_a_hook_is_switched_off_can_be_sent_again_later(office):
    hook = office.hook()
    office.sender.answers.append(BROKEN)
    office.create()
    office.run()
    usual = {"url": URL, "events": hook.events}
    office.hooks.change(hook.id, **usual, enabled=False)
    [failure] = office.hooks.failures(hook.id)
    assert (failure.reason, failure.tries) == ("disabled", 1)
    with pytest.raises(Conflict, match="switch it on"):
        office.hooks.replay(hook.id)
    office.create(sku="unseen")  # nobody is told
    office.hooks.change(hook.id, **usual, enabled=True)
    assert office.hooks.replay(hook.id, ["msg_none"]) == 0
    assert office.hooks.replay(hook.id, [failure.id]) == 1
    office.run()
    assert office.sender.ids == [failure.id, failure.id]
    assert office.hooks.failures(hook.id) == ()
    assert office.shop.entries("hook.replayed")[0][3] == {"messages": 1}


def test_what_waits_is_counted_and_its_oldest_tells_of_its_last_try(office):
    hook, other = office.hook(), office.hook(f"{URL}/2", [ACCEPTED])
    assert office.hooks.waiting() == {}
    office.sender.answers.extend([BROKEN, Sent(reason="timeout")])
    office.create()
    office.run()
    office.create(sku="ring-2")
    office.run()
    oldest = Waiting(
        messages=2,
        tries=1,
        answered=500,
        reason="http_status",
        next_try_at=office.clock.now() + timedelta(seconds=5),
    )
    assert office.hooks.waiting() == {hook.id: oldest}
    office.clock.advance(seconds=5)
    office.run()
    waiting = office.hooks.waiting()[hook.id]
    assert (waiting.tries, waiting.answered, waiting.reason) == (2, None, "timeout")
    assert waiting.next_try_at == office.clock.now() + timedelta(minutes=5)
    assert other.id not in office.hooks.waiting()


def test_nothing_waits_after_delivery(office):
    hook = office.hook()
    office.sender.answers.extend([BROKEN, OK])
    office.create()
    office.run()
    assert hook.id in office.hooks.waiting()
    office.clock.advance(seconds=5)
    office.run()
    assert office.hooks.waiting() == {}


def test_nothing_waits_after_it_was_given_up_and_replayed_it_waits_anew(office):
    hook = office.hook()
    office.sender.answers.append(Sent(status=410))
    office.create()
    office.create(sku="ring-2")
    office.run()
    assert office.hooks.waiting() == {}
    office.hooks.change(hook.id, url=URL, events=hook.events, enabled=True)
    office.hooks.replay(hook.id)
    anew = Waiting(messages=2, next_try_at=office.clock.now())
    assert office.hooks.waiting() == {hook.id: anew}
