"""What every command is given: the services, and how to print."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, wraps
from importlib import import_module
from typing import TYPE_CHECKING, Any

import click

from api.cli.output import show
from api.settings import Settings, settings_from

if TYPE_CHECKING:
    from api.app import Services

DATABASE = "FINEWEIGHT_DATABASE"


@dataclass
class Desk:
    """One command's call.

    Attributes:
        database: as given with --database; None takes the environment's.
        as_json: whether a program reads what is printed.
        given: services to use in place of composed ones.
    """

    database: str | None
    as_json: bool
    given: Any = None

    @cached_property
    def settings(self) -> Settings:
        """The environment's settings, --database before them."""
        environ = dict(os.environ)
        if self.database:
            environ[DATABASE] = self.database
        return settings_from(environ)

    @cached_property
    def services(self) -> Services:
        """The services, composed at their first use."""
        if self.given is not None:
            stand_in: Services = self.given
            return stand_in
        settings = self.settings  # refused before anything large is imported
        composed: Services = import_module("api.app").compose(settings)
        return composed

    def show_as(self, schema: str, value: Any, text: Callable[[], str]) -> None:
        """Print a value as the API writes it, by the ``module:Class`` of its schema."""
        if not self.as_json:
            self.show(None, text)
            return
        module, _, name = schema.partition(":")
        kind = getattr(import_module(f"api.schemas.{module}"), name)
        self.show(kind().dump(value), text)

    def show(self, document: Any, text: Callable[[], str]) -> None:
        """Print a result as asked for."""
        show(document, text, as_json=self.as_json)


def with_desk(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add --database and --json, and hand the command its `Desk` first."""

    @click.option(
        "--database",
        metavar="PATH|ADDRESS",
        help=f"SQLite file, or postgresql+psycopg:// address.  [env: {DATABASE}]",
    )
    @click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")
    @click.pass_context
    @wraps(command)
    def wrapper(
        ctx: click.Context, /, *, database: str | None, as_json: bool, **options: Any
    ) -> Any:
        desk = Desk(database, as_json, ctx.find_root().obj)
        with import_module("api.cli.caller").acting_here():
            return command(desk, **options)

    return wrapper
