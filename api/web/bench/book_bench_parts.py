"""The bench side of the price book, as its pages ask for it."""

from __future__ import annotations

from collections.abc import Mapping

from api.web.bench.book_fields import Ask, Group, Part, Rows

_KEY_HINT = "Short and lasting: a to z, 0 to 9 and _."
DRIVER_WORDS: Mapping[str, str] = {
    "wrap_sizes": "each size wrapped down",
    "stretch_sizes": "each size stretched open",
    "press_sizes": "each size pressed",
    "dome_sizes": "each size of bore allowance",
    "bored_g": "each gram bored out",
    "land_mm": "each millimetre of land",
}
"""What minutes and consumables may depend on, after “for”."""
_REMOVALS = (
    ("", "nothing"),
    ("slug", "the slug"),
    ("bore", "what is bored out"),
    ("finish", "the finish loss"),
)


def by_driver(name: str, unit: str) -> tuple[Ask, ...]:
    """A figure for each thing that the work depends on."""
    return tuple(
        Ask(f"{name}-{driver}", f"For {word}", unit)
        for driver, word in DRIVER_WORDS.items()
    )


def key_ask(what: str) -> Ask:
    """The key of an entry; ``what`` says who calls it by that."""
    return Ask("key", "Key", kind="key", needed=True, hint=f"{what} {_KEY_HINT}")


NAME = Ask("title", "Name", kind="text")
"""What an entry is called."""

LABOUR = Part(
    name="labour",
    title="Labour",
    about="What an attended hour at the bench costs, and what the book is called.",
    members=("title", "currency", "timezone", "labour"),
    groups=(
        Group(
            "An hour at the bench",
            (
                Ask("labour-rate_per_hour", "Bench wage", "{money}/h", needed=True),
                Ask(
                    "labour-overhead_per_hour",
                    "Overhead",
                    "{money}/h",
                    hint="Room, light, insurance, for each attended hour.",
                ),
                Ask(
                    "labour-hours_per_week",
                    "Hours for orders",
                    "h/week",
                    hint="From it the day is told by which an order can be made. Left "
                    "blank, no dates are named.",
                ),
            ),
            word="labour",
        ),
        Group(
            "The book",
            (
                Ask("title", "Title", kind="text", needed=True),
                Ask(
                    "currency",
                    "Currency",
                    kind="text",
                    needed=True,
                    hint="Three capital letters, as EUR. Every amount of the book is "
                    "in it, and none is converted when it changes.",
                ),
                Ask(
                    "timezone",
                    "Time zone",
                    kind="text",
                    needed=True,
                    hint="Like Europe/Vienna.",
                ),
            ),
            word="price_book",
        ),
    ),
)

CONSUMABLES = Part(
    name="consumables",
    title="Consumables",
    about="What is used up. Each stage says how much of it a visit takes.",
    members=("consumables",),
    groups=(
        Group(
            "What is used up",
            rows=Rows(
                "consumables",
                "consumable",
                (
                    NAME,
                    key_ask("Stages call it by this."),
                    Ask(
                        "unit",
                        "Counted in",
                        kind="text",
                        needed=True,
                        hint="m, g, sheet, min.",
                    ),
                    Ask("price", "Price of one", "{money}", needed=True),
                ),
            ),
            word="consumable",
        ),
    ),
)

TOOLS = Part(
    name="tools",
    title="Tools",
    about="What wears: (price − what a worn one still sells for) ÷ uses, for each use.",
    members=("tools",),
    groups=(
        Group(
            "What wears",
            rows=Rows(
                "tools",
                "tool",
                (
                    NAME,
                    key_ask("Stages call it by this."),
                    Ask("price", "Price", "{money}", needed=True),
                    Ask("salvage", "Worn, it sells for", "{money}"),
                    Ask("life_uses", "Lasts", "uses", kind="whole", needed=True),
                ),
            ),
            word="tool_wear",
        ),
    ),
)

STAGES = Part(
    name="stages",
    title="Stages",
    about="The route: what is done to a coin, in order, with its minutes, what it "
    "takes and how often it fails.",
    members=("stages",),
    one="stage",
    groups=(
        Group(
            "The stage",
            (
                Ask("title", "Name", kind="text", needed=True),
                key_ask("The bench log calls it by this."),
                Ask("removes", "After it is gone", kind="choice", options=_REMOVALS),
            ),
            word="stage",
        ),
        Group(
            "Minutes",
            (
                Ask("minutes", "Attended, each visit", "min"),
                Ask("setup_minutes", "Setting up, each batch", "min"),
                Ask(
                    "batch",
                    "Pieces in a batch",
                    "pieces",
                    kind="whole",
                    hint="1 if left blank.",
                ),
                Ask("unattended_minutes", "Waiting", "min", hint="Costs nothing."),
            ),
            word="minutes",
        ),
        Group(
            "More minutes by the work to be done",
            by_driver("minutes_per", "min"),
            about="The forming plan of a ring says how much there is of each.",
            word="driver",
            folded=True,
        ),
        Group(
            "Chance that the piece is lost here",
            (
                Ask("scrap-failed", "Lost", "pieces", kind="whole"),
                Ask("scrap-tried", "of so many tried", "pieces", kind="whole"),
                Ask("scrap-rate", "or simply", kind="percent"),
            ),
            about="Counted, which also says how sure it is, or given; not both.",
            word="scrap_chance",
        ),
        Group(
            "Chance that it goes back",
            (
                Ask("redo-failed", "Sent back", "pieces", kind="whole"),
                Ask("redo-tried", "of so many tried", "pieces", kind="whole"),
                Ask("redo-rate", "or simply", kind="percent"),
                Ask("redo-to", "Back to", kind="choice", options="stages"),
            ),
            about="To this stage or an earlier one.",
            word="redo",
        ),
        Group(
            "What a visit uses up",
            rows=Rows(
                "consumables",
                "consumable",
                (
                    Ask("key", "What", kind="choice", options="consumables"),
                    Ask("quantity", "How much", "of its unit", needed=True),
                    *by_driver("quantity_per", "of its unit"),
                ),
                label="key",
            ),
            word="consumable",
        ),
        Group(
            "Tools it wears",
            (Ask("tools", "Tools", kind="ticks", options="tools"),),
            word="tool_wear",
        ),
    ),
)
