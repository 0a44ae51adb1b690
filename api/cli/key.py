"""`fineweight key`: access keys for the API."""

from __future__ import annotations

import click

from api.cli.context import Desk, with_desk
from api.cli.output import note
from api.ports import SCOPES


@click.group()
def key() -> None:
    """Create access keys for the API."""


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
