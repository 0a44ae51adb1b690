"""The demo: an invented workshop prices three real coins and promises rings.

Then it serves the API, the sheet of what was promised, and beside it a small web shop
at an address of its own, which sells the rings in the window and is told when their
prices change.

The workshop, its place and its figures are made up, the price of silver too, which
is fetched from a feed of the demo's own on this machine; the coins are real. The
database is made anew at every start, in the folder `.demo` of this project.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tomllib
from datetime import UTC, datetime, time
from decimal import Decimal
from ipaddress import ip_network
from pathlib import Path
from typing import Any

import bench_days
import click
import feed_server
import following
import promises
import shop
from invitation import Invitation

from api.app import Services, compose, create_app
from api.cli.delivering import delivering
from api.cli.estimate_sheet import sheet
from api.cli.output import colour, table
from api.cli.serve import addresses, listen
from api.cli.spot_words import result
from api.ports import FetchResult, Repricing, SpotEntry, StoredQuote, UnitOfWork
from api.services.actor import Actor, acting
from api.settings import Settings
from pricing.estimate import Estimate
from pricing.money import percent, shown
from pricing.ring_size import ring_size
from pricing.wish import Wish

HERE = Path(__file__).resolve().parent
FOLDER = HERE.parent / ".demo"
BOOK = HERE / "price_book.toml"
FEED = HERE / "feed.toml"
LOCAL = (ip_network("127.0.0.0/8"),)
RINGS = (
    ("at_50s_1959_1973", "us", "8.5"),
    ("fr_5f_1960_1969", "iso", "52"),
    ("nl_2_5g_1959_1966", "uk", "T 1/2"),
)
HEADINGS = ("coin", "finger", "ring", "bench", "cost", "price", "margin", "floor")


def open_workshop(folder: Path, feed_url: str) -> tuple[Settings, Services, str]:
    """A new database with the price book, a feed with its history, and a bench key."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    settings = Settings(
        database=str(folder / "workshop.sqlite3"),
        # Only the demo may ask and tell this machine, and without encryption.
        feed_networks=LOCAL,
        feed_http=True,
        hook_networks=LOCAL,
        hook_http=True,
        feed_cache=folder / "feed-answers.sqlite3",
    )
    services = compose(settings)
    document = tomllib.loads(BOOK.read_text("utf-8"))
    services.price_books.replace(document, expected=None, note="demo")
    set_feed_up(services, feed_url)
    _, token = services.keys.create("bench", "demo")
    return settings, services, token


def set_feed_up(services: Services, url: str) -> None:
    """The demo's feed, and what it said on the days before today."""
    document = tomllib.loads(FEED.read_text("utf-8")) | {"url": url}
    key = document.pop("key")
    services.feeds.put(key, document, expected=None)
    now = datetime.now(UTC)
    entries = [
        SpotEntry(
            metal="XAG",
            price=close,
            currency=document["currency"],
            as_of=datetime.combine(day, time(12), UTC),
            source=key,
            note="invented",
            by="demo",
            recorded_at=now,
        )
        for day, close in feed_server.walk(now.date()).items()
        if day < now.date()
    ]

    def remember(unit: UnitOfWork) -> None:
        unit.revisions.bump("spot_prices")
        for entry in entries:
            unit.spots.add(entry)

    services.storage.write(remember)


def fetch(services: Services) -> FetchResult:
    """Ask the feed, as anybody would with `fineweight spot fetch`."""
    (found,) = services.spot_prices.fetch()
    return found


def price(services: Services) -> list[Estimate]:
    """The three rings at the fetched spot."""
    wishes = ((coin, Wish(size=ring_size(by, size))) for coin, by, size in RINGS)
    return [services.estimates.estimate(coin, wish) for coin, wish in wishes]


def overview(rings: list[Estimate]) -> str:
    """One line a ring."""
    rows = [
        (
            ring.coin.label,
            ring.wish.size.label,
            f"{shown(ring.forming.finished_g, Decimal('0.1'))} g",
            f"{shown(ring.cost.attended_minutes, Decimal(1))} min",
            ring.cost.per_piece,
            ring.price.sale.unit,
            percent(ring.price.sale.margin_rate or Decimal(0)),
            _floor(ring),
        )
        for ring in rings
    ]
    return table(HEADINGS, rows, right="  rrrrrr")


