"""The words that pages link to are there, each once, and say something."""

from __future__ import annotations

import re
from collections import Counter

from api.web.glossary import all_cautions, glossary
from tests.architecture.source import ROOT

_LINKED = re.compile(r'\bword="([a-z_]+)"|/bench/words#([a-z_]+)')
WORDS = [word for words in glossary().values() for word in words]


def linked():
    """Every word that a template or a module of the pages links to, and where."""
    web = ROOT / "api/web"
    files = [*web.rglob("*.html"), *web.rglob("*.py")]
    return {
        (file.name, "".join(found))
        for file in files
        for found in _LINKED.findall(file.read_text("utf-8"))
    }


def test_every_word_that_is_linked_to_is_in_the_glossary():
    assert len(linked()) > 10
    keys = {word.key for word in WORDS} | {"cautions"}
    assert not sorted(each for each in linked() if each[1] not in keys)


def test_every_word_is_there_once_with_a_meaning_that_is_a_sentence():
    assert max(Counter(word.key for word in WORDS).values()) == 1
    assert max(Counter(word.title for word in WORDS).values()) == 1
    assert all(word.meaning.endswith((".", ")")) for word in WORDS)


def test_the_page_shows_words_formulas_and_cautions_where_links_lead(desk):
    page = desk.get("/bench/words")
    assert page.status_code == 200
    ids = Counter(re.findall(r'\bid="([^"]+)"', page.text))
    assert max(ids.values()) == 1
    assert {word.key for word in WORDS} <= ids.keys()
    assert {f"caution-{one.code}" for one, _ in all_cautions()} <= ids.keys()
    assert "(coin diameter − hole) ÷ 2" in page.text
    assert "{" not in "".join(text for _, text in all_cautions())
