"""The parts of the price book that have a page, in the order they are shown."""

from __future__ import annotations

from collections.abc import Mapping

from api.schemas.described import Described
from api.schemas.price_book import PriceBookBody
from api.schemas.price_book_bench import StageBody
from api.schemas.price_book_selling import ChannelBody, PolicyBody
from api.web.bench.book_bench_parts import CONSUMABLES, LABOUR, STAGES, TOOLS
from api.web.bench.book_fields import Part
from api.web.bench.book_metal_parts import FORMING, METAL
from api.web.bench.book_selling_parts import AFTER_SALE, CHANNELS, EXTRAS, POLICIES

PARTS: Mapping[str, Part] = {
    part.name: part
    for part in (
        LABOUR,
        STAGES,
        CONSUMABLES,
        TOOLS,
        METAL,
        FORMING,
        CHANNELS,
        POLICIES,
        EXTRAS,
        AFTER_SALE,
    )
}
_ENTRIES: Mapping[str, type[Described]] = {
    "stages": StageBody,
    "channels": ChannelBody,
    "policies": PolicyBody,
}


def schema_of(part: Part) -> Described:
    """What the form of a part is read by: the book's own schema, or an entry's."""
    return _ENTRIES[part.name]() if part.listed else PriceBookBody()
