"""Feeds: what the workshop asks for prices, and how it is described."""
