"""`fineweight hooks`: who is told what happens, and what did not arrive."""

from __future__ import annotations

import click

from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.output import counted, facts, instant, note, table
from api.cli.written import WRITTEN
from api.ports.hooks import HOOK_EVENTS, Hook, Waiting
from api.services.hooks.document import failure_document, hook_document

_SHOWN_ONCE = "Keep the secret like a password: it is not shown again."


@click.group()
def hooks() -> None:
    """Tell other programs what happens: prices, accepted and expired quotes."""


@hooks.command()
@click.argument("url")
@click.option(
    "--event",
    "events",
    type=click.Choice(HOOK_EVENTS),
    multiple=True,
    default=HOOK_EVENTS,
    help="What it is told; may be given again. Left out: everything.",
)
@with_desk
def add(desk: Desk, url: str, *, events: tuple[str, ...]) -> None:
    """Tell URL what happens from now on, and print the secret, this once."""
    hook = desk.services.hooks.add(url, events)
    note(f"Made as {hook.id}. {_SHOWN_ONCE}")
    _show_secret(desk, hook)


@hooks.command("list")
@with_desk
def list_all(desk: Desk) -> None:
    """List the hooks, whether they are told anything, and what waits for them."""
    found, waits = desk.services.hooks.list(), desk.services.hooks.waiting()
    document = {"hooks": [hook_document(hook, waits) for hook in found]}
    headings = ("id", "on", "url", "events")
    rows = [(h.id, _state(h), h.url, ", ".join(h.events)) for h in found]
    told = [f"{h.id}: {_told(waits[h.id])}" for h in found if h.id in waits]
    desk.show_as(
        "hooks:HookListDocument",
        document,
        lambda: "\n".join([table(headings, rows), *told]),
    )
    if not found:
        note("There are no hooks; make one with: fineweight hooks add URL")


@hooks.command()
@click.argument("hook", type=WRITTEN)
@with_desk
def remove(desk: Desk, hook: str) -> None:
    """Forget the hook HOOK and its messages."""
    desk.services.hooks.remove(hook)
    desk.show({"id": hook}, lambda: f"{hook} is removed.")


@hooks.command()
@click.argument("hook", type=WRITTEN)
@click.option("--off", is_flag=True, help="Switch it off instead.")
@with_desk
def enable(desk: Desk, hook: str, *, off: bool) -> None:
    """Switch the hook HOOK on, after it was switched off."""
    old = desk.services.hooks.get(hook)
    new = desk.services.hooks.change(
        hook, url=old.url, events=old.events, enabled=not off, expected=old.version
    )
    document = hook_document(new, desk.services.hooks.waiting())
    desk.show_as("hooks:HookDocument", document, lambda: f"{hook}: {_state(new)}")


@hooks.command()
@click.argument("hook", type=WRITTEN)
@click.option("--finish", is_flag=True, help="Drop the old secret.")
@with_desk
def rotate(desk: Desk, hook: str, *, finish: bool) -> None:
    """Sign for HOOK with a new secret beside the old one, and print it."""
    changed = desk.services.hooks.rotate(hook, finish=finish)
    if finish:
        desk.show_as(
            "hooks:HookDocument",
            hook_document(changed, desk.services.hooks.waiting()),
            lambda: f"{hook} is signed for with its newest secret only.",
        )
        return
    note(f"{_SHOWN_ONCE} Both count until: fineweight hooks rotate {hook} --finish")
    _show_secret(desk, changed)


@hooks.command()
@click.argument("hook", type=WRITTEN)
@click.option("--limit", type=click.IntRange(1, 100), default=50, show_default=True)
@with_desk
def failures(desk: Desk, hook: str, *, limit: int) -> None:
    """List the messages to HOOK that were given up, and why."""
    found = desk.services.hooks.failures(hook, limit=limit)
    document = {"failures": [failure_document(message) for message in found]}
    headings = ("id", "event", "written", "tries", "answered", "reason")
    rows = [
        (m.id, m.event, instant(m.created_at), m.tries, m.answered, m.reason)
        for m in found
    ]
    desk.show_as("hooks:FailureListDocument", document, lambda: table(headings, rows))
    if found:
        note(f"Send them again with: fineweight hooks replay {hook}")


@hooks.command()
@click.argument("hook", type=WRITTEN)
@click.argument("messages", type=WRITTEN, nargs=-1)
@with_desk
def replay(desk: Desk, hook: str, messages: tuple[str, ...]) -> None:
    """Send MESSAGES to HOOK again that were given up; all of them if none is named."""
    count = desk.services.hooks.replay(hook, messages or None)
    desk.show({"messages": count}, lambda: f"Messages to be sent again: {count}")


@hooks.command()
@click.option("--once", is_flag=True, required=True, help="What is due now, then end.")
@with_desk
def deliver(desk: Desk, *, once: bool) -> None:
    """Send what is due, without a server. A server does it by itself."""
    del once  # spelled out, so that nobody waits for it to go on
    delivery = desk.services.hook_delivery
    done = delivery.run()
    told = {
        "delivered": done.delivered,
        "put_off": done.put_off,
        "given_up": done.given_up,
        "elsewhere": done.elsewhere,
    }
    if done.elsewhere:
        note("Another process is delivering just now.")
    else:
        delivery.release()
    words = {
        "Delivered": done.delivered,
        "To be tried again": done.put_off,
        "Given up": done.given_up,
    }
    desk.show(told, lambda: facts(words))
    if done.put_off or done.given_up:
        raise click.exceptions.Exit(ExitCode.FOUND)


def _show_secret(desk: Desk, hook: Hook) -> None:
    secret = hook.secrets[0]
    shown = hook_document(hook, desk.services.hooks.waiting())
    document = shown | {"secret": secret}
    desk.show_as("hooks:HookSecretDocument", document, lambda: secret)


def _state(hook: Hook) -> str:
    if hook.enabled:
        return "on"
    return f"off ({hook.why_disabled})" if hook.why_disabled else "off"


def _told(waiting: Waiting) -> str:
    """What waits for a hook, in a line."""
    waits = counted(waiting.messages, "message waits", "messages wait")
    tries = counted(waiting.tries, "try", "tries")
    last = f" ({waiting.answered or waiting.reason})" if waiting.tries else ""
    return f"{waits}; the oldest: {tries}{last}, next {instant(waiting.next_try_at)}"
