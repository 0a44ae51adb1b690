"""Small invented workshops, coins and wishes that tests are written with."""

from dataclasses import replace
from decimal import Decimal

from pricing import price_book as pb
from pricing.catalogue import catalogue_coin
from pricing.coin import Coin
from pricing.money import currency
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.wish import Wish

DOLLAR = catalogue_coin("us_dollar_1921_1935")
EURO = currency("EUR")


def rate(text):
    return pb.Chance(rate=Decimal(text))


def redo(text, to):
    return pb.Redo(chance=rate(text), to=to)


def stage(key, **figures):
    """A stage; texts and whole numbers stand for exact figures."""
    exact = {
        name: Decimal(value) if name.endswith("minutes") else value
        for name, value in figures.items()
    }
    return pb.Stage(key=key, title=key.capitalize(), **exact)


ROUTE = (
    stage("punch", minutes="4", removes="slug", scrap=rate("0.02")),
    stage("fold", minutes="12", scrap=rate("0.05"), redo=redo("0.10", "fold")),
    stage("bore", minutes="9", removes="bore", scrap=rate("0.03")),
    stage("polish", minutes="6", removes="finish", redo=redo("0.04", "polish")),
)
SHOP = pb.Channel(
    key="shop",
    title="Shop",
    tax=pb.Tax(rate=Decimal("0.20")),
    fees=(pb.Fee(label="card", rate=Decimal("0.02"), fixed=Decimal("0.25")),),
    shipping=pb.Shipping(charged=Decimal("6.90"), paid=Decimal("5.40")),
    packaging=Decimal("1.80"),
)
RETAIL = pb.Policy(
    key="retail", target_margin=Decimal("0.35"), floor_margin=Decimal("0.20")
)


def book(**parts):
    """A whole workshop; name the parts that should differ."""
    whole = {
        "title": "Invented workshop",
        "currency": EURO,
        "timezone": "UTC",
        "labour": pb.Labour(
            rate_per_hour=Decimal(30), overhead_per_hour=Decimal("9.50")
        ),
        "stages": ROUTE,
        "recovery": pb.Recovery(
            slug=Decimal("0.90"), filings=Decimal("0.55"), scrap=Decimal("0.88")
        ),
        "coin_buying": pb.CoinBuying(premium=Decimal("0.12"), wear=Decimal("0.01")),
        "channels": (SHOP,),
        "policies": (RETAIL,),
    }
    return pb.PriceBook(**{**whole, **parts})


def policy(**rules):
    """A policy with only these rules, given as texts."""
    exact = {
        name: Decimal(value) if isinstance(value, str) else value
        for name, value in rules.items()
    }
    return pb.Policy(key="only", **exact)


def silver_coin(**figures):
    """A coin of one's own, 900 fine, 30 mm across, 2 mm thick."""
    whole = {
        "name": "Invented coin",
        "fineness_permille": Decimal(900),
        "gross_mass_g": Decimal("14.58"),
        "diameter_mm": Decimal(30),
        "bore_allowance": Decimal(1),
    }
    return Coin(**{**whole, **figures})


def base_coin(**figures):
    """A cupronickel coin, with no metal price."""
    base = {
        "metal": "base",
        "fineness_permille": Decimal(0),
        "density_g_cm3": Decimal("8.95"),
        "paid": Decimal("1.50"),
    }
    return silver_coin(**{**base, **figures})


def spot(price="27.50", code="EUR"):
    return Spot(price=Decimal(price), currency=code)


def wish(us="10", **asked):
    return replace(Wish(size=us_size(Decimal(us))), **asked)
