"""What the owner can set, read once from the environment and checked whole."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from platformdirs import user_data_path

PREFIX = "FINEWEIGHT_"
POSTGRESQL = "postgresql+psycopg://"
MOST_PROXY_HOPS = 8

_HOST = re.compile(r"\.?[a-z0-9]([a-z0-9.-]*[a-z0-9])?(:[0-9]{1,5})?", re.ASCII)


class SettingsRefused(ValueError):
    """Settings that cannot be used; ``faults`` lists every one of them."""

    def __init__(self, faults: tuple[str, ...]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How one installation runs.

    Attributes:
        database: path of an SQLite file, or a ``postgresql+psycopg://`` address.
        metrics: whether /metrics is served.
        proxy_hops: reverse proxies in front whose forwarding headers are believed.
        hosts: host names answered to; empty answers to any.
    """

    database: str
    metrics: bool = False
    proxy_hops: int = 0
    hosts: tuple[str, ...] = ()


def default_database() -> str:
    """One file in the user's data folder."""
    return str(user_data_path("fineweight", appauthor=False) / "fineweight.db")


def _database(text: str) -> str:
    scheme, mark, _ = text.partition("://")
    if not mark:
        return str(Path(text).expanduser())
    if not text.startswith(POSTGRESQL):
        # The rest of the address may hold a password, so it is not repeated.
        raise ValueError(
            f"'{scheme}://…' is not a database this program knows; give the path of "
            f"an SQLite file or an address that begins with {POSTGRESQL}"
        )
    return text


def _switch(text: str) -> bool:
    if text not in {"on", "off"}:
        raise ValueError(f"'{text}' is neither on nor off")
    return text == "on"


def _proxy_hops(text: str) -> int:
    if not re.fullmatch("[0-9]", text, re.ASCII) or int(text) > MOST_PROXY_HOPS:
        raise ValueError(f"'{text}' is not a whole number from 0 to {MOST_PROXY_HOPS}")
    return int(text)


def _hosts(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(","))
    for name in names:
        if not _HOST.fullmatch(name):
            raise ValueError(
                f"'{name}' is not a host name; list names with commas between, "
                "such as rings.example,localhost"
            )
    return names


_READERS: Mapping[str, Callable[[str], Any]] = {
    "database": _database,
    "metrics": _switch,
    "proxy_hops": _proxy_hops,
    "hosts": _hosts,
}


def _unknown(name: str) -> str:
    known = [PREFIX + setting.upper() for setting in _READERS]
    close = get_close_matches(name, known, n=1) or known
    return f"{name} is not a setting; did you mean {' or '.join(close)}?"


def settings_from(environ: Mapping[str, str]) -> Settings:
    """The settings an environment gives; an empty value counts as not given.

    Raises:
        SettingsRefused: with every bad value and every unknown ``FINEWEIGHT_`` name.

    >>> settings_from({"FINEWEIGHT_DATABASE": "/srv/rings.db"}).database
    '/srv/rings.db'
    """
    values: dict[str, Any] = {}
    faults = []
    for name in sorted(name for name in environ if name.startswith(PREFIX)):
        setting = name.removeprefix(PREFIX).lower()
        if setting not in _READERS:
            faults.append(_unknown(name))
        elif environ[name]:
            try:
                values[setting] = _READERS[setting](environ[name])
            except ValueError as error:
                faults.append(f"{name}: {error}")
    if faults:
        raise SettingsRefused(tuple(faults))
    return Settings(**{"database": default_database()} | values)
