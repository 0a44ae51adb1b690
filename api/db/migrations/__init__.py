"""The schema, step by step; run by `api.db.upgrade`."""
