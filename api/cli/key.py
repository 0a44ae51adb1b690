"""`fineweight key`: access keys for the API, and the key that signs held prices."""

from __future__ import annotations

import click

from api.cli.context import Desk, with_desk
from api.cli.output import note
from api.ports import SCOPES


@click.group()
def key() -> None:
    """Create access keys for the API, and change the key that signs held prices."""


@key.command("rotate-signing")
@with_desk
def rotate_signing(desk: Desk) -> None:
    """Sign held prices with a new key, and print its name.

    What was signed before stays valid: shops find the old key beside the new one for
    as long as that lasts. It is done by itself every 90 days.
    """
    new = desk.services.window.signing.rotate()
    document = {"kid": new.kid, "created_at": new.created_at}
    desk.show_as("window_holds:NewSigningKeyDocument", document, lambda: new.kid)


@key.command()
@click.option(
    "--scope",
    type=click.Choice(SCOPES),
    required=True,
    help="bench: the maker. shop: the shop's server. window: a buyer's browser.",
)
@click.option(
    "--label",
    default="made on the command line",
    show_default=True,
    help="What it is for.",
)
@with_desk
def create(desk: Desk, scope: str, label: str) -> None:
    """Create a key and print it, this once."""
    record, token = desk.services.keys.create(scope, label)
    note(
        "Keep it like a password: only its fingerprint is stored, "
        "and it is not shown again."
    )
    document = {
        "id": record.id,
        "scope": record.scope,
        "label": record.label,
        "created_at": record.created_at,
        "last_used_at": None,
        "revoked_at": None,
        "token": token,
    }
    desk.show_as("keys:NewKeyDocument", document, lambda: token)
