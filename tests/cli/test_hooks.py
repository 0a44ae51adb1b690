from __future__ import annotations

import json
from contextlib import closing
from datetime import timedelta
from types import SimpleNamespace

import pytest

from api.app import compose
from api.cli.exit_codes import ExitCode
from api.ports.hooks import Happening, Sent
from api.settings import Settings
from tests.cli.conftest import NOON

URL = "https://shop.example/hooks"


class Sender:
    def __init__(self):
        self.answer = Sent(status=200)

    def refusal(self, url):
        return "" if url.startswith("https:") else "plain_http"

    def send(self, hook, message, *, at):
        return self.answer


class Clock:
    time = NOON

    def now(self):
        return self.time


@pytest.fixture
def sender():
    return Sender()


@pytest.fixture
def kept(tmp_path, sender):
    """Services on a real database."""
    settings = Settings(database=str(tmp_path / "rings.db"))
    made = compose(settings, clock=Clock(), sender=sender)
    document = {
        "title": "A bench", "currency": "EUR", "timezone": "Europe/Vienna",
        "labour": {"rate_per_hour": "32.00"},
        "stages": [{"key": "punch", "title": "P", "minutes": "8", "removes": "slug"}],
        "channels": [{"key": "own_shop"}],
        "policies": [{"key": "retail", "target_margin": "0.35"}],
    }  # fmt: skip
    made.price_books.replace(document, expected=None)
    with closing(made):
        yield made


@pytest.fixture
def hooks(run, kept):
    def call(*arguments, **more):
        return run("hooks", *arguments, given=kept, **more)

    return call


@pytest.fixture
def hook(hooks, kept):
    assert hooks("add", URL).exit_code == 0
    return kept.hooks.list()[0]


def happens(kept, sku="ring-1"):
    happening = Happening(event="listing.prices_changed", at=NOON, skus=(sku,))
    kept.storage.write(lambda unit: unit.hooks.note(happening))


def test_a_hook_is_added_and_its_secret_printed_alone(hooks, kept):
    done = hooks("add", URL, "--event", "quote.accepted")
    [made] = kept.hooks.list()
    assert done.stdout == made.secrets[0] + "\n"
    assert made.id in done.stderr
    assert made.events == ("quote.accepted",)


def test_a_url_that_cannot_be_is_refused(hooks):
    done = hooks("add", "http://shop.example")
    assert done.exit_code == ExitCode.FAILED
    assert "FINEWEIGHT_HOOK_HTTP" in done.stderr


def test_hooks_are_listed_without_their_secrets(hooks, hook, kept):
    done = hooks("list")
    assert hook.id in done.stdout
    assert "whsec" not in done.stdout
    kept.hooks.change(hook.id, url=URL, events=hook.events, enabled=False)
    assert " off " in hooks("list").stdout


def test_without_hooks_the_list_says_how_to_make_one(hooks):
    assert "fineweight hooks add" in hooks("list").stderr


def test_programs_read_json(run, kept, hook):
    done = run("hooks", "list", "--json", given=kept)
    [shown] = json.loads(done.stdout)["hooks"]
    assert (shown["id"], shown["secrets"]) == (hook.id, 1)
    done = run("hooks", "rotate", hook.id, "--json", given=kept)
    assert json.loads(done.stdout)["secret"] == kept.hooks.get(hook.id).secrets[0]
    happens(kept)
    done = run("hooks", "deliver", "--once", "--json", given=kept)
    assert json.loads(done.stdout) == {
        "delivered": 1,
        "put_off": 0,
        "given_up": 0,
        "elsewhere": False,
    }


def test_a_secret_is_changed_in_two_steps(hooks, hook, kept):
    begun = hooks("rotate", hook.id)
    assert begun.stdout.strip() == kept.hooks.get(hook.id).secrets[0]
    assert "--finish" in begun.stderr
    assert "newest" in hooks("rotate", hook.id, "--finish").stdout
    assert len(kept.hooks.get(hook.id).secrets) == 1
    assert hooks("rotate", hook.id, "--finish").exit_code == ExitCode.CONFLICT


def test_a_hook_is_switched_off_and_on_and_removed(hooks, hook, kept):
    assert hooks("enable", hook.id, "--off").stdout == f"{hook.id}: off\n"
    assert hooks("enable", hook.id).stdout == f"{hook.id}: on\n"
    assert hooks("remove", hook.id).exit_code == 0
    assert kept.hooks.list() == ()
    assert hooks("remove", hook.id).exit_code == ExitCode.FAILED


def test_what_is_due_is_delivered(hooks, hook, kept):
    happens(kept)
    done = hooks("deliver", "--once")
    assert done.exit_code == 0
    assert "Delivered          1" in done.stdout
    assert "1" not in hooks("deliver", "--once").stdout


def test_what_does_not_arrive_is_told_listed_and_replayed(hooks, hook, kept, sender):
    sender.answer = Sent(status=410)
    happens(kept)
    assert hooks("deliver", "--once").exit_code == ExitCode.FOUND
    assert "off (gone)" in hooks("list").stdout
    listed = hooks("failures", hook.id)
    [message] = kept.hooks.failures(hook.id)
    assert message.id in listed.stdout
    assert "hooks replay" in listed.stderr
    assert hooks("replay", hook.id).exit_code == ExitCode.CONFLICT
    hooks("enable", hook.id)
    assert hooks("replay", hook.id).stdout == "Messages to be sent again: 1\n"
    assert hooks("failures", hook.id).stderr == ""


def test_where_another_process_delivers_that_is_said(hooks, kept):
    kept.hook_delivery.run = lambda: SimpleNamespace(
        delivered=0, put_off=0, given_up=0, elsewhere=True
    )
    assert "Another process" in hooks("deliver", "--once").stderr


def test_bytes_that_are_no_text_are_a_usage_error(hooks):
    for deed in ("remove", "enable", "rotate", "failures", "replay"):
        done = hooks(deed, *(["0" * 16] if deed == "replay" else []), "\udcff")
        assert done.exit_code == ExitCode.USAGE, deed
        assert "no text" in done.stderr


def test_what_waits_is_told_in_a_line(run, hooks, hook, kept, sender):
    happens(kept)
    sender.answer = Sent(status=500)
    hooks("deliver", "--once")
    happens(kept, "ring-2")
    hooks("deliver", "--once")
    told = hooks("list").stdout.splitlines()[-1]
    assert told.startswith(f"{hook.id}: 2 messages wait; the oldest: 1 try (500), next")
    assert told.endswith(" UTC")
    shown = json.loads(run("hooks", "list", "--json", given=kept).stdout)
    assert shown["hooks"][0]["waiting"]["answered"] == 500
    sender.answer = Sent(status=200)
    kept.clock.time = NOON + timedelta(minutes=1)
    hooks("deliver", "--once")
    assert "wait;" not in hooks("list").stdout


def test_what_was_not_tried_yet_has_no_answer(hooks, hook, kept, sender):
    happens(kept)
    sender.answer = Sent(status=410)
    hooks("deliver", "--once")
    hooks("enable", hook.id)
    hooks("replay", hook.id)
    told = hooks("list").stdout.splitlines()[-1]
    assert "1 message waits; the oldest: 0 tries, next " in told
