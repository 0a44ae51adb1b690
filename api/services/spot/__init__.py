"""Spot and exchange rates: entered or fetched, judged, recorded, chosen."""