def _floor(ring: Estimate) -> str:
    spot = ring.break_even.spot_at_floor
    return "" if spot is None else shown(spot, ring.currency.step)


def say(text: str) -> None:
    """Print, with colours only where a terminal shows them."""
    click.echo(text, color=colour())


def tell(services: Services) -> None:
    """Print the overview and, for the first ring, the whole sheet."""
    book = services.price_books.current()
    say(f"{book.title} (invented) fetches silver from the demo's own feed:\n")
    say(result(fetch(services)))
    spot = services.spot_prices.current()
    say(f"\nThree rings with silver at {spot.price} {spot.currency} a troy ounce:\n")
    rings = price(services)
    say(overview(rings))
    say("\nmargin: of the net price; floor: silver at which it falls to its floor")
    say("\nThe first of them, with all that makes its price:\n")
    say(sheet(rings[0]))


def promise(services: Services) -> StoredQuote:
    """Tell of two quotes: one that is accepted, one that is renewed; the first."""
    say(
        "\nA customer asked by mail for a pair of rings. The quote, with the costs that"
    )
    say("only the workshop sees:\n")
    pair = promises.pair(services)
    say(promises.told(services, pair))
    say("\nThe customer accepts:\n")
    say(promises.accept(services, pair))
    say("\nAnother quote waits until silver has moved (invented), and is renewed:\n")
    say(promises.renew(services, promises.single(services)))
    return pair


def look_back(services: Services, quote: StoredQuote) -> None:
    """Tell of the rings that were made, and whether they earned what was planned."""
    bench_days.work(services, quote)
    say("\nFour weeks at the bench were logged (invented). The check of this week:\n")
    say(bench_days.told(services))
    say("\nAll of it: fineweight week --database .demo/workshop.sqlite3")


def open_shop(services: Services, address: str, *, port: int) -> str:
    """Start the shop beside the workshop, with keys and a hook; its address."""
    _, for_the_server = services.keys.create("shop", "demo shop")
    _, for_browsers = services.keys.create("window", "demo shop's pages")
    sells = shop.Shop(shop.Workshop(address, for_the_server), for_browsers)
    app = shop.create_shop(sells)
    found = shop.serve_beside(listen(app, host="127.0.0.1", port=port, threads=4))
    hook = services.hooks.add(f"{found}/hook", [shop.PRICES_CHANGED])
    sells.hook_secrets = hook.secrets
    return found


def follow(services: Services) -> Repricing:
    """Tell of listings in a file, and what becomes of prices as silver moves.

    Returns:
        A preview that waits for whoever wants to see the shop follow.
    """
    say("\nListings come from a file, demo/listings.csv (invented):\n")
    skus, told = following.stock(services)
    say(told)
    say("\nSilver has moved (invented). What would become of these prices:\n")
    run = following.preview(services, skus)
    say(following.told(services, run))
    say("\nApplied, all at once, and then taken back:\n")
    done, told = following.apply(services, run)
    say(told)
    say(following.undo(services, done))
    return following.preview(services, skus)


def serve(
    settings: Settings,
    services: Services,
    told: Invitation,
    *,
    ports: tuple[int, int],
) -> None:
    """Serve, and the shop beside, until interrupted; this machine alone can ask."""
    app, (port, shop_port) = create_app(settings, services), ports
    server: Any = listen(app, host="127.0.0.1", port=port, threads=4)
    address = next(addresses(server))
    say(told.text(address, shop=open_shop(services, address, port=shop_port)))
    with delivering(services.hook_delivery):
        server.run()


def main(arguments: list[str]) -> int:
    """Tell the story; 0 when it was told."""
    parser = argparse.ArgumentParser(prog="demo/run", description=__doc__)
    parser.add_argument("--once", action="store_true", help="price, promise and end")
    parser.add_argument("--port", type=int, default=8371)
    parser.add_argument("--shop-port", type=int, default=shop.PORT)
    asked = parser.parse_args(arguments)
    who = Actor(by="demo")
    with feed_server.serving() as feed_url, acting(who):
        settings, services, token = open_workshop(FOLDER, feed_url)
        tell(services)
        quote = promise(services)
        run = follow(services)
        look_back(services, quote)
        if not asked.once:
            told = Invitation(token=token, quote=quote, run=run)
            serve(settings, services, told, ports=(asked.port, asked.shop_port))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
