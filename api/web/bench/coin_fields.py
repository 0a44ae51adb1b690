"""A coin as its page asks for it."""

from __future__ import annotations

from api.web.bench.book_fields import Ask, Group, Part, Rows
from api.web.bench.book_metal_parts import BASES
from pricing.catalogue import FIGURES
from pricing.coin import ELEMENT_DENSITY_G_CM3

_METALS = (("", "silver"), ("base", "base metal, with no metal price"))
_NICKEL = (("", "no"), ("possible", "perhaps"), ("present", "yes"))
_OWN_BASES = (("", "as the price book says"), ("melt", BASES[0][1]), *BASES[1:])
FIGURE_WORDS = {name: name.replace("_", " ").capitalize() for name in FIGURES}
_MARKED = tuple(FIGURE_WORDS.items())

KEY = Ask(
    "key",
    "Key",
    kind="key",
    needed=True,
    hint="Listings call it by this for ever: a to z, 0 to 9 and _.",
)
COIN = Part(
    name="coin",
    title="Coin",
    about="",
    members=(),
    groups=(
        Group(
            "As struck",
            (
                Ask("name", "Name", kind="text"),
                Ask("gross_mass_g", "Gross mass", "g", needed=True),
                Ask("fineness_permille", "Fineness", "‰", hint="900 for 0.900."),
                Ask("diameter_mm", "Diameter", "mm", needed=True),
                Ask("metal", "Metal", kind="choice", options=_METALS),
                Ask("nickel", "Holds nickel", kind="choice", options=_NICKEL),
            ),
            word="fine_weight",
        ),
        Group(
            "How this workshop buys it",
            (
                Ask("basis", "It costs", kind="choice", options=_OWN_BASES),
                Ask("paid", "Fixed amount", "{money}"),
                Ask("premium", "Over melt", kind="percent"),
                Ask("extra", "And for each", "{money}"),
                Ask("wear", "Worn away", kind="percent"),
            ),
            about="What is blank is taken from the price book.",
            word="coin_cost",
        ),
        Group(
            "Hole by finger size",
            rows=Rows(
                "holes",
                "step",
                (
                    Ask("up_to", "Up to size", "US", hint="Blank in the last step."),
                    Ask("hole_mm", "punch", "mm", needed=True),
                ),
                label="up_to",
            ),
            about="Rising; the last step holds for all sizes above. Without steps a "
            "general rule is used.",
            word="hole_rule",
        ),
        Group(
            "How it is formed",
            (
                Ask("bore_allowance", "Bore allowance", "US sizes"),
                Ask("natural_size", "Natural size", "US"),
                Ask("density_g_cm3", "Density", "g/cm³"),
                Ask("rim_thickness_mm", "Thickness at the rim", "mm", hint="Not used."),
            ),
            about="What is blank follows from the coin.",
            word="natural_size",
            folded=True,
        ),
        Group(
            "Alloy",
            (
                *(Ask(f"alloy-{one}", one, "‰") for one in ELEMENT_DENSITY_G_CM3),
                Ask("composition", "In words", kind="text"),
                Ask("alloy_basis", "Where it is from", kind="text"),
            ),
            word="density",
            folded=True,
        ),
        Group(
            "What it is",
            (
                Ask("country", "Country", kind="text", hint="Two letters, as AT."),
                Ask("years", "Years", kind="text"),
                Ask("face_value", "Face value", kind="text"),
                Ask("face_currency", "of", kind="text", hint="Three letters."),
                Ask("edge", "Edge", kind="text"),
                Ask("published_fine_ozt", "Fine silver as published", "ozt"),
            ),
            word="coin",
            folded=True,
        ),
        Group(
            "Where the figures are from",
            (
                Ask("source", "Pages or laws", kind="area"),
                Ask("looked_up", "Read there", kind="ticks", options=_MARKED),
                Ask("from_memory", "From memory", kind="ticks", options=_MARKED),
                Ask("notes", "Remarks", kind="area"),
            ),
            word="source",
            folded=True,
        ),
    ),
)
