from decimal import Decimal

from pricing.cost_line import ExactLine
from tests.oracles.workshops import spot


def test_a_fixed_line_is_the_same_at_every_spot():
    line = ExactLine.fixed("tool", "Cone", Decimal("0.05"), "1 use")
    assert (line.kind, line.label) == ("tool", "Cone")
    assert line.line.at(Decimal(1)) == line.line.at(Decimal(90)) == Decimal("0.05")
    assert line.line.slope_at(Decimal(27)) == 0
    assert line.how(None) == line.how(spot()) == "1 use"
