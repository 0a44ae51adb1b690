"""`fineweight db`: the database."""

from __future__ import annotations

from importlib import import_module

import click

from api.cli.context import Desk, with_desk


@click.group()
def db() -> None:
    """Look after the database."""


@db.command()
@with_desk
def upgrade(desk: Desk) -> None:
    """Create the tables or bring them up to date; safe to repeat."""
    revision: str = import_module("api.app").upgrade(desk.settings)
    desk.show(
        {"schema": revision}, lambda: f"The database is up to date (schema {revision})."
    )
