"""Hooks: endpoints of others that are told what happens."""

from __future__ import annotations

from typing import Any

from api.endpoint import Call, Examples, Reply, Routes
from api.ports.hooks import Hook
from api.preconditions import tag, tag_shown
from api.problems import CONFLICT
from api.schemas.hooks import (
    FailureListDocument,
    FailuresQuery,
    HookBody,
    HookChangeBody,
    HookDocument,
    HookListDocument,
    HookPath,
    HookSecretDocument,
    ReplayBody,
    ReplayedDocument,
    RotateBody,
    RotatedDocument,
)
from api.security import BENCH
from api.services.hooks.document import failure_document, hook_document

_HOOKS = "/v1/hooks"
_HOOK = HookDocument()
_ETAG = {"ETag": "Its version; a change has to name it in If-Match."}
_PATH = {"hook_id": "7d1f0c5e9a2b4c68"}
_EXAMPLE = {
    "url": "https://shop.example/fineweight",
    "events": ["listing.prices_changed", "quote.accepted"],
}

routes = Routes(
    "hooks",
    title="Hooks",
    about="A hook is an address of yours that is told what happens: prices that "
    "changed, quotes that were accepted or have expired. Messages are signed and "
    "sent as Standard Webhooks 1.0.0 says: verify the signature over the bytes that "
    "came, refuse times more than five minutes off, and take each webhook-id once. "
    "Messages about prices hold a version: ignore one that is lower than what you "
    "have. A message is tried ten times over three days, in order; then the hook is "
    "switched off.",
)


@routes.operation(
    "GET",
    _HOOKS,
    scope=BENCH,
    summary="List the hooks",
    answers={200: HookListDocument()},
)
def list_hooks(call: Call) -> Reply:
    """List all hooks, oldest first, without their secrets."""
    hooks, waits = call.services.hooks.list(), call.services.hooks.waiting()
    return Reply({"hooks": [hook_document(hook, waits) for hook in hooks]})


@routes.operation(
    "POST",
    _HOOKS,
    scope=BENCH,
    summary="Make a hook",
    body=HookBody(),
    answers={201: HookSecretDocument()},
    problems=(CONFLICT,),
    answer_headers={"Location": "The address of the hook.", **_ETAG},
    examples=Examples(body=_EXAMPLE),
)
def make_hook(call: Call) -> Reply:
    """Tell an address what happens from now on.

    The secret is in this answer and can never be read again.
    """
    body = call.body()
    hook = call.services.hooks.add(body["url"], body["events"])
    place = {"Location": f"{_HOOKS}/{hook.id}"}
    shown, etag = _shown(call, hook)
    with_secret = shown | {"secret": hook.secrets[0]}
    return Reply(with_secret, status=201, etag=etag, headers=place)


@routes.operation(
    "GET",
    f"{_HOOKS}/<hook_id>",
    scope=BENCH,
    summary="Read a hook",
    path=HookPath(),
    answers={200: HookDocument()},
    answer_headers=_ETAG,
    examples=Examples(path=_PATH),
)
def read_hook(call: Call) -> Reply:
    """Read what waits for a hook, and why it was switched off if it was."""
    shown, etag = _shown(call, call.services.hooks.get(call.path["hook_id"]))
    return Reply(shown, etag=etag)


@routes.operation(
    "PUT",
    f"{_HOOKS}/<hook_id>",
    scope=BENCH,
    summary="Change a hook, switch it on or off",
    path=HookPath(),
    body=HookChangeBody(),
    answers={200: HookDocument()},
    conditional=True,
    answer_headers=_ETAG,
    examples=Examples(path=_PATH, body=_EXAMPLE | {"enabled": True}),
)
def change_hook(call: Call) -> Reply:
    """Change where a hook is, what it is told, or whether it is told anything.

    One that is switched on again is told what happens from then on; what failed
    before is sent again if you ask for it (replay).
    """
    old = call.services.hooks.get(call.path["hook_id"])
    call.require_match(_tag(old))
    hook = call.services.hooks.change(old.id, **call.body(), expected=old.version)
    shown, etag = _shown(call, hook)
    return Reply(shown, etag=etag)


@routes.operation(
    "DELETE",
    f"{_HOOKS}/<hook_id>",
    scope=BENCH,
    summary="Remove a hook",
    path=HookPath(),
    answers={204: None},
    conditional=True,
    examples=Examples(path=_PATH),
)
def remove_hook(call: Call) -> Reply:
    """Forget a hook, its secrets and all its messages."""
    old = call.services.hooks.get(call.path["hook_id"])
    call.require_match(_tag(old))
    call.services.hooks.remove(old.id, expected=old.version)
    return Reply()


@routes.operation(
    "POST",
    f"{_HOOKS}/<hook_id>/rotate",
    scope=BENCH,
    summary="Change a hook's secret",
    path=HookPath(),
    body=RotateBody(),
    answers={200: RotatedDocument()},
    problems=(CONFLICT,),
    answer_headers=_ETAG,
    examples=Examples(path=_PATH, body={"step": "begin"}),
)
def rotate_hook(call: Call) -> Reply:
    """Change the secret in two steps, so that no message is refused meanwhile."""
    finish = call.body()["step"] == "finish"
    hook = call.services.hooks.rotate(call.path["hook_id"], finish=finish)
    secret = None if finish else hook.secrets[0]
    shown, etag = _shown(call, hook)
    return Reply(shown | {"secret": secret}, etag=etag)


@routes.operation(
    "GET",
    f"{_HOOKS}/<hook_id>/failures",
    scope=BENCH,
    summary="Messages that were given up",
    path=HookPath(),
    query=FailuresQuery(),
    answers={200: FailureListDocument()},
    examples=Examples(path=_PATH, query={"limit": "10"}),
)
def list_failures(call: Call) -> Reply:
    """List messages that never arrived, oldest first, and why."""
    found = call.services.hooks.failures(
        call.path["hook_id"], limit=call.query["limit"]
    )
    return Reply({"failures": [failure_document(message) for message in found]})


@routes.operation(
    "POST",
    f"{_HOOKS}/<hook_id>/replay",
    scope=BENCH,
    summary="Send failed messages again",
    path=HookPath(),
    body=ReplayBody(),
    answers={200: ReplayedDocument()},
    problems=(CONFLICT,),
    examples=Examples(path=_PATH, body={"messages": [f"msg_{'0a' * 16}"]}),
)
def replay_hook(call: Call) -> Reply:
    """Send messages that were given up again, under the ids they had."""
    ids = call.body()["messages"]
    count = call.services.hooks.replay(call.path["hook_id"], ids)
    return Reply({"messages": count})


def _shown(call: Call, hook: Hook) -> tuple[dict[str, Any], str]:
    """A hook, and the tag of what is shown: what waits is no version of the hook."""
    shown = hook_document(hook, call.services.hooks.waiting())
    # No key: whoever may read the tag may read all that it is of.
    return shown, tag_shown(_tag(hook), _HOOK.encoded(shown), b"")


def _tag(hook: Hook) -> str:
    return tag("hook", hook.version)
