"""The weekly check: planned against realised, why, and what to change."""
