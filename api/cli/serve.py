"""`fineweight serve`: the API on a real server."""

from __future__ import annotations

import gc
import logging
import select
import signal
from collections.abc import Iterator
from contextlib import suppress
from importlib import import_module
from ipaddress import ip_address
from typing import Any, NoReturn

import click
import waitress

from api.cli.context import Desk, with_desk
from api.cli.delivering import delivering
from api.cli.exit_codes import ExitCode
from api.cli.failures import Failure
from api.cli.output import note, one_line
from api.ports import ServiceError

LARGEST_BODY = 10 * 1024 * 1024
BUFFERED = 256 * 1024  # of a body; what is larger waits in a file
HAS_POLL = hasattr(select, "poll")  # else not every connection could be watched
CONNECTIONS = 800 if HAS_POLL else 400
"""Connections at once; browsers that look at a shop keep theirs for a while [count]."""
IDLE_S = 30
"""How long one may be kept without being used [s]."""


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8371,
    show_default=True,
    help="0 takes any free one.",
)
@click.option(
    "--threads",
    type=click.IntRange(1, 64),
    default=4,
    show_default=True,
    help="Requests worked on at the same time.",
)
@click.option("--log", is_flag=True, help="Say each request in a line of JSON.")
@with_desk
def serve(desk: Desk, host: str, *, port: int, threads: int, log: bool) -> None:
    """Serve the API on this machine until interrupted.

    An address that others can reach is refused as long as no access key exists.
    """
    if not is_loopback(host) and not _has_key(desk):
        raise Failure(
            f"{host} can be reached by others and no access key exists yet; "
            "create one first: fineweight key create --scope bench",
            ExitCode.FAILED,
        )
    _log_to_stderr(logging.INFO if log else logging.WARNING)
    settings, services = desk.settings, desk.services
    _recover(services)
    app = import_module("api.app").create_app(settings, services)
    server = listen(app, host=host, port=port, threads=threads)
    for address in addresses(server):
        note(
            f"Serving on {address} with the bench at {address}/bench and the "
            f"documentation at {address}/docs"
        )
    note("Stop with Ctrl-C.")
    signal.signal(signal.SIGTERM, _stop)
    gc.freeze()  # what is there now stays to the end, and need not be looked through
    with delivering(services.hook_delivery):
        server.run()


def _recover(services: Any) -> None:
    """Let no repricing stand half way that nobody is applying any more."""
    with suppress(ServiceError):  # such as an older schema, which is told elsewhere
        run = services.repricings.recover()
        if run is not None:
            note(
                f"The repricing {run.id} was cut short. It has changed no price and is "
                "a preview again."
            )


def _log_to_stderr(level: int) -> None:
    handler = logging.StreamHandler()
    handler.setFormatter(_OneLine("%(message)s"))
    logging.basicConfig(handlers=[handler])
    logging.getLogger("api").setLevel(level)


class _OneLine(logging.Formatter):
    """One line for each thing that is said, whoever says it and whatever is in it."""

    def format(self, record: logging.LogRecord) -> str:
        return one_line(super().format(record))


def listen(app: Any, *, host: str, port: int, threads: int) -> Any:
    """A server that listens already and works once it is run.

    Raises:
        Failure: the address cannot be had.
    """
    # A short queue is ordinary under load, and a line about each is no help.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    try:
        return waitress.create_server(
            app,
            host=host,
            port=port,
            threads=threads,
            ident=None,
            max_request_body_size=LARGEST_BODY,
            inbuf_overflow=BUFFERED,
            connection_limit=CONNECTIONS,
            channel_timeout=IDLE_S,
            cleanup_interval=IDLE_S // 2,
            asyncore_use_poll=HAS_POLL,
            # Who may be let in hangs on them; the application knows whom to believe.
            clear_untrusted_proxy_headers=False,
        )
    except (OSError, ValueError) as error:
        raise Failure(
            f"cannot listen on {host}, port {port}: {error}; choose others with "
            "--host and --port",
            ExitCode.FAILED,
        ) from error


def addresses(server: Any) -> Iterator[str]:
    """Where a server listens; a name may stand for two addresses."""
    one = getattr(server, "effective_host", ""), getattr(server, "effective_port", 0)
    for host, port in getattr(server, "effective_listen", [one]):
        yield f"http://{f'[{host}]' if ':' in host else host}:{port}"


def is_loopback(host: str) -> bool:
    """Whether only programs on this machine can reach an address or name."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _has_key(desk: Desk) -> bool:
    return any(record.revoked_at is None for record in desk.services.keys.list())


def _stop(*_: object) -> NoReturn:
    raise SystemExit(ExitCode.OK)  # the server lets requests end that have begun
