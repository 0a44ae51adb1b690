"""The selling side of the price book, as its pages ask for it."""

from __future__ import annotations

from api.web.bench.book_bench_parts import NAME, key_ask
from api.web.bench.book_fields import Ask, Group, Part, Rows
from pricing.price_book import LINE_KINDS

_FEE_BASES = (
    ("", "all that the buyer pays"),
    ("goods", "the goods, with tax"),
    ("net", "the goods without tax"),
)

AFTER_SALE = Part(
    name="after-sale",
    title="After the sale",
    about="Exchanges and remakes, mostly for a wrong finger size.",
    members=("after_sale",),
    groups=(
        Group(
            "Exchanges and remakes",
            (
                Ask("after_sale-rate", "Of the pieces sold", kind="percent"),
                Ask(
                    "after_sale-share",
                    "Each costs, of a piece's cost",
                    kind="percent",
                ),
            ),
            word="after_sale",
        ),
    ),
)

CHANNELS = Part(
    name="channels",
    title="Channels",
    about="Where rings are sold: tax, fees, shipping, packaging. The first is used "
    "where none is named.",
    members=("channels",),
    one="channel",
    groups=(
        Group(
            "The channel",
            (
                NAME,
                key_ask("Listings call it by this."),
                Ask("packaging", "Packaging, a piece", "{money}"),
            ),
            word="channel",
        ),
        Group(
            "Tax",
            (
                Ask("tax-rate", "Rate", kind="percent"),
                Ask("tax-inclusive", "Shown prices include it", kind="check", on=True),
            ),
            word="tax",
        ),
        Group(
            "Shipping of an order",
            (
                Ask("shipping-charged", "The buyer pays", "{money}"),
                Ask("shipping-paid", "It costs", "{money}"),
            ),
            word="shipping",
        ),
        Group(
            "Fees",
            rows=Rows(
                "fees",
                "fee",
                (
                    Ask("label", "What for", kind="text", needed=True),
                    Ask("rate", "Share", kind="percent"),
                    Ask("fixed", "and fixed", "{money}"),
                    Ask("on", "of", kind="choice", options=_FEE_BASES),
                ),
                label="label",
            ),
            word="fee",
        ),
    ),
)

POLICIES = Part(
    name="policies",
    title="Policies",
    about="How cost becomes price. The price is the smallest on the grid that meets "
    "every rule; the first policy is used where none is named.",
    members=("policies",),
    one="policy",
    groups=(
        Group(
            "The policy", (NAME, key_ask("Listings call it by this.")), word="policy"
        ),
        Group(
            "Rules",
            (
                Ask("target_margin", "Target margin", kind="percent", hint="Of net."),
                Ask(
                    "floor_margin",
                    "Floor margin",
                    kind="percent",
                    hint="No price should fall under it.",
                ),
                Ask("markup", "Markup over cost", kind="percent"),
                Ask("min_hourly", "Earn at least", "{money}/h"),
                Ask("min_price", "Least price", "{money}"),
            ),
            about="At least one of target margin, markup, multipliers, earnings and "
            "least price.",
            word="policy",
        ),
        Group(
            "Multipliers",
            tuple(
                Ask(f"multipliers-{kind}", kind.replace("_", " ").capitalize(), "times")
                for kind in LINE_KINDS
            ),
            about="Net at least the cost lines times these; what is blank counts once.",
            word="multipliers",
            folded=True,
        ),
        Group(
            "Rounding",
            (
                Ask("rounding-step", "Prices go in steps of", "{money}"),
                Ask(
                    "rounding-offset",
                    "moved by",
                    "{money}",
                    hint="−0.05 with steps of 5 gives 89.95.",
                ),
            ),
            about="Left blank, the smallest coin of the currency.",
            word="rounding",
        ),
        Group(
            "Quantity breaks",
            rows=Rows(
                "quantity_breaks",
                "quantity break",
                (
                    Ask("from", "From", "pieces", kind="whole", needed=True),
                    Ask("target_margin", "Target margin", kind="percent", needed=True),
                ),
                label="from",
            ),
            word="quantity_break",
        ),
        Group(
            "Quotes and spot",
            (
                Ask(
                    "validity_hours",
                    "A quote holds",
                    "h",
                    kind="whole",
                    hint="72 if left blank.",
                ),
                Ask(
                    "prudence",
                    "Chances taken at",
                    hint="mean, or a quantile such as 0.80 to be on the safe side.",
                ),
                Ask(
                    "stale_spot-warn_hours",
                    "Say that spot is old after",
                    "h",
                    hint="Open market; 26 if left blank.",
                ),
                Ask(
                    "stale_spot-refuse_hours",
                    "Price nothing after",
                    "h",
                    hint="Open market; 72 if left blank.",
                ),
            ),
            word="validity",
            folded=True,
        ),
        Group(
            "Repricing",
            (
                Ask("dead_band-amount", "Leave changes up to", "{money}"),
                Ask(
                    "dead_band-share", "or up to", kind="percent", hint="Of the price."
                ),
                Ask("max_step", "Ask before a change over", kind="percent"),
                Ask("allow_lowering", "May lower prices", kind="check", on=True),
            ),
            word="repricing",
            folded=True,
        ),
    ),
)

EXTRAS = Part(
    name="extras",
    title="Extras",
    about="What can be added to a piece: its price, and its minutes at the bench.",
    members=("extras",),
    groups=(
        Group(
            "Extras",
            rows=Rows(
                "extras",
                "extra",
                (
                    NAME,
                    key_ask("Listings call it by this."),
                    Ask("price_cost", "It costs", "{money}"),
                    Ask("minutes", "Bench time", "min"),
                ),
            ),
            word="extra",
        ),
    ),
)
