"""The pages of the bench: one module a part, each with its pages."""

from __future__ import annotations

from api.web.bench import overview, style
from api.web.pages import Pages

PAGES: tuple[Pages, ...] = (
    overview.pages,
    style.pages,
)
"""Every part of the bench."""
