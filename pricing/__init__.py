"""Coin to cost to price: the pure computation behind Fineweight.

Nothing here reads a clock, a network, a database or the environment. Every
figure comes from an argument, and one immutable value carries them all back.
"""
