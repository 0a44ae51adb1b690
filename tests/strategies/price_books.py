"""Valid price books and their parts, drawn at random.

Everything drawn can be read back from its document: keys are unique, references
resolve, and figures agree with one another as the reader demands.
"""

from decimal import Decimal
from functools import cache

from hypothesis import strategies as st

from pricing import price_book as pb
from pricing.money import Currency, currency

CURRENCIES = ("EUR", "USD", "JPY", "KWD")
TIMEZONES = ("Europe/Vienna", "UTC", "Asia/Tokyo")
HUNDREDTHS = Decimal("0.01")
KEYS = (
    *("fold", "punch", "anneal", "anneal_2", "wrap_down", "stretch", "press", "bore"),
    *("polish", "7", "0_", "x" * 40, "at_50s_1959", "retail", "trade", "box"),
)
LETTERS = st.characters(
    min_codepoint=0x20,
    max_codepoint=0x2FF,
    exclude_categories=("Cc", "Cf", "Cs", "Cn", "Zl", "Zp"),
)


@cache
def figures(
    least: int, most: int, *, step: Decimal = HUNDREDTHS
) -> st.SearchStrategy[Decimal]:
    """Decimals from ``least`` to ``most`` whole steps."""
    return st.integers(least, most).map(lambda n: n * step)


@cache
def amounts(most: int = 200) -> st.SearchStrategy[Decimal]:
    return figures(0, most * 100)


@cache
def shares(most: int = 100) -> st.SearchStrategy[Decimal]:
    """From 0 to ``most`` hundredths."""
    return figures(0, most)


@cache
def keys() -> st.SearchStrategy[str]:
    return st.sampled_from(KEYS)


@cache
def texts() -> st.SearchStrategy[str]:
    return st.text(LETTERS, min_size=1, max_size=12).filter(str.strip)


@cache
def unique_keys(least: int, most: int) -> st.SearchStrategy[list[str]]:
    return st.lists(keys(), min_size=least, max_size=most, unique=True)


@cache
def labours() -> st.SearchStrategy[pb.Labour]:
    return st.builds(
        pb.Labour,
        rate_per_hour=amounts(80),
        overhead_per_hour=amounts(30),
        hours_per_week=st.none() | figures(1, 16_800),
    )


@st.composite
def consumables(draw) -> tuple[pb.Consumable, ...]:
    return tuple(
        pb.Consumable(
            key=key,
            unit=draw(st.sampled_from(("g", "m", "piece"))),
            price=draw(amounts(20)),
            title=draw(st.just("") | texts()),
        )
        for key in draw(unique_keys(0, 3))
    )


@st.composite
def tools(draw) -> tuple[pb.Tool, ...]:
    drawn = []
    for key in draw(unique_keys(0, 3)):
        price = draw(amounts(300))
        salvage = price * draw(shares())
        life = draw(st.integers(1, 5000))
        tool = pb.Tool(key=key, price=price, salvage=salvage, life_uses=life)
        drawn.append(tool)
    return tuple(drawn)


