"""Commands run in this process against services that live in memory."""

from __future__ import annotations

import logging
from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from api.cli import main
from api.ports import (
    KeyRecord,
    NotFound,
    PreconditionFailed,
    StoredCoin,
)
from pricing.catalogue import catalogue, catalogue_coin
from pricing.price_book import read_price_book

NOON = datetime(2026, 12, 1, 12, tzinfo=UTC)
BOOK = """\
title = "Bench of Ada"
currency = "EUR"
timezone = "Europe/Vienna"
[labour]
rate_per_hour = "32.00"
overhead_per_hour = 9.50
[[stages]]
key = "fold"
title = "Fold"
minutes = "8"
removes = "slug"
[[channels]]
key = "own_shop"
[[policies]]
key = "retail"
target_margin = "0.35"
"""


class Books:
    def __init__(self):
        self.kept = []

    def current(self):
        if not self.kept:
            raise NotFound("no price book yet; load one: fineweight book load FILE")
        return self.kept[-1]

    def version(self, number):
        if not 0 < number <= len(self.kept):
            raise NotFound(f"there is no version {number} of the price book")
        return self.kept[number - 1]

    def replace(self, document, *, expected, note=""):
        current = len(self.kept) or None
        if expected != current:
            raise PreconditionFailed("the price book has changed", current=current)
        self.note = note
        self.kept.append(read_price_book(document, version=len(self.kept) + 1))
        return self.kept[-1]


class Coins:
    def list(self):
        return tuple(
            StoredCoin(coin=c, origin="catalogue") for c in catalogue().values()
        )

    def get(self, key):
        return StoredCoin(coin=catalogue_coin(key), origin="catalogue")


class Keys:
    def __init__(self):
        self.kept = []

    def create(self, scope, label):
        record = KeyRecord(id="00ff", scope=scope, label=label, created_at=NOON)
        self.kept.append(record)
        return record, f"fw_{scope}_00ff_secret"

    def list(self):
        return tuple(self.kept)

    def revoke_all(self):
        self.kept = [replace(record, revoked_at=NOON) for record in self.kept]


class Repricings:
    """None of them was left half way."""

    def recover(self):
        return None


class HookDelivery:
    """There is nothing to deliver."""

    def run(self, stop):
        return SimpleNamespace(elsewhere=stop())

    def release(self):
        return None


@pytest.fixture(autouse=True)
def no_terminal(monkeypatch):
    """However wide the lines are where the tests were started."""
    monkeypatch.delenv("COLUMNS", raising=False)


@pytest.fixture(autouse=True)
def levels_as_they_were():
    """What is logged is not for one test to settle for those that come after."""
    loggers = [logging.getLogger(name) for name in ("api", "waitress.queue")]
    before = [each.level for each in loggers]
    yield
    for logger, level in zip(loggers, before, strict=True):
        logger.setLevel(level)


@pytest.fixture
def services():
    return SimpleNamespace(
        price_books=Books(),
        coins=Coins(),
        keys=Keys(),
        repricings=Repricings(),
        hook_delivery=HookDelivery(),
    )


@pytest.fixture
def run(services, monkeypatch):
    monkeypatch.delenv("FINEWEIGHT_DATABASE", raising=False)

    def run(*arguments, given=None, **more):
        return CliRunner().invoke(
            main, [str(each) for each in arguments], obj=given or services, **more
        )

    return run


@pytest.fixture
def book_file(tmp_path):
    file = tmp_path / "my book.toml"
    file.write_text(BOOK, "utf-8")
    return file
