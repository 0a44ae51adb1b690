"""Access keys: made, listed and revoked by the bench."""

from __future__ import annotations

from dataclasses import asdict

from api.endpoint import Call, Examples, Reply, Routes
from api.problems import CONFLICT
from api.schemas.keys import KeyBody, KeyListDocument, KeyPath, NewKeyDocument
from api.security import BENCH

routes = Routes(
    "keys",
    title="Keys",
    about="A key belongs to one scope and is sent as Authorization: Bearer.",
)


@routes.operation(
    "GET",
    "/v1/keys",
    scope=BENCH,
    summary="List all keys",
    answers={200: KeyListDocument()},
)
def list_keys(call: Call) -> Reply:
    """List all keys, revoked ones too, without their secrets."""
    return Reply({"keys": call.services.keys.list()})


@routes.operation(
    "POST",
    "/v1/keys",
    scope=BENCH,
    summary="Make a key",
    body=KeyBody(),
    answers={201: NewKeyDocument()},
    answer_headers={"Location": "The address of the key, to revoke it."},
    examples=Examples(body={"scope": "window", "label": "Web shop pages"}),
)
def create_key(call: Call) -> Reply:
    """Make a key.

    The token is in this answer and can never be read again. Give each program its
    own key, so that one can be revoked without the others.
    """
    body = call.body()
    record, token = call.services.keys.create(body["scope"], body["label"])
    place = {"Location": f"/v1/keys/{record.id}"}
    return Reply(asdict(record) | {"token": token}, headers=place)


@routes.operation(
    "DELETE",
    "/v1/keys/<key_id>",
    scope=BENCH,
    summary="Revoke a key",
    path=KeyPath(),
    answers={204: None},
    problems=(CONFLICT,),
    examples=Examples(path={"key_id": "4bf92f3577b34da6"}),
)
def revoke_key(call: Call) -> Reply:
    """Revoke a key.

    It is refused from the next request on, in every process. It stays in the list.
    """
    call.services.keys.revoke(call.path["key_id"])
    return Reply()
