"""Answers in XML, without document types or entities."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from api.feeds.answer_text import MOST_VALUES, refuse_crowded, too_many_values
from api.feeds.paths import ambiguous_path, no_such_path
from api.feeds.rows import Lookup
from api.ports.feed_syntax import element_path
from api.ports.feeds import Feed, FeedFailed

DEEPEST = 32


def xml_rows(feed: Feed, text: str) -> Iterator[Lookup]:
    """The rows of an answer, or its root element where the feed has no rows.

    Raises:
        FeedFailed: it is not plain XML, or has no rows.
    """
    root = parsed(text)
    if feed.rows is None:
        return iter([partial(one_text, root)])
    rows = root.findall(element_path(feed.rows).element)
    if not rows:
        raise no_such_path(feed.rows)
    return (partial(one_text, row) for row in rows)


def parsed(text: str) -> Element:
    """The root element of an XML text.

    Raises:
        FeedFailed: not XML, too deep, too many values, or with a document type or
            entities.
    """
    refuse_crowded(text, "=")  # an element's attributes are read all at once
    parser = DefusedXMLParser(target=_Shallow(), forbid_dtd=True)
    try:
        parser.feed(text)
        return parser.close()
    except DefusedXmlException:
        raise FeedFailed(
            "xml_entities",
            "The answer has a document type or entities, which could make it stand "
            "for anything; only plain XML is read.",
        ) from None
    except ParseError as error:
        line, column = error.position
        raise FeedFailed(
            "not_xml", f"The answer is not XML: line {line}, column {column + 1}."
        ) from None
    except ValueError:
        raise FeedFailed("not_xml", "The answer is not XML.") from None


def one_text(element: Element, path: str) -> str:
    """The text of the one element or attribute that ``path`` leads to.

    Raises:
        FeedFailed: it leads to none, to several, or to more than a text.
        InvalidInput: it is no path.
    """
    way = element_path(path)
    found = element.findall(way.element)
    if way.attribute is not None:
        texts = [each.get(way.attribute) for each in found]
        found = [each for each in found if each.get(way.attribute) is not None]
    else:
        texts = [each.text or "" for each in found]
    kept = [text for text in texts if text is not None]
    if not kept:
        raise no_such_path(path)
    if len(kept) > 1:
        raise ambiguous_path(path)
    if way.attribute is None and len(found[0]):
        raise FeedFailed(
            "not_a_price", f"The path {path} leads to elements, not to a text."
        )
    return kept[0]


class _Shallow(TreeBuilder):
    """Builds a tree, unless it becomes deeper or larger than any answer needs."""

    def __init__(self) -> None:
        super().__init__()
        self._depth = 0
        self._elements = 0

    def start(self, tag: str, attrs: dict[str, str]) -> Element:
        self._depth += 1
        if self._depth > DEEPEST:
            raise FeedFailed(
                "too_deep", f"The answer is nested more than {DEEPEST} levels deep."
            )
        self._elements += 1
        if self._elements > MOST_VALUES:
            raise too_many_values(self._elements)
        return super().start(tag, attrs)

    def end(self, tag: str) -> Element:
        self._depth -= 1
        return super().end(tag)
