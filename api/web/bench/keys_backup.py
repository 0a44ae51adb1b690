"""A copy of everything, to be carried away."""

from __future__ import annotations

from api.web.pages import File, Page, Pages
from api.web.visit import Visit

ADDRESS = "/bench/keys/backup"

pages = Pages("keys_backup", title="Backup", tab="keys")


@pages.get(ADDRESS)
def backup(_: Visit) -> Page:
    """What is in a backup, and how it is put back."""
    return Page("bench/key_backup.html")


@pages.post(ADDRESS, again=backup)
def take(visit: Visit) -> File:
    """A backup that was made and checked just now."""
    made = visit.services.backup_files.make()
    return File(name=made.name, body=made.body, media_type="application/vnd.sqlite3")
