"""`fineweight passphrase`: what opens the pages of the bench to other machines."""

from __future__ import annotations

import sys

import click

from api.cli.context import Desk, with_desk
from api.cli.output import note


@click.group()
def passphrase() -> None:
    """Set or clear the passphrase that other machines sign in to the bench with.

    On this machine itself nobody is asked for it, unless FINEWEIGHT_SIGN_IN is
    "always".
    """


@passphrase.command("set")
@with_desk
def set_(desk: Desk) -> None:
    r"""Set the passphrase, asked for here or read from the first line of stdin.

    \b
    Examples:
      fineweight passphrase set
      fineweight passphrase set < passphrase.txt

    It has 12 to 256 characters and is not easy to guess: four or five words that
    have nothing to do with each other. Whoever signed in with another has to again.
    """
    desk.services.sessions.set_passphrase(_given())
    note("The passphrase is set.")


@passphrase.command()
@with_desk
def clear(desk: Desk) -> None:
    """Let nobody sign in from another machine, and end every session that did."""
    desk.services.sessions.clear_passphrase()
    note("There is no passphrase any more.")


def _given() -> str:
    if _at_a_terminal():
        asked: str = click.prompt(
            "Passphrase", hide_input=True, confirmation_prompt="The same once more"
        )
        return asked
    return sys.stdin.readline().rstrip("\r\n")


def _at_a_terminal() -> bool:
    return sys.stdin.isatty()
