"""What the words mean, how figures are worked out, and what to watch."""

from __future__ import annotations

from api.web.glossary import all_cautions, glossary
from api.web.pages import Page, Pages
from api.web.visit import Visit

pages = Pages("words", title="Words and formulas")

ADDRESS = "/bench/words"


@pages.get(ADDRESS)
def words(_: Visit) -> Page:
    """Every word, and every caution with its source."""
    cautions = all_cautions()
    values = {
        "groups": glossary(),
        "bench": [each for each in cautions if each[0].audience == "bench"],
        "buyer": [each for each in cautions if each[0].audience == "buyer"],
    }
    return Page("bench/words.html", values)