@st.composite
def chances(draw, most: int = 40) -> pb.Chance:
    """Given or counted, with a mean of at most ``most`` hundredths."""
    if draw(st.booleans()):
        return pb.Chance(rate=draw(shares(most)))
    tried = draw(st.integers(10, 500))
    # mean (failed + 1/2) / (tried + 1) stays under most / 100
    return pb.Chance(
        tried=tried, failed=draw(st.integers(0, max(0, tried * most // 100 - 1)))
    )


@cache
def by_driver(most: int = 5) -> st.SearchStrategy[dict[str, Decimal]]:
    return st.dictionaries(st.sampled_from(pb.DRIVERS), amounts(most), max_size=2)


@st.composite
def _removals(draw, count: int) -> list[str]:
    """One removal a stage: a slug somewhere, then perhaps a bore and a finish."""
    kinds = [
        "slug",
        *draw(st.sampled_from(((), ("bore",), ("finish",), ("bore", "finish")))),
    ]
    places = draw(
        st.lists(
            st.integers(0, count - 1),
            min_size=min(len(kinds), count),
            max_size=min(len(kinds), count),
            unique=True,
        )
    )
    removals = [""] * count
    for place, kind in zip(sorted(places), kinds, strict=False):
        removals[place] = kind
    return removals


@st.composite
def _uses(draw, known: tuple[str, ...]) -> tuple[pb.ConsumableUse, ...]:
    if not known:
        return ()
    chosen = draw(st.lists(st.sampled_from(known), max_size=2, unique=True))
    return tuple(
        pb.ConsumableUse(
            key=key, quantity=draw(amounts(3)), quantity_per=draw(by_driver(2))
        )
        for key in chosen
    )


@st.composite
def stages(
    draw,
    *,
    consumables: tuple[str, ...] = (),
    tools: tuple[str, ...] = (),
    most: int = 4,
) -> tuple[pb.Stage, ...]:
    """A whole valid route of up to ``most`` stages, as a tuple.

    Stages may use the consumables and tools whose keys are given.
    """
    names = draw(unique_keys(1, most))
    removals = draw(_removals(len(names)))
    choose = st.lists(st.sampled_from(tools), max_size=2, unique=True)
    return tuple(
        pb.Stage(
            key=key,
            title=draw(texts()),
            setup_minutes=draw(amounts(10)),
            batch=draw(st.integers(1, 12)),
            minutes=draw(amounts(20)),
            minutes_per=draw(by_driver()),
            unattended_minutes=draw(amounts(30)),
            consumables=draw(_uses(consumables)),
            tools=tuple(draw(choose)) if tools else (),
            removes=removals[i],
            scrap=draw(chances()),
            redo=draw(st.none() | _redos(tuple(names[: i + 1]))),
        )
        for i, key in enumerate(names)
    )


@cache
def _redos(reachable: tuple[str, ...]) -> st.SearchStrategy[pb.Redo]:
    return st.builds(pb.Redo, chance=chances(), to=st.sampled_from(reachable))


@cache
def recoveries() -> st.SearchStrategy[pb.Recovery]:
    return st.builds(
        pb.Recovery,
        slug=shares(),
        filings=shares(),
        scrap=shares(),
        finish_loss=shares(5),
    )


@cache
def coin_buyings() -> st.SearchStrategy[pb.CoinBuying]:
    return st.builds(
        pb.CoinBuying,
        basis=st.sampled_from(pb.BASES),
        premium=figures(-20, 100),
        extra=amounts(5),
        paid=st.none() | amounts(60),
        wear=shares(5),
    )


@st.composite
def channels(draw, *, unit: Currency = Currency("EUR", 2)) -> pb.Channel:  # noqa: B008 (frozen)
    return pb.Channel(
        key=draw(keys()),
        title=draw(st.just("") | texts()),
        tax=draw(st.builds(pb.Tax, rate=shares(27), inclusive=st.booleans())),
        fees=tuple(
            draw(st.lists(_fees(), max_size=2, unique_by=lambda fee: fee.label))
        ),
        shipping=draw(
            st.builds(
                pb.Shipping,
                charged=figures(0, 1000, step=unit.step),
                paid=figures(0, 1000, step=unit.step),
            )
        ),
        packaging=draw(amounts(5)),
    )


@cache
def _fees() -> st.SearchStrategy[pb.Fee]:
    return st.builds(
        pb.Fee,
        label=texts(),
        rate=shares(12),
        fixed=amounts(2),
        on=st.sampled_from(pb.FEE_BASES),
    )


@st.composite
def _breaks(draw, *, floor: int, target: int) -> tuple[pb.QuantityBreak, ...]:
    margins = st.lists(st.integers(floor, target - 1), max_size=2, unique=True)
    falling = sorted(draw(margins), reverse=True) if floor < target else []
    quantities = draw(
        st.lists(
            st.integers(2, 60),
            min_size=len(falling),
            max_size=len(falling),
            unique=True,
        )
    )
    return tuple(
        pb.QuantityBreak(from_quantity=quantity, target_margin=margin * HUNDREDTHS)
        for quantity, margin in zip(sorted(quantities), falling, strict=True)
    )


@cache
def _other_rules() -> st.SearchStrategy[dict[str, object]]:
    factors = st.dictionaries(
        st.sampled_from(pb.LINE_KINDS), amounts(3), min_size=1, max_size=3
    )
    return st.fixed_dictionaries(
        {
            "markup": st.none() | amounts(3),
            "multipliers": st.none() | factors,
            "min_hourly": st.none() | amounts(60),
            "min_price": st.none() | amounts(100),
        }
    )


@st.composite
def policies(
    draw,
    *,
    unit: Currency = Currency("EUR", 2),  # noqa: B008 (frozen)
) -> pb.Policy:
    """One policy with at least one rule; its grid can be paid in ``unit``."""
    floor = draw(st.integers(0, 30))
    target = draw(st.none() | st.integers(floor, 50))
    rules = draw(_other_rules())
    if target is None and not any(rule is not None for rule in rules.values()):
        target = draw(st.integers(floor, 50))
    grid = st.builds(
        pb.Rounding,
        step=figures(1, 1000, step=unit.step),
        offset=figures(-20, 20, step=unit.step),
    )
    return pb.Policy(
        key=draw(keys()),
        title=draw(st.just("") | texts()),
        target_margin=None if target is None else target * HUNDREDTHS,
        floor_margin=floor * HUNDREDTHS,
        **rules,
        rounding=draw(st.none() | grid),
        validity_hours=draw(st.integers(1, 8760)),
        dead_band=draw(st.builds(pb.DeadBand, amount=amounts(5), share=shares(10))),
        max_step=draw(shares()),
        allow_lowering=draw(st.booleans()),
        prudence=draw(st.none() | figures(51, 99)),
        quantity_breaks=()
        if target is None
        else draw(_breaks(floor=floor, target=target)),
        stale_spot=draw(stale_spots()),
    )


@st.composite
def stale_spots(draw) -> pb.StaleSpot:
    warn = draw(figures(1, 200))
    return pb.StaleSpot(warn_hours=warn, refuse_hours=warn + draw(figures(1, 200)))


@cache
def extras() -> st.SearchStrategy[pb.Extra]:
    return st.builds(
        pb.Extra,
        key=keys(),
        title=st.just("") | texts(),
        price_cost=amounts(20),
        minutes=amounts(30),
    )


@cache
def formings() -> st.SearchStrategy[pb.Forming]:
    punches = st.lists(figures(50, 250, step=Decimal("0.1")), max_size=4, unique=True)
    return st.builds(
        pb.Forming,
        punches_mm=punches.map(sorted).map(tuple),
        min_wall_mm=figures(1, 200),
        min_land_mm=figures(1, 500),
        opening_allowance=figures(0, 400),
    )


@cache
def calibrations() -> st.SearchStrategy[pb.Calibration]:
    return st.builds(
        pb.Calibration, coin=keys(), slug=figures(50, 200), bored=figures(50, 200)
    )


def _each(part, *, least: int = 0, most: int = 2, by: str = "key") -> st.SearchStrategy:
    unique = st.lists(
        part, min_size=least, max_size=most, unique_by=lambda each: getattr(each, by)
    )
    return unique.map(tuple)


@st.composite
def price_books(draw) -> pb.PriceBook:
    """A whole valid price book."""
    unit = currency(draw(st.sampled_from(CURRENCIES)))
    used = draw(consumables())
    owned = draw(tools())
    return pb.PriceBook(
        title=draw(texts()),
        currency=unit,
        timezone=draw(st.sampled_from(TIMEZONES)),
        labour=draw(labours()),
        consumables=used,
        tools=owned,
        stages=draw(
            stages(
                consumables=tuple(each.key for each in used),
                tools=tuple(each.key for each in owned),
            )
        ),
        recovery=draw(recoveries()),
        after_sale=draw(st.builds(pb.AfterSale, rate=shares(20), share=shares())),
        coin_buying=draw(coin_buyings()),
        channels=draw(_each(channels(unit=unit), least=1)),
        policies=draw(_each(policies(unit=unit), least=1)),
        extras=draw(_each(extras())),
        forming=draw(formings()),
        calibrations=draw(_each(calibrations(), by="coin")),
    )
