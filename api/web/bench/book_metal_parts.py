"""Metal and what it is bought and sold for, and the limits of the bench."""

from __future__ import annotations

from api.web.bench.book_fields import Ask, Group, Part, Rows

BASES = (
    ("", "melt: fine silver at spot"),
    ("paid", "paid: a fixed amount"),
    ("greater_of", "whichever of the two is more"),
)

METAL = Part(
    name="metal",
    title="Metal",
    about="How coins are bought, and what comes back for slugs, filings and scrap.",
    members=("coin_buying", "recovery"),
    groups=(
        Group(
            "Coin buying",
            (
                Ask("coin_buying-basis", "A coin costs", kind="choice", options=BASES),
                Ask("coin_buying-premium", "Over melt", kind="percent"),
                Ask(
                    "coin_buying-extra",
                    "And for each coin",
                    "{money}",
                    hint="Postage of a parcel, shared.",
                ),
                Ask(
                    "coin_buying-paid",
                    "Fixed amount",
                    "{money}",
                    hint="Where coins are bought for one.",
                ),
                Ask(
                    "coin_buying-wear",
                    "Worn away",
                    kind="percent",
                    hint="Of the mass as struck.",
                ),
            ),
            about="Unless a coin says otherwise.",
            word="coin_cost",
        ),
        Group(
            "Recovery",
            (
                Ask("recovery-slug", "Paid for slugs", kind="percent"),
                Ask("recovery-filings", "Paid for filings", kind="percent"),
                Ask("recovery-scrap", "Paid for scrapped pieces", kind="percent"),
                Ask(
                    "recovery-finish_loss",
                    "Lost in finishing",
                    kind="percent",
                    hint="Of the bored ring's mass.",
                ),
            ),
            about="As shares of the melt value.",
            word="recovery",
        ),
    ),
)

FORMING = Part(
    name="forming",
    title="Forming",
    about="The limits of this bench, and what the scale showed beside the model.",
    members=("forming", "calibrations"),
    groups=(
        Group(
            "Limits",
            (
                Ask(
                    "forming-min_wall_mm",
                    "Thinnest finished wall",
                    "mm",
                    hint="0.5 if left blank; common practice, no source.",
                ),
                Ask(
                    "forming-min_land_mm",
                    "Shortest land",
                    "mm",
                    hint="2.5 if left blank; common practice, no source.",
                ),
                Ask(
                    "forming-opening_allowance",
                    "Opened beyond the finger size by",
                    "US sizes",
                    hint="2.5 if left blank; common practice: 2.5 to 3.",
                ),
            ),
            word="land",
        ),
        Group(
            "Punches owned",
            rows=Rows(
                "forming-punches_mm", "punch", (Ask("", "Diameter", "mm"),), label=""
            ),
            about="Holes are snapped to these; none: any hole can be cut. One left "
            "blank is dropped. Which hole for which size is said with each coin.",
            word="hole_rule",
        ),
        Group(
            "Calibrations",
            rows=Rows(
                "calibrations",
                "calibration",
                (
                    Ask(
                        "coin",
                        "Coin",
                        kind="key",
                        needed=True,
                        hint="Its key, as at_50s_1959_1973.",
                    ),
                    Ask("slug", "Slug", "times", hint="1 if left blank."),
                    Ask("bored", "Bored", "times", hint="1 if left blank."),
                ),
                label="coin",
            ),
            about="Weighed ÷ worked out, for one coin.",
            word="calibration",
        ),
    ),
)
