from decimal import Decimal

from pricing.price_book import Calibration, Fee, QuantityBreak, read_price_book
from pricing.price_book.members import members, name_of, plain
from tests.pricing.price_book.documents import small


def test_the_version_is_not_a_member_of_the_document():
    book = read_price_book(small(), version=3)
    names = [member.name for member in members(book)]
    assert "version" not in names
    assert names[:4] == ["title", "currency", "timezone", "labour"]


def test_a_quantity_break_has_its_name_from_the_document():
    step = QuantityBreak(from_quantity=5, target_margin=Decimal("0.3"))
    assert [member.name for member in members(step)] == ["from", "target_margin"]


def test_parts_without_a_key_are_told_apart_by_what_they_are_for():
    step = QuantityBreak(from_quantity=5, target_margin=Decimal("0.3"))
    assert name_of(step) == "5"
    assert name_of(Fee(label="card")) == "card"
    assert name_of(Calibration(coin="florin")) == "florin"


def test_figures_are_plain_text_without_an_exponent():
    assert plain(Decimal("1E+2")) == "100"
    assert plain(Decimal("0.000000001")) == "0.000000001"
    assert plain(Decimal("32.00")) == "32.00"
    assert plain(Decimal("0.00")) == "0"
