"""Feeds of spot prices: asking them safely, and reading what they answer."""
