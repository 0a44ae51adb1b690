"""What the owner can set, read once from the environment and checked whole."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from ipaddress import IPv4Network, IPv6Network, ip_network
from pathlib import Path
from typing import Any

from platformdirs import user_cache_path, user_data_path

PREFIX = "FINEWEIGHT_"
POSTGRESQL = "postgresql+psycopg://"
MOST_PROXY_HOPS = 8
USUAL_QUOTES = 120
USUAL_SHEETS = 60
USUAL_WINDOW = 120
USUAL_HOLDS = 10

ELSEWHERE, ALWAYS = "elsewhere", "always"

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
        proxy_hops: reverse proxies in front whose forwarding headers are believed.
        hosts: host names answered to; empty answers to any.
        feed_networks: private networks in which feeds may lie, on any port.
        feed_http: whether feeds may be asked without encryption.
        feed_cache: disposable file of what feeds answered; None keeps it in memory.
        hook_networks: private networks in which endpoints of hooks may lie.
        hook_http: whether endpoints of hooks may be reached without encryption.
        quota_quotes: requests about quotes that a key may make [1/minute].
        quota_sheets: customers' sheets that an address may open [1/minute].
        quota_window: listings and prices that a storefront's key may ask for
            [1/minute].
        quota_holds: prices that a key may have held [1/minute].
        sign_in: whether the pages of the bench ask for the passphrase everywhere
            (``always``) or of other machines only (``elsewhere``).
        plain_http: whether other machines may see those pages without encryption.
    """

    database: str
    proxy_hops: int = 0
    hosts: tuple[str, ...] = ()
    feed_networks: tuple[IPv4Network | IPv6Network, ...] = ()
    feed_http: bool = False
    feed_cache: Path | None = None
    hook_networks: tuple[IPv4Network | IPv6Network, ...] = ()
    hook_http: bool = False
    quota_quotes: int = USUAL_QUOTES
    quota_sheets: int = USUAL_SHEETS
    quota_window: int = USUAL_WINDOW
    quota_holds: int = USUAL_HOLDS
    sign_in: str = ELSEWHERE
    plain_http: bool = False


def default_database() -> str:
    """One file in the user's data folder."""
    return str(user_data_path("fineweight", appauthor=False) / "fineweight.db")


def default_feed_cache() -> Path:
    """One file in the user's folder for what may be lost."""
    return user_cache_path("fineweight", appauthor=False) / "feed-answers.db"


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


def _networks(text: str) -> tuple[IPv4Network | IPv6Network, ...]:
    try:
        return tuple(ip_network(entry.strip()) for entry in text.split(","))
    except ValueError as error:
        raise ValueError(
            f"{error}; list networks with commas between, such as "
            "192.168.1.0/24,127.0.0.1/32"
        ) from error


def _quota(text: str) -> int:
    if not re.fullmatch("[1-9][0-9]{0,5}", text, re.ASCII):
        raise ValueError(
            f"'{text}' is not a whole number of requests a minute from 1 to 999999"
        )
    return int(text)


def _sign_in(text: str) -> str:
    if text not in {ELSEWHERE, ALWAYS}:
        raise ValueError(f"'{text}' is neither {ELSEWHERE} nor {ALWAYS}")
    return text


def _file(text: str) -> Path:
    return Path(text).expanduser()


_READERS: Mapping[str, Callable[[str], Any]] = {
    "database": _database,
    "proxy_hops": _proxy_hops,
    "hosts": _hosts,
    "feed_networks": _networks,
    "feed_http": _switch,
    "feed_cache": _file,
    "hook_networks": _networks,
    "hook_http": _switch,
    "quota_quotes": _quota,
    "quota_sheets": _quota,
    "quota_window": _quota,
    "quota_holds": _quota,
    "sign_in": _sign_in,
    "plain_http": _switch,
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
    usual: dict[str, Any] = {
        "database": default_database(),
        "feed_cache": default_feed_cache(),
    }
    values = usual | values
    if values["feed_cache"] == Path(values["database"]):
        faults.append(
            f"{PREFIX}FEED_CACHE: names the database; it has to be a file of its own, "
            "which may be deleted at any time"
        )
    if faults:
        raise SettingsRefused(tuple(faults))
    return Settings(**values)
