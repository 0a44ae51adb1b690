"""How a command ends, for scripts."""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """What the number says that a command leaves behind."""

    OK = 0
    FAILED = 1
    USAGE = 2
    FOUND = 3  # a check was asked for and found something
    SPOT_STALE = 4
    CONFLICT = 5
    INTERRUPTED = 130
