"""Runs over the listings: preview, apply, undo, what-if, and the board of floors."""
