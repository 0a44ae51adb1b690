"""Cost lines of one coin in many sizes: they bend at the same spot or not at all."""

from decimal import Decimal

from hypothesis import strategies as st

from pricing.metal_line import MetalLine

BASES = st.integers(-500, 5000).map(lambda n: n * Decimal("0.01"))
SLOPES = st.integers(-100, 200).map(lambda n: n * Decimal("0.01"))
BENDS = st.integers(0, 150).map(lambda n: n * Decimal("0.01"))
SPOTS = st.integers(1, 9000).map(lambda n: n * Decimal("0.01"))


@st.composite
def line(draw, kink: Decimal | None) -> MetalLine:
    base, slope = draw(BASES), draw(SLOPES)
    if kink is None:
        return MetalLine(base=base, slope=slope)
    above = slope + draw(BENDS)
    return MetalLine(base=base, slope=slope, kink=kink, slope_above=above)


@st.composite
def one_coins_lines(draw) -> list[MetalLine]:
    kink = draw(st.none() | SPOTS)
    return draw(st.lists(line(kink), min_size=1, max_size=8))
