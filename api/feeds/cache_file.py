"""A disposable file of answers that never makes anyone wait for it.

The library's own SQLite storage tries again without end while the file is locked
or cannot be written. This one gives up after a quarter of a second and keeps the
answer in memory instead; whoever asks next in this process still has it.
"""

from __future__ import annotations

import logging
import sqlite3
import time
from collections import OrderedDict
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from threading import Lock
from typing import TypeGuard

import requests
from requests_cache.backends.base import BaseCache, BaseStorage
from requests_cache.models.response import CachedResponse
from requests_cache.serializers import json_serializer

log = logging.getLogger(__name__)

PATIENCE_S = 0.25
MOST_IN_MEMORY = 32

_TABLE = (
    "CREATE TABLE IF NOT EXISTS feed_answers "
    "(key TEXT PRIMARY KEY, answer TEXT NOT NULL, until REAL NOT NULL) WITHOUT ROWID"
)


class CacheFile(BaseStorage[str, CachedResponse]):
    """Answers by key, in a file where that can be had at once, else in memory.

    Each use has a connection of its own, so threads and processes may share it.

    Args:
        path: of the file; None for memory alone.
        useful: how long after its expiry an answer is still of use.
        patience_s: longest wait for somebody else's lock [s].
    """

    def __init__(
        self,
        path: Path | None,
        *,
        useful: timedelta,
        patience_s: float = PATIENCE_S,
    ) -> None:
        super().__init__(serializer=json_serializer)
        self.path = path
        self._useful_s = useful.total_seconds()
        self._patience_s = patience_s
        self._memory: OrderedDict[str, str] = OrderedDict()
        self._lock = Lock()
        self._told = False

    def __getitem__(self, key: str) -> CachedResponse:
        """The answer under a key. Raises KeyError, also where it is damaged."""
        text = self._memory.get(key) or self._from_file(key)
        if text is None:
            raise KeyError(key)
        try:
            answer: object = self.deserialize(key, text)  # type: ignore[arg-type]
        except Exception as error:  # a damaged file raises whatever it likes
            raise KeyError(key) from error
        if not _is_whole(answer):
            raise KeyError(key)
        return answer

    def __setitem__(self, key: str, answer: CachedResponse) -> None:
        """Keep an answer: in the file, or in memory until that is possible."""
        text = self.serialize(answer)
        expires = answer.expires.timestamp() if answer.expires else time.time()
        written = self._run(
            "INSERT OR REPLACE INTO feed_answers VALUES (?, ?, ?)",
            (key, text, expires + self._useful_s),
        )
        with self._lock:
            self._memory.pop(key, None)
            if written is None:
                self._memory[key] = text
            while len(self._memory) > MOST_IN_MEMORY:
                self._memory.popitem(last=False)

    def __delitem__(self, key: str) -> None:
        """Forget an answer, if it is there."""
        with self._lock:
            self._memory.pop(key, None)
        self._run("DELETE FROM feed_answers WHERE key = ?", (key,))

    def __iter__(self) -> Iterator[str]:
        rows = self._run("SELECT key FROM feed_answers", ()) or []
        return iter({*self._memory, *(row[0] for row in rows)})

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _from_file(self, key: str) -> str | None:
        rows = self._run("SELECT answer FROM feed_answers WHERE key = ?", (key,))
        return str(rows[0][0]) if rows else None

    def _run(
        self, statement: str, values: tuple[str | float, ...]
    ) -> list[tuple[str, ...]] | None:
        """Rows of one statement; None where the file cannot be had."""
        if self.path is None:
            return None
        try:
            with closing(self._connect(self.path)) as connection:
                return self._in_time(connection, statement, values)
        except (sqlite3.Error, OSError) as error:
            self._tell(error)
            return None

    def _in_time(
        self,
        connection: sqlite3.Connection,
        statement: str,
        values: tuple[str | float, ...],
    ) -> list[tuple[str, ...]]:
        writes = not statement.startswith("SELECT")
        if writes:
            connection.execute("BEGIN IMMEDIATE")
            connection.execute(_TABLE)
            connection.execute(
                "DELETE FROM feed_answers WHERE until < ?", (time.time(),)
            )
        rows = connection.execute(statement, values).fetchall()
        if writes:
            connection.execute("COMMIT")
        return rows

    def _connect(self, path: Path) -> sqlite3.Connection:
        is_new = not path.exists() or not path.stat().st_size
        if is_new:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.touch(mode=0o600)
        connection = sqlite3.connect(
            path, timeout=self._patience_s, isolation_level=None
        )
        try:
            if is_new:  # the file remembers it: readers then never wait for a writer
                connection.execute("PRAGMA journal_mode = WAL")
                connection.execute(_TABLE)
            connection.execute("PRAGMA synchronous = OFF")  # it may be lost
            connection.execute("PRAGMA trusted_schema = OFF")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    def _tell(self, error: Exception) -> None:
        """Log the first time that the file could not be used."""
        if not self._told:
            self._told = True
            log.warning("The file of feed answers is not used: %s", error)


def _is_whole(answer: object) -> TypeGuard[CachedResponse]:
    """Whether what was read can have been written here."""
    return (
        isinstance(answer, CachedResponse)
        and answer.status_code == requests.codes.ok
        and answer.expires is not None
        and bool(answer.content)
    )


class FeedCache(BaseCache):
    """What the caching session keeps answers in; there are never redirects."""

    def __init__(self, responses: CacheFile) -> None:
        super().__init__()
        self.responses = responses
