"""The six rings of ``rings_by_hand.txt``, replayed.

Their arithmetic was done apart from the program, in exact fractions. The coins'
figures are those of the catalogue, which names their sources; prices, wages and
chances are made up. Hole rule of the dollar, natural size and sizes bored: common
practice, no source.
"""

import re
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from pricing.catalogue import catalogue_coin
from pricing.estimate import estimate
from pricing.price_book import read_price_book
from pricing.ring_size import us_size
from pricing.spot import Spot
from pricing.wish import OwnCoin, Wish

TEXT = Path(__file__).with_name("rings_by_hand.txt").read_text("utf-8")
PARTS = ("The price book (made up):", "The wish:", "The work:", "The result:")
TITLE = re.compile(r"^RING \d+\. (.+)$", re.MULTILINE)
EXACT = re.compile(r"-?\d+(\.\d+)?")


def between(ring, start, end):
    """The lines between two headings."""
    return ring.split(start, 1)[1].split(end, 1)[0] if end else ring.split(start, 1)[1]


def assignments(text):
    """``name = value`` lines, values as texts."""
    pairs = (line.split("=", 1) for line in text.splitlines() if "=" in line)
    return {name.strip(): value.strip() for name, value in pairs}


def rings():
    """Title and text of each ring."""
    pieces = TITLE.split(TEXT)[1:]
    return dict(zip(pieces[::2], pieces[1::2], strict=True))


def book_of(ring):
    return read_price_book(tomllib.loads(between(ring, PARTS[0], PARTS[1])))


def wish_of(given):
    own = given.get("compensation")
    return Wish(
        size=us_size(Decimal(given["size"])),
        quantity=int(given.get("quantity", "1")),
        extras=tuple(given.get("extras", "").split()),
        own_coin=own and OwnCoin(compensation=Decimal(own)),
    )


def replayed(ring):
    """The estimate of a ring's price book and wish."""
    shop, given = book_of(ring), assignments(between(ring, PARTS[1], PARTS[2]))
    price = given.get("spot")
    spot = price and Spot(price=Decimal(price), currency=shop.currency.code)
    return estimate(shop, catalogue_coin(given["coin"]), spot or None, wish_of(given))


def spot_text(spot):
    return "none" if spot is None else f"{spot:.2f}"


def results(made):
    """What an estimate says to each name a result may have."""
    plan, sale, gone = made.forming, made.price.sale, made.break_even
    return {
        "hole_mm": plan.hole.diameter_mm,
        "thickness_mm": plan.thickness_mm,
        "slug_g": plan.slug_g,
        "bored_g": plan.bored_g,
        "finish_loss_g": plan.finish_loss_g,
        "finished_g": plan.finished_g,
        "outside_diameter_mm": plan.outside_diameter_mm,
        "chance_good": f"{made.spoilage.chance_good:.6f}",
        **{f"line.{kind}": part for kind, part in made.cost.by_kind.items()},
        "attended_minutes": made.cost.attended_minutes,
        "labour": made.cost.labour,
        "per_piece": made.cost.per_piece,
        "unit": sale.unit,
        "net": sale.net,
        "tax": sale.tax,
        "fees": sale.fees_total,
        "margin": sale.margin,
        "margin_rate": sale.margin_rate,
        "bound_by": made.price.bound_by,
        "spot_at_floor": spot_text(gone.spot_at_floor),
        "spot_at_floor_below": spot_text(gone.spot_at_floor_below),
        "spot_at_zero": spot_text(gone.spot_at_zero),
        "spot_at_zero_below": spot_text(gone.spot_at_zero_below),
    }


def value(text):
    return Decimal(text) if EXACT.fullmatch(text) else text


@pytest.mark.parametrize(("title", "ring"), rings().items(), ids=rings().keys())
def test_a_ring_worked_by_hand_comes_out_the_same(title, ring):
    worked = assignments(between(ring, PARTS[3], None).split("====")[0])
    found = results(replayed(ring))
    assert set(worked) == set(found)
    assert {name: value(text) for name, text in worked.items()} == {
        name: value(str(each)) for name, each in found.items()
    }


def test_there_are_six_rings_each_of_its_kind():
    made = [replayed(ring) for ring in rings().values()]
    assert len(made) == 6
    assert sum(each.wish.own_coin is not None for each in made) == 1
    assert sum(each.coin.metal == "base" for each in made) == 1
    assert [each.wish.quantity for each in made] == [1, 1, 1, 1, 1, 3]
    assert not made[-1].channel.tax.inclusive


@pytest.mark.parametrize("ring", rings().values(), ids=rings().keys())
def test_the_arithmetic_shown_names_the_results(ring):
    work, result = between(ring, PARTS[2], PARTS[3]), between(ring, PARTS[3], None)
    for name, text in assignments(result.split("====")[0]).items():
        shown = text.lstrip("-").rstrip("0").rstrip(".")
        if name not in {"margin_rate", "fees", "tax"} and text != "none":
            assert shown in work, name


@pytest.mark.parametrize("ring", rings().values(), ids=rings().keys())
def test_the_figures_of_the_coin_are_those_of_the_catalogue(ring):
    coin = replayed(ring).coin
    head = ring.split(PARTS[0], 1)[0]
    assert f"{coin.gross_mass_g} g" in head
    assert f"{coin.diameter_mm} mm" in head
