"""The option that says how much of a list is shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from api.services.paging import MOST_ON_A_PAGE

USUAL_LIMIT = 20


def newest(*, most: int = MOST_ON_A_PAGE) -> Callable[[Any], Any]:
    """Add how many of the newest are shown, of which ``most`` may be [count]."""
    return click.option(
        "--limit",
        type=click.IntRange(1, most),
        default=USUAL_LIMIT,
        show_default=True,
        metavar="N",
        help="At most so many, the newest.",
    )
