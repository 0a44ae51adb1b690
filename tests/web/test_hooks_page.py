"""The pages of hooks: made, changed, switched, their secrets, and what failed."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from api.ports.hooks import HookMessage
from tests.services.hooking import URL, Sender

HOOKS = "/bench/keys/hooks"
SECRET = re.compile(r"whsec_[A-Za-z0-9+/=]{44}")
EVENTS = ["listing.prices_changed", "quote.expired"]


@pytest.fixture
def bench(desk_on, filled_copy):
    return desk_on(filled_copy, outside={"sender": Sender()})


@pytest.fixture
def made(bench):
    """A hook."""
    return bench.services.hooks.add(URL, EVENTS)


def press(desk, hook, deed, **more):
    version = desk.services.hooks.get(hook.id).version
    typed = {"_do": deed, "_version": str(version)} | more
    return desk.post(f"{HOOKS}/{hook.id}", typed)


def fail(desk, hook, count=3):
    """Messages that were given up."""
    now = desk.services.clock.now()
    messages = [
        HookMessage(
            id=f"msg_{number:032x}", hook=hook.id, event="quote.expired", body="{}",
            created_at=now, status="failed", tries=10, due=now,
            answered=503 if number == 1 else None,
            reason="" if number == 1 else "timeout",
        )
        for number in range(count)
    ]  # fmt: skip
    desk.services.snapshots.write(lambda unit: unit.hooks.add_messages(messages))
    return [message.id for message in messages]


def wait(desk, hook, count=3, **of_the_oldest):
    """Messages that wait; when the oldest is tried next."""
    due = desk.services.clock.now() + timedelta(hours=2)
    oldest = {"tries": 2, "answered": 500, "reason": "http_status", "due": due}
    messages = [
        HookMessage(
            id=f"msg_{number:032x}", hook=hook.id, event="quote.expired",
            body='{"said":"in confidence"}', created_at=due - timedelta(days=1),
            **({"due": due} if number else oldest | of_the_oldest),
        )
        for number in range(count)
    ]  # fmt: skip
    desk.services.snapshots.write(lambda unit: unit.hooks.add_messages(messages))
    return due.astimezone(ZoneInfo("Europe/Vienna"))


def words(desk, hook):
    """What the two pages of a hook say, each as one line without its marks."""
    pages = [desk.get(place).text for place in (HOOKS, f"{HOOKS}/{hook.id}")]
    return [" ".join(re.sub("<[^>]+>", "", page).split()) for page in pages]


def test_what_waits_is_told_in_a_sentence(bench, made):
    assert not any("wait" in page for page in words(bench, made))
    due = wait(bench, made)
    for page in words(bench, made):
        assert (
            "3 messages wait. The oldest was tried twice; the address answered 500. "
            f"It is tried again at {due.day} {due:%b %Y, %H:%M} (Europe/Vienna)."
        ) in page
        assert "confidence" not in page


@pytest.mark.parametrize(
    ("oldest", "told"),
    [
        (
            {"tries": 1},
            "One message waits. It was tried once; the address answered 500.",
        ),
        ({"tries": 7}, "It was tried 7 times; the address answered 500."),
        (
            {"answered": None, "reason": "timeout"},
            "It was tried twice; there was no answer in time.",
        ),
        (
            {"tries": 0, "answered": None, "reason": ""},
            "One message waits. It is still to be tried. It is tried at",
        ),
    ],
)
def test_one_that_waits_tells_its_tries_and_what_came_of_the_last(
    bench, made, oldest, told
):
    wait(bench, made, 1, **oldest)
    for page in words(bench, made):
        assert told in page
        assert "The oldest" not in page


def test_what_should_have_been_tried_by_now_is_due(bench, made):
    wait(bench, made, due=bench.services.clock.now())
    for page in words(bench, made):
        assert "It has been due since" in page
        assert "as soon as this server delivers" in page


def test_a_hook_is_made_and_its_secret_shown_once(bench):
    assert "Nobody is told anything" in bench.get(HOOKS).text
    answer = bench.post(HOOKS, {"url": URL, "events": EVENTS})
    [hook] = bench.services.hooks.list()
    assert SECRET.search(answer.text).group() == hook.secrets[0]
    assert hook.events == tuple(EVENTS)
    assert "it is kept here to sign with" in answer.text
    assert "only a trace" not in answer.text
    for place in (HOOKS, f"{HOOKS}/{hook.id}"):
        page = bench.get(place).text
        assert URL in page
        assert not SECRET.search(page)


@pytest.mark.parametrize(
    ("typed", "field", "told"),
    [
        ({"url": "", "events": EVENTS}, "url", "This is needed"),
        ({"url": "http://shop.example", "events": EVENTS}, "url", "anyone on the way"),
        ({"url": URL}, "events", "This is needed"),
        ({"url": URL, "events": ["dinner"]}, "events", "one of"),
    ],
)
def test_a_hook_that_cannot_be_is_told_why(bench, typed, field, told):
    answer = bench.post(HOOKS, typed)
    assert answer.status_code == 422
    assert f'href="#f-{field}"' in answer.text
    assert told in answer.text
    assert not bench.services.hooks.list()


def test_a_hook_is_changed(bench, made):
    answer = press(
        bench, made, "change", url=f"{URL}/new", events="quote.accepted", enabled="true"
    )
    assert answer.headers["Location"] == f"{HOOKS}/{made.id}?done=changed"
    hook = bench.services.hooks.get(made.id)
    assert (hook.url, hook.events) == (f"{URL}/new", ("quote.accepted",))


def test_a_hook_is_switched_off_and_on(bench, made):
    press(bench, made, "off")
    assert not bench.services.hooks.get(made.id).enabled
    assert "It is told nothing" in bench.get(f"{HOOKS}/{made.id}").text
    answer = press(bench, made, "on")
    assert answer.headers["Location"].endswith("?done=on")
    assert bench.services.hooks.get(made.id).enabled


@pytest.mark.parametrize(("place", "deed"), [("", "off"), ("/remove", "")])
def test_what_was_changed_meanwhile_is_left_alone(bench, made, place, deed):
    typed = {"_do": deed, "_version": "99"}
    answer = bench.post(f"{HOOKS}/{made.id}{place}", typed)
    assert answer.status_code == 412
    assert bench.services.hooks.get(made.id).enabled
    assert press(bench, made, "dance").status_code == 422


def test_pressing_again_does_not_overwrite_what_was_changed_meanwhile(bench, made):
    typed = {"url": made.url, "events": made.events[0]}
    stale = {"_do": "change", "_version": "99", "enabled": "true"}
    answer = bench.post(f"{HOOKS}/{made.id}", typed | stale)
    assert answer.status_code == 412
    form = answer.text.partition('id="change"')[2]
    assert 'name="_version" value="99"' in form
    assert f'name="_version" value="{made.version}"' not in form


def test_what_failed_is_listed_with_its_reason_and_sent_again(bench, made):
    ids = fail(bench, made)
    page = bench.get(f"{HOOKS}/{made.id}").text
    assert "it answered 503" in page
    assert "there was no answer in time" in page
    answer = press(bench, made, "ticked")
    assert answer.headers["Location"].endswith("?done=nothing")
    press(bench, made, "ticked", _messages=ids[0])
    assert len(bench.services.hooks.failures(made.id)) == 2
    answer = press(bench, made, "all")
    assert answer.headers["Location"].endswith("?done=again")
    assert not bench.services.hooks.failures(made.id)


def test_nothing_is_sent_again_to_a_hook_that_is_off(bench, made):
    press(bench, made, "off")
    fail(bench, made)
    answer = press(bench, made, "all")
    assert answer.status_code == 409
    assert "switched off" in answer.text


def test_a_secret_is_changed_in_two_steps(bench, made):
    place = f"{HOOKS}/{made.id}/rotate"
    answer = bench.post(place, {"_do": "begin"})
    new = SECRET.search(answer.text).group()
    assert bench.services.hooks.get(made.id).secrets == (new, made.secrets[0])
    assert "two secrets" in bench.get(HOOKS).text
    assert "Drop the old secret?" in bench.get(place).text
    answer = bench.post(place, {"_do": "finish"})
    assert answer.headers["Location"] == f"{HOOKS}/{made.id}?done=finished"
    assert bench.services.hooks.get(made.id).secrets == (new,)
    assert bench.post(place, {"_do": "finish"}).status_code == 409


def test_a_hook_is_removed_after_a_look(bench, made):
    place = f"{HOOKS}/{made.id}/remove"
    assert "cannot be brought back" in bench.get(place).text
    answer = bench.post(place)
    assert answer.headers["Location"] == f"{HOOKS}?done=removed"
    assert not bench.services.hooks.list()
    assert bench.get(f"{HOOKS}/{made.id}").status_code == 404


def test_one_that_the_program_switched_off_says_why(bench, made):
    def off(unit):
        hook = unit.hooks.get(made.id)
        gone = replace(hook, enabled=False, why_disabled="gone")
        unit.hooks.replace(gone, expected=hook.version)

    bench.services.snapshots.write(off)
    for place in (HOOKS, f"{HOOKS}/{made.id}"):
        assert "the address says it is gone for good" in bench.get(place).text
