"""`fineweight serve`: the API on a real server."""

from __future__ import annotations

from importlib import import_module
from ipaddress import ip_address

import click
import waitress

from api.cli.context import Desk, with_desk
from api.cli.exit_codes import ExitCode
from api.cli.failures import Failure
from api.cli.output import note

LARGEST_BODY = 10 * 1024 * 1024


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", type=click.IntRange(0, 65535), default=8371, show_default=True)
@click.option(
    "--threads",
    type=click.IntRange(1, 64),
    default=4,
    show_default=True,
    help="Requests worked on at the same time.",
)
@with_desk
def serve(desk: Desk, host: str, *, port: int, threads: int) -> None:
    """Serve the API on this machine until interrupted.

    An address that others can reach is refused as long as no access key exists.
    """
    if not is_loopback(host) and not _has_key(desk):
        raise Failure(
            f"{host} can be reached by others and no access key exists yet; "
            "create one first: fineweight key create --scope bench",
            ExitCode.FAILED,
        )
    settings, services = desk.settings, desk.services
    app = import_module("api.app").create_app(settings, services)
    note(f"Serving on http://{_in_address(host)}:{port}/docs (stop with Ctrl-C)")
    waitress.serve(
        app,
        host=host,
        port=port,
        threads=threads,
        ident=None,
        max_request_body_size=LARGEST_BODY,
    )


def is_loopback(host: str) -> bool:
    """Whether only programs on this machine can reach an address or name."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _has_key(desk: Desk) -> bool:
    return any(record.revoked_at is None for record in desk.services.keys.list())


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host
