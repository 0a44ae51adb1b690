"""Who calls a command: the user that the operating system runs it for."""

from __future__ import annotations

import getpass
import os
from contextlib import AbstractContextManager
from importlib import import_module

from api.cli.output import one_line
from api.services.actor import Actor, acting

LONGEST_NAME = 200


def acting_here() -> AbstractContextManager[None]:
    """Within this, that user acts."""
    return acting(Actor(by=user_name(), via="command line"))


def user_name() -> str:
    """The user's name, as it can be printed and kept on one line.

    It is the account's own: what the environment says of it is easily changed.
    """
    return one_line(_account())[:LONGEST_NAME]


def _account() -> str:
    try:
        accounts = import_module("pwd")
    except ImportError:  # not a system of that kind
        return getpass.getuser()
    number = os.getuid()
    try:
        return str(accounts.getpwuid(number).pw_name)
    except KeyError:  # a number without an account, as in a container
        return f"user {number}"
