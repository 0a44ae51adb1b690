"""Listings: entered, imported, exported, looked up."""
