"""Hooks and failed messages as documents."""

from __future__ import annotations

import json
from datetime import timedelta

from api.services.hooks.document import failure_document, hook_document
from tests.services.hooking import BROKEN, URL


def test_a_hook_tells_how_many_secrets_it_has_and_none_of_them(office):
    hook = office.hooks.rotate(office.hook().id)
    told = hook_document(hook, {})
    assert (told["id"], told["url"], told["secrets"]) == (hook.id, URL, 2)
    assert not any(secret in repr(told) for secret in hook.secrets)


def test_a_failed_message_tells_its_last_try_and_not_what_it_says(office):
    hook = office.hook()
    office.sender.answers.append(BROKEN)
    office.create()
    office.run()
    tried = office.clock.now()
    office.hooks.change(hook.id, url=URL, events=hook.events, enabled=False)
    [failure] = office.hooks.failures(hook.id)
    told = failure_document(failure)
    assert (told["id"], told["tries"], told["answered"]) == (failure.id, 1, 500)
    assert json.loads(failure.body)["type"] == told["event"]
    assert "body" not in told
    assert told["tried_at"] >= tried


def test_a_hook_tells_what_waits_for_it_and_not_what_that_says(office):
    hook = office.hook()
    nothing = {"messages": 0, "tries": 0, "answered": None, "reason": ""}
    told = hook_document(hook, office.hooks.waiting())
    assert told["waiting"] == nothing | {"next_try_at": None}
    office.sender.answers.append(BROKEN)
    office.create()
    office.run()
    told = hook_document(hook, office.hooks.waiting())
    assert told["waiting"] == {
        "messages": 1,
        "tries": 1,
        "answered": 500,
        "reason": "http_status",
        "next_try_at": office.clock.now() + timedelta(seconds=5),
    }
