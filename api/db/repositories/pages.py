"""Pages of rows that are named by a rising number."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, Select, select


def page_of(
    query: Select[Any], key: Column[int], *, limit: int, past: int | None, newer: bool
) -> Select[Any]:
    """The rows of ``query`` that lie next past a ``key``, newest first."""
    if past is not None:
        query = query.where(key > past if newer else key < past)
    nearest = query.order_by(key if newer else key.desc()).limit(limit)
    if not newer:
        return nearest
    turned = nearest.subquery()
    return select(turned).order_by(turned.c[key.name].desc())
