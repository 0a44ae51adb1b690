"""Quotes: made, kept, decided, shown to the customer."""
