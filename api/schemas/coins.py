"""Coins on the wire: what a workshop says of a coin, and where it comes from."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace
from typing import Any, get_args

from marshmallow import ValidationError

from api.schemas.described import Described, Figure, Line, Many, Name, Table, Word
from api.schemas.document import Answer, Document
from api.schemas.fields import (
    NOT_NEGATIVE,
    Choice,
    DecimalText,
    Field,
    KeyText,
    ListOf,
    Part,
    QueryInteger,
)
from api.schemas.refusals import messages_of
from api.schemas.telling import told
from pricing.catalogue import FIGURES
from pricing.coin import ELEMENT_DENSITY_G_CM3, METALS, Coin
from pricing.coin_document import (
    ALLOY_PERMILLE,
    DENSITY_G_CM3,
    DIAMETER_MM,
    FINE_OZT,
    FINENESS_PERMILLE,
    MASS_G,
    MOST_REMARK,
    NATURAL_SIZE,
    THICKNESS_MM,
    Nickel,
    coin_document,
    read_coin,
)
from pricing.errors import InvalidInput
from pricing.money import half_up
from pricing.price_book.bench import BASES
from pricing.price_book.limits import AMOUNT, LENGTH_MM, PART, PREMIUM, SIZES
from pricing.units import troy_ounces

ORIGINS = ("catalogue", "workshop")
_EXACT = Decimal("1e-9")
_FINE_OZT_STEP = Decimal("0.000001")
MARKS = ("looked up", "from memory", "given")
MOST_COINS = 100


class HoleBody(Described):
    """One step of a hole table: up to a finger size, punch this hole."""

    up_to = Figure(
        NATURAL_SIZE,
        "Largest finger size of the step [US number]; left out in the last step, "
        "which holds for all above.",
    )
    hole_mm = Figure(LENGTH_MM, "Hole [mm].", needed=True)


AlloyBody = Described.from_dict(
    {
        element: Figure(ALLOY_PERMILLE, "Share of the mass [‰].")
        for element in ELEMENT_DENSITY_G_CM3
    },
    name="AlloyBody",
)


class CoinBody(Described):
    """A coin as struck, and how this workshop buys and cuts it."""

    key = Name("Its name in addresses and listings; needed to keep it.", needed=False)
    name = Line("What a person calls it.")
    country = Line("Country of issue (ISO 3166-1).")
    years = Line("Years of issue.")
    face_value = Line("What it was worth when it was money.")
    face_currency = Line("Currency of the face value (ISO 4217).")
    edge = Line("Edge: reeded, lettered, plain.")
    metal = Word(METALS, "XAG for silver; base for a coin with no metal price.")
    fineness_permille = Figure(
        FINENESS_PERMILLE, "Silver [‰]; needed unless the metal is base."
    )
    gross_mass_g = Figure(MASS_G, "Mass as struck [g].", needed=True)
    diameter_mm = Figure(DIAMETER_MM, "Outside diameter [mm].", needed=True)
    rim_thickness_mm = Figure(
        THICKNESS_MM, "Thickness at the rim [mm]; not used, the field is thinner."
    )
    composition = Line("The alloy in words, as published.")
    alloy = Table(AlloyBody, "Element → share of the mass [‰]; gives the density.")
    nickel = Word(
        get_args(Nickel), "Whether the alloy holds nickel, which can hurt the skin."
    )
    published_fine_ozt = Figure(FINE_OZT, "Fine silver as published [ozt].")
    density_g_cm3 = Figure(
        DENSITY_G_CM3,
        "Density [g/cm³]; left out, by the alloy, or as silver and copper.",
    )
    wear = Figure(PART, "Share of the mass lost in use; left out, the book's.")
    holes = Many(HoleBody, "Hole by finger size, rising; left out, a general rule.")
    bore_allowance = Figure(
        SIZES, "Sizes bored out [US sizes]; left out, by thickness."
    )
    natural_size = Figure(
        NATURAL_SIZE,
        "Size at which the coin edge needs neither wrapping nor stretching "
        "[US number]; left out, by diameter.",
    )
    basis = Word(
        BASES, "How it is paid for: melt, paid or greater_of; left out, the book's."
    )
    premium = Figure(PREMIUM, "Over melt, as a share; left out, the book's.")
    extra = Figure(AMOUNT, "Added to the melt price [currency of the book].")
    paid = Figure(AMOUNT, "What one costs [currency of the book].")
    source = Line("Pages or laws the figures were read in.", most=MOST_REMARK)
    looked_up = Many(Name(), "Names of the figures read there.")
    from_memory = Many(Name(), "Names of the figures that still want checking.")
    alloy_basis = Line("'published', or what was assumed.")
    notes = Line("Where sources disagree, and other remarks.", most=MOST_REMARK)

    def load(self, data: Any, **_: Any) -> Coin:
        """The coin. Raises ValidationError with every fault in its place."""
        try:
            return read_coin(super().load(data))
        except InvalidInput as refused:
            raise ValidationError(messages_of(refused)) from refused


class CoinChoice(Field):
    """The key of a coin, or a coin of one's own given inline."""

    key = Name()
    inline = CoinBody()

    def keywords(self) -> dict[str, Any]:
        """Either of the two."""
        return {"anyOf": [{"type": "string", **self.key.keywords()}, self.inline]}

    def _deserialize(self, value: Any, *_: Any, **__: Any) -> str | Coin:
        if isinstance(value, str):
            return str(self.key.deserialize(value))
        if not isinstance(value, dict):
            raise ValidationError(
                'this has to be the key of a coin in quotes, or {"gross_mass_g": …, '
                '"fineness_permille": …, "diameter_mm": …}'
            )
        return self.inline.load(value)


