"""What waits for each hook, in one statement."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ColumnElement, Label, Select, func, select

from api.db.hook_tables import hook_messages, hooks

_message = hook_messages.c


def all_waiting() -> Select[Any]:
    """How many messages wait for each hook, and how the oldest of them stands.

    Hook by hook, of which there are few, and each figure by itself: so whatever the
    databases know of the tables, they go by an index and pass over what was delivered.
    """
    waits = (_message.hook == hooks.c.id) & (_message.status == "waiting")
    count = select(func.count()).where(waits).correlate(hooks).scalar_subquery()
    shown = (_message.tries, _message.answered, _message.reason, _message.due)
    return select(
        hooks.c.id.label("hook"),
        count.label("messages"),
        *(_of_the_oldest(column, waits) for column in shown),
    ).where(select(_message.seq).where(waits).exists())


def _of_the_oldest(column: Any, waits: ColumnElement[bool]) -> Label[Any]:
    oldest = select(column).where(waits).order_by(_message.seq).limit(1)
    return oldest.correlate(hooks).scalar_subquery().label(column.name)
