"""One price of one order judged in exact fractions, rule by rule, as it is told."""

from fractions import Fraction

from tests.oracles.rings import half_up


def taxed(price, tax, minor):
    """Net and tax of a displayed price."""
    rate = Fraction(tax.rate)
    if tax.inclusive:
        part = half_up(price * rate / (1 + rate), minor)
        return price - part, part
    return price, half_up(price * rate, minor)


def margin_and_net(unit, terms, cost):
    """What an order leaves and its net, every amount rounded as it is charged."""
    channel, minor = terms.channel, Fraction(terms.currency.step)
    goods = Fraction(unit) * terms.quantity
    net, tax = taxed(goods, channel.tax, minor)
    shipping, more_tax = taxed(Fraction(channel.shipping.charged), channel.tax, minor)
    charged = net + tax + shipping + more_tax
    bases = {"charged": charged, "goods": goods, "net": net}
    left = net + shipping - Fraction(channel.shipping.paid)
    left -= Fraction(cost.per_piece) * terms.quantity
    for fee in channel.fees:
        taken = Fraction(fee.rate) * bases[fee.on] + Fraction(fee.fixed)
        left -= half_up(taken, minor)
    return left, net


def least_net(policy, terms, cost):
    """The net that markup and multipliers ask of the order, by rule."""
    total = Fraction(cost.per_piece) * terms.quantity
    if policy.markup is not None:
        yield "markup", total * (1 + Fraction(policy.markup))
    if policy.multipliers is not None:
        factor = policy.multipliers.get
        parts = (Fraction(x) * Fraction(factor(k, 1)) for k, x in cost.by_kind.items())
        yield "multipliers", sum(parts) * terms.quantity


def least_margin(policy, terms, cost, *, net):
    """The margin that target and hourly earning ask of the order, by rule."""
    target = policy.target_margin
    for step in policy.quantity_breaks:
        target = step.target_margin if terms.quantity >= step.from_quantity else target
    if target is not None:
        yield "target_margin", Fraction(target) * net
    if policy.min_hourly is not None:
        hours = Fraction(cost.attended_minutes) * terms.quantity / 60
        wages = Fraction(cost.labour) * terms.quantity
        yield "min_hourly", Fraction(policy.min_hourly) * hours - wages


ORDER = ("target_margin", "markup", "multipliers", "min_hourly", "min_price")


def failing(unit, policy, terms, cost):
    """Names of the rules that a price of one piece does not meet, in their order."""
    margin, net = margin_and_net(unit, terms, cost)
    names = {name for name, least in least_net(policy, terms, cost) if net < least}
    asked = least_margin(policy, terms, cost, net=net)
    names |= {name for name, least in asked if margin < least}
    if policy.min_price is not None and unit < Fraction(policy.min_price):
        names.add("min_price")
    return sorted(names, key=ORDER.index)