class CoinPath(Document):
    """Which coin."""

    key = Name("The key of a coin.")


class CoinsQuery(Document):
    """Which part of the list."""

    after = told(KeyText, "Only coins with a key beyond this one.", load_default=None)
    limit = QueryInteger(
        least=1,
        most=MOST_COINS,
        load_default=50,
        metadata={"description": "At most so many coins."},
    )
    origin = Choice(
        ORIGINS,
        load_default=None,
        metadata={"description": "Only published coins, or only the workshop's own."},
    )


MarksDocument = Answer.from_dict(
    {
        figure: Choice(
            MARKS,
            metadata={
                "description": f"Where the {figure.replace('_', ' ')} comes from."
            },
        )
        for figure in FIGURES
    },
    name="MarksDocument",
)


class CoinDocument(Answer):
    """A coin with where it comes from and the silver in it as struck."""

    key = Name("Its name in addresses and listings.")
    origin = Choice(
        ORIGINS,
        metadata={"description": "Published, or entered by the workshop."},
    )
    fine_g = DecimalText(
        bounds=NOT_NEGATIVE,
        allow_none=True,
        metadata={
            "description": "Gross mass × fineness [g], exact; null for base metal."
        },
    )
    fine_ozt = DecimalText(
        bounds=NOT_NEGATIVE,
        allow_none=True,
        metadata={
            "description": "The same [ozt], to a millionth; null for base metal."
        },
    )
    marks = Part(
        MarksDocument,
        metadata={"description": "Which figures were looked up in a source."},
    )
    coin = Part(
        CoinBody,
        metadata={"description": "What PUT takes; members at their default left out."},
    )

    def arranged(self, obj: Any) -> SimpleNamespace:
        """A stored coin with what follows from its figures."""
        coin: Coin = obj.coin
        fine_g = None if coin.metal == "base" else coin.gross_mass_g * coin.fineness
        return SimpleNamespace(
            key=coin.key,
            origin=obj.origin,
            fine_g=None if fine_g is None else half_up(fine_g, _EXACT).normalize(),
            fine_ozt=(
                None if fine_g is None else half_up(troy_ounces(fine_g), _FINE_OZT_STEP)
            ),
            marks={figure: coin.provenance.mark(figure) for figure in FIGURES},
            coin=coin_document(coin),
        )


class CoinListDocument(Answer):
    """Coins by key."""

    coins = ListOf(
        Part(CoinDocument),
        most=MOST_COINS,
        metadata={"description": "At most as many as asked for."},
    )
