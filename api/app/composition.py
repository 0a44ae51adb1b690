"""Where settings become services: storage, clock and fetcher wired together."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TypedDict

from api import db, quotas
from api.app.bench import Bench, make_bench
from api.app.window import Window, make_window
from api.db.backups import SqlBackups
from api.db.engine import make_engine
from api.feeds.on_demand import FetcherOnDemand
from api.feeds.reading import read_feed
from api.hooks.on_demand import SenderOnDemand
from api.ports import Clock, Fetcher
from api.ports.backups import Backups
from api.ports.hooks import Sender
from api.schemas.estimate_document import estimate_document
from api.services import (
    Coins,
    Estimates,
    Feeds,
    Fetching,
    Keys,
    PriceBooks,
    Quotes,
    Snapshots,
    SpotPrices,
)
from api.services.audit import Audit
from api.services.backup_file import BackupFiles
from api.services.counting_ahead import CountingAhead
from api.services.health import Health
from api.services.hooks.delivery import HookDelivery
from api.services.hooks.hooks import Hooks
from api.services.hooks.telling import HookTelling
from api.services.installation import Installation
from api.services.listings.listings import Listings
from api.services.price_trials import PriceTrials
from api.services.quotas import Quotas
from api.services.quotes.making import QuoteMaking
from api.services.replays import Replays
from api.services.repricings.compiled_bands import CompiledBands
from api.services.repricings.pace import MANY_WRITERS, ONE_WRITER, Pace
from api.services.repricings.repricings import Repricings
from api.services.sessions import Sessions
from api.services.spot.standing import Standings
from api.settings import POSTGRESQL, Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Services:
    """Everything the API and the command line can ask for.

    ``snapshots`` holds one view of what is stored for the length of a request.
    """

    storage: db.SqlStorage
    clock: Clock
    snapshots: Snapshots
    keys: Keys
    price_books: PriceBooks
    price_trials: PriceTrials
    coins: Coins
    feeds: Feeds
    fetching: Fetching
    spot_prices: SpotPrices
    standings: Standings
    estimates: Estimates
    quotes: Quotes
    listings: Listings
    repricings: Repricings
    hooks: Hooks
    hook_delivery: HookDelivery
    window: Window
    bench: Bench
    installation: Installation
    quotas: Quotas
    replays: Replays
    audit: Audit
    health: Health
    sessions: Sessions
    backup_files: BackupFiles

    def close(self) -> None:
        """Let go of the database."""
        self.quotas.close()
        self.storage.close()


class Ground(TypedDict):
    """What every price stands on."""

    books: PriceBooks
    coins: Coins
    spots: SpotPrices


class SystemClock:
    """The machine's clock."""

    def now(self) -> datetime:
        """The present instant, in UTC."""
        return datetime.now(UTC)


def compose(
    settings: Settings,
    *,
    clock: Clock | None = None,
    fetcher: Fetcher | None = None,
    sender: Sender | None = None,
) -> Services:
    """The services on the database of ``settings``; a new file gets its tables.

    Args:
        settings: how this installation runs.
        clock: in place of the machine's, for tests.
        fetcher: in place of the one that ``settings`` describe, for tests.
        sender: likewise, of hooks' messages.
    """
    storage, clock = _storage(settings), clock or SystemClock()
    snapshots, installation = Snapshots(storage, clock), Installation(storage)
    books, coins = PriceBooks(snapshots, clock), Coins(snapshots, clock)
    sources, compiled = Feeds(snapshots, clock), CompiledBands(coins)
    asks = fetcher or _fetcher(settings)
    fetching = Fetching(snapshots, clock, feeds=sources, fetcher=asks, reader=read_feed)
    spots = SpotPrices(snapshots, clock, feeds=sources, fetching=fetching)
    ground = Ground(books=books, coins=coins, spots=spots)
    making = QuoteMaking(snapshots, clock, **ground, write_estimate=estimate_document)
    hooks, delivery = _hooks(snapshots, clock, books, sender or _sender(settings))
    shop = Listings(snapshots, clock, **ground, compiled=compiled)
    return Services(
        storage=storage, health=Health(storage), clock=clock, snapshots=snapshots,
        keys=Keys(snapshots, clock), price_books=books, coins=coins, feeds=sources,
        fetching=fetching, spot_prices=spots, hooks=hooks, hook_delivery=delivery,
        price_trials=PriceTrials(snapshots, **ground), installation=installation,
        standings=Standings(snapshots, clock, feeds=sources, spots=spots),
        estimates=Estimates(snapshots, clock, **ground),
        quotes=Quotes(snapshots, clock, making=making, feeds=sources), listings=shop,
        bench=make_bench(snapshots, clock, **ground, making=making),
        repricings=Repricings(snapshots, clock, books=books, spots=spots,
            compiled=compiled, pace=_pace(settings)),
        window=make_window(snapshots, clock, books=books, coins=coins, making=making),
        quotas=_quotas(settings, snapshots, clock, installation),
        audit=Audit(snapshots), replays=Replays(snapshots, clock),
        sessions=Sessions(snapshots, clock, installation=installation),
        backup_files=BackupFiles(snapshots, clock, backups=backups(settings)),
    )  # fmt: skip


def _storage(settings: Settings) -> db.SqlStorage:
    if not settings.database.startswith(POSTGRESQL) and _is_new(settings.database):
        upgrade(settings)
    return db.open_storage(settings.database)


def _quotas(
    settings: Settings, snapshots: Snapshots, clock: Clock, installation: Installation
) -> Quotas:
    limits = {
        quotas.QUOTES.name: settings.quota_quotes,
        quotas.SHEETS.name: settings.quota_sheets,
        quotas.SHOWN.name: settings.quota_window,
        quotas.HOLDS.name: settings.quota_holds,
    }
    ahead = CountingAhead(snapshots)
    return Quotas(
        snapshots, clock, installation=installation, limits=limits, ahead=ahead
    )


def _pace(settings: Settings) -> Pace:
    many = settings.database.startswith(POSTGRESQL)
    return MANY_WRITERS if many else ONE_WRITER


def _fetcher(settings: Settings) -> Fetcher:
    return FetcherOnDemand(
        settings.feed_cache,
        networks=settings.feed_networks,
        plain_http=settings.feed_http,
    )


def _hooks(
    snapshots: Snapshots, clock: Clock, books: PriceBooks, sender: Sender
) -> tuple[Hooks, HookDelivery]:
    telling = HookTelling(books)
    delivery = HookDelivery(snapshots, clock, telling=telling, sender=sender)
    return Hooks(snapshots, clock, sender=sender), delivery


def _sender(settings: Settings) -> Sender:
    return SenderOnDemand(
        networks=settings.hook_networks, plain_http=settings.hook_http
    )


def _is_new(file: str) -> bool:
    path = Path(file)
    return not path.exists() or path.stat().st_size == 0


def upgrade(settings: Settings) -> str:
    """Bring the database to this program's schema; the schema's revision."""
    engine = make_engine(settings.database)
    try:
        return db.upgrade(engine).after
    finally:
        engine.dispose()


def backups(settings: Settings) -> Backups:
    """Backups of the database of ``settings``."""
    return SqlBackups(settings.database, SystemClock())
