"""What was changed meanwhile is never written over, by a run or by taking it back."""

from __future__ import annotations

import random
from collections import Counter
from decimal import Decimal

import pytest

from api.ports import Conflict, Place
from tests.contract.shop import (
    SMALL,
    UP,
    against,
    apply,
    begin,
    by_id,
    chunk,
    clear,
    edit,
    get,
    give_up,
    listing,
    opened,
    preview,
    priced,
    prices,
    ready,
    remove,
    stock,
    switch,
    touched,
    undo,
)

FIVE = Decimal(5)
LARGE_A = Place("a", Decimal("9.75"))


@pytest.fixture
def shop(any_storage):
    return opened(any_storage)


@pytest.mark.parametrize(
    "change",
    [
        lambda shop: edit(shop, title="Other"),
        lambda shop: edit(shop, locked=True),
        lambda shop: edit(shop, bands=priced(get(shop), "70", "80")),
        lambda shop: edit(shop, bands=()),
        remove,
    ],
)
@pytest.mark.parametrize("chunks", [None, 0, 1, 2])
def test_a_listing_changed_since_the_preview_stops_the_run(shop, change, chunks):
    run = preview(shop)
    begun = None if chunks is None else begin(shop, run)
    after = 0
    for _ in range(chunks or 0):
        after = chunk(shop, begun, after)
    assert change(shop)
    before = prices(shop)
    assert against(shop, run) == ("a",)
    if begun is None:
        with pytest.raises(Conflict, match="'a'"):
            begin(shop, run)
        assert by_id(shop, run).status == "preview"
        return
    ready(shop, begun, after=after)
    with pytest.raises(Conflict, match="'a'"):
        switch(shop, begun)
    assert prices(shop) == before
    clear(shop, give_up(shop, begun))
    assert prices(shop) == before


def test_what_the_run_does_not_touch_does_not_stop_it(shop):
    before = prices(shop)
    run = preview(shop, skus=("b",))
    stock(shop, listing("new"))
    edit(shop, bands=priced(get(shop), "70", "80"))
    other = apply(shop, preview(shop, skus=("new",)))
    undo(shop, other)
    assert against(shop, run) == ()
    apply(shop, run)
    after = prices(shop)
    assert after["b", "5.00", "9.50"] == str(SMALL.price + UP)
    assert after["a", "5.00", "9.50"] == "70.00"
    assert after["new", "5.00", "9.50"] == before["a", "5.00", "9.50"]


def test_another_run_in_between_stops_the_run_where_both_touch(shop):
    stock(shop, listing("c"))
    run = preview(shop, skus=("a", "b"))
    other = apply(shop, preview(shop, skus=("b", "c")))
    assert against(shop, run) == ("b",)
    with pytest.raises(Conflict, match="'b'"):
        begin(shop, run)
    later = preview(shop)
    assert against(shop, later) == ()
    undo(shop, other)
    assert against(shop, later) == ("b", "c")
    assert against(shop, later, limit=1) == ("b",)


def test_a_new_listing_of_an_equal_spec_is_left_alone_by_a_run_under_way(shop):
    begun = begin(shop, preview(shop))
    stock(shop, listing("c"))
    ready(shop, begun)
    switch(shop, begun)
    assert prices(shop)["c", "5.00", "9.50"] == str(SMALL.price)
    assert prices(shop)["a", "5.00", "9.50"] == str(SMALL.price + UP)


def test_what_was_changed_after_a_run_is_told_by_place(shop):
    stock(shop, *(listing(sku) for sku in "cdefg"))
    run = apply(shop, preview(shop, skus=tuple("abcdef")))
    edit(shop, "a", bands=priced(get(shop, "a"), "94.95", "1"))
    edit(shop, "b", title="only a word", locked=True)
    remove(shop, "c")
    edit(shop, "d", channel="fair")
    edit(shop, "e", bands=get(shop, "e").bands[:1])
    edit(shop, "g", bands=priced(get(shop, "g"), "1", "2"))
    large = Decimal("9.75")
    found = (LARGE_A, Place("d", FIVE), Place("d", large), Place("e", large))
    assert touched(shop, run) == found
    assert touched(shop, run, limit=2) == found[:2]


def test_words_may_change_after_a_run_and_its_prices_still_be_undone(shop):
    before = prices(shop)
    run = apply(shop, preview(shop))
    assert edit(shop, title="Other", published=True)
    assert {one.run for one in get(shop).bands} == {run.seq}
    undo(shop, run)
    assert prices(shop) == before


def test_an_edit_of_a_price_in_force_is_what_is_in_force(shop):
    run = apply(shop, preview(shop))
    edit(shop, bands=priced(get(shop), "94.95", "120"))
    assert [(str(x.price), x.run) for x in get(shop).bands] == [
        ("94.95", run.seq),
        ("120.00", None),
    ]
    apply(shop, preview(shop, skus=("a",)))
    assert [str(one.price) for one in get(shop).bands] == ["99.95", "125.00"]


class Model:
    """What the prices have to be, by a dictionary that is copied and put back."""

    def __init__(self, now):
        self.now = now
        self.before = {}

    def apply(self, seq, skus):
        self.before[seq] = dict(self.now)
        self.now = {
            where: str(Decimal(price) + UP) if where[0] in skus else price
            for where, price in self.now.items()
        }

    def undo(self, seq, skus):
        back = self.before[seq]
        self.now |= {where: back[where] for where in back if where[0] in skus}


@pytest.mark.parametrize("seed", range(4))
def test_any_order_of_deeds_leaves_the_prices_of_a_plain_model(any_storage, seed):
    chance = random.Random(seed)  # noqa: S311 - no secret
    shop = opened(any_storage, *(listing(sku) for sku in "abc"))
    model, applied, deeds = Model(prices(shop)), {}, Counter()
    for number in range(25):
        skus = tuple(chance.sample("abc", chance.randint(1, 3)))
        deed = chance.choice(["apply", "undo", "edit", "give up"])
        if deed == "apply":
            run = apply(shop, preview(shop, skus=skus))
            model.apply(run.seq, skus)
            applied[run.seq] = run
        elif deed == "give up":
            begun = begin(shop, preview(shop, skus=skus))
            chunk(shop, begun)
            clear(shop, give_up(shop, begun))
        elif deed == "edit":
            new = priced(get(shop, skus[0]), f"{number + 1}.5", f"{number + 1}.25")
            edit(shop, skus[0], bands=new)
            keys = [where for where in model.now if where[0] == skus[0]]
            found = zip(sorted(keys, key=lambda k: Decimal(k[1])), new, strict=True)
            model.now |= {where: str(one.price.quantize(Decimal("0.01")))
                          for where, one in found}  # fmt: skip
        elif applied:
            seq = chance.choice([*applied])
            run = applied[seq]
            if touched(shop, run):
                continue
            undo(shop, run)
            clear(shop, run)
            model.undo(seq, run.skus)
            del applied[seq]
        deeds[deed] += 1
        assert prices(shop) == model.now, (seed, number, deed)
    assert deeds["apply"]
    assert deeds["give up"]
