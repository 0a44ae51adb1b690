"""Coin to cost to price: the pure computation behind Fineweight.

Nothing here reads a clock, a network, a database or the environment. Every
figure comes from an argument, and one immutable value carries them all back.
"""

RULES_VERSION = 1
"""Number of the rules that prices are worked out by; kept with whatever is promised.

Count it up in the same change whenever the same price book, coin, wish and spot
would give another figure than before: another formula, another rounding or
another order of roundings, another default of a book or a wish, another
conversion of ring sizes, a corrected figure of the catalogue. Do not count it up
for what leaves every figure as it was: speed, wording, a new optional member.
"""
