"""What is said when a command cannot do its work, and the code it ends with."""

from __future__ import annotations

from collections.abc import Iterator

import click

from api.cli.exit_codes import ExitCode
from api.ports import Conflict, PreconditionFailed, ServiceError, SpotUnavailable
from api.settings import SettingsRefused
from pricing.errors import NotMakeable, PricingError

CODES: dict[type[Exception], ExitCode] = {
    SettingsRefused: ExitCode.USAGE,
    SpotUnavailable: ExitCode.SPOT_STALE,
    Conflict: ExitCode.CONFLICT,
    PreconditionFailed: ExitCode.CONFLICT,
    ServiceError: ExitCode.FAILED,
    PricingError: ExitCode.FAILED,
}
"""The nearest class counts."""


class Failure(click.ClickException):
    """A refusal in words, with its exit code."""

    def __init__(self, message: str, code: ExitCode) -> None:
        super().__init__(message)
        self.exit_code = code  # type: ignore[misc]  # as Click has it


def told(error: Exception) -> Failure | None:
    """The refusal for an error raised on purpose; None for any other."""
    for kind in type(error).__mro__:
        if kind in CODES:
            return Failure("\n".join(_lines(error)), CODES[kind])
    return None


def _lines(error: Exception) -> Iterator[str]:
    if not isinstance(error, PricingError):
        yield str(error)
        return
    faults = [fault for fault in error.faults if fault.path]
    placed = [f"{fault.dotted}: {fault.message}" for fault in faults]
    alone = [fault.message for fault in faults] == [str(error)]
    yield placed[0] if alone else str(error)
    if isinstance(error, NotMakeable):
        yield from _nearest(error)
    if not alone:
        yield from (f"  {line}" for line in placed)


def _nearest(error: NotMakeable) -> Iterator[str]:
    if error.nearest_size_us is not None:
        yield f"  nearest size with this hole: US {error.nearest_size_us}"
    if error.nearest_hole_mm is not None:
        yield f"  nearest hole for this size: {error.nearest_hole_mm} mm"
