from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from pricing.money import amount, arithmetic, currency
from pricing.order_shares import shared_channels
from pricing.price_book import Channel, Fee, Shipping
from tests.strategies.price_books import CURRENCIES, channels

PIECES = st.lists(st.integers(1, 200), min_size=1, max_size=50)
UNITS = st.sampled_from([currency(code) for code in CURRENCIES])


def once_an_order(channel):
    """The amounts that fall once an order, in one order."""
    shipping = channel.shipping
    return [*(fee.fixed for fee in channel.fees), shipping.charged, shipping.paid]


@given(channel=channels(), pieces=PIECES, unit=UNITS)
def test_the_shares_add_up_to_the_whole(channel, pieces, unit):
    with arithmetic():
        shares = shared_channels(channel, pieces, currency=unit)
        parts = zip(*(once_an_order(share) for share in shares), strict=True)
        whole = [amount(each, unit) for each in once_an_order(channel)]
        assert [sum(each) for each in parts] == whole


@given(channel=channels(), pieces=PIECES, unit=UNITS)
def test_each_share_is_that_of_the_pieces_to_less_than_a_minor_unit(
    channel, pieces, unit
):
    with arithmetic():
        whole = [amount(each, unit) for each in once_an_order(channel)]
        shares = shared_channels(channel, pieces, currency=unit)
    for share, count in zip(shares, pieces, strict=True):
        for part, all_of_it in zip(once_an_order(share), whole, strict=True):
            exact = Fraction(all_of_it) * count / sum(pieces)
            assert abs(Fraction(part) - exact) < Fraction(unit.step)
            assert part % unit.step == 0


@given(channel=channels(), pieces=PIECES, unit=UNITS)
def test_of_equally_many_pieces_the_earlier_line_has_the_odd_unit(
    channel, pieces, unit
):
    with arithmetic():
        shares = shared_channels(channel, pieces, currency=unit)
    for count in set(pieces):
        alike = [
            once_an_order(share)
            for share, own in zip(shares, pieces, strict=True)
            if own == count
        ]
        for parts in zip(*alike, strict=True):
            assert list(parts) == sorted(parts, reverse=True)
            assert max(parts) - min(parts) <= unit.step


@given(channel=channels(), pieces=PIECES, unit=UNITS)
def test_nothing_else_of_the_channel_changes(channel, pieces, unit):
    for share in shared_channels(channel, pieces, currency=unit):
        fees = zip(share.fees, channel.fees, strict=True)
        back = tuple(replace(one, fixed=whole.fixed) for one, whole in fees)
        assert replace(share, fees=back, shipping=channel.shipping) == channel


def test_shares_in_a_currency_without_a_minor_unit_are_whole():
    channel = Channel(
        key="fair",
        fees=(Fee(label="stall", fixed=Decimal(100)),),
        shipping=Shipping(charged=Decimal(1), paid=Decimal(0)),
    )
    shares = shared_channels(channel, (1, 2, 4), currency=currency("JPY"))
    # 100 × 1/7, 2/7, 4/7 = 14.29, 28.57, 57.14; the largest remainder has the yen
    assert [share.fees[0].fixed for share in shares] == [14, 29, 57]
    assert [share.shipping.charged for share in shares] == [0, 0, 1]
    assert [share.shipping.paid for share in shares] == [0, 0, 0]


def test_a_fee_finer_than_the_minor_unit_is_shared_as_it_is_presented():
    channel = Channel(key="shop", fees=(Fee(label="card", fixed=Decimal("0.255")),))
    shares = shared_channels(channel, (1, 1), currency=currency("EUR"))
    assert [share.fees[0].fixed for share in shares] == [Decimal("0.13")] * 2
