"""Ring sizes in every system of the trade, all by way of the inside diameter.

Published charts differ by about 0.1 mm of diameter; the rules below are kept
exactly, so that a size converts the same way on every bench.

References:
    [1] US: inside diameter = 0.458 + 0.032 n inches (Wikipedia, Ring size; GNU
        Units 2.22 quotes a printed table of it and names other rules).
    [2] UK: BS 6820 (1987) letters, A = 37.50 mm of inside circumference and
        1.25 mm a letter, then Z+1, Z+2 and so on (GNU Units 2.22; the standard
        itself was not seen). A half size is 0.625 mm.
    [3] ISO 8653: the size is the inside circumference in millimetres, scale 41
        to 76, read at the nearest mark (summary page of BS EN ISO 8653).
    [4] Japan: inside diameter = 13 + (n − 1)/3 mm, whole sizes (GNU Units 2.22;
        that the standard is JIS S 4700 is from memory).
    [5] Switzerland, Italy, Spain, Netherlands: inside circumference in
        millimetres less 40 (Wikipedia, Ring size; GNU Units 2.22).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from types import MappingProxyType

from pricing.errors import InvalidInput
from pricing.money import ONE, ZERO, arithmetic, exact_decimal, half_up
from pricing.units import MM_PER_INCH

SYSTEMS = ("us", "uk", "iso", "jp", "ch", "diameter_mm", "circumference_mm")

PI = Decimal("3.14159265358979323846264338327950288419716939937510")
"""The first 50 decimals of π (OEIS A000796)."""

_Reader = Callable[[str], Decimal | None]
SMALLEST_US = ZERO
LARGEST_US = Decimal(24)
ISO_MARKS = range(41, 77)
_FROM_ONE = range(1, 100)  # further than the largest finger on any scale

_US_ZERO_IN = Decimal("0.458")
_US_STEP_IN = Decimal("0.032")
_US_SHOWN = Decimal("1e-6")
_EXACT_MM = Decimal("1e-20")  # drops what dividing by π and multiplying again leaves
_MM_SHOWN = Decimal("0.01")
_UK_A_MM = Decimal("37.5")
_UK_HALF_MM = Decimal("0.625")
_JP_ONE_MM = Decimal(13)
_CH_LESS_MM = Decimal(40)
_SIZE = ("size", "size")
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_TYPED = str.maketrans(
    {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8"}
    | {"⅝": " 5/8", "⅞": " 7/8", "⁄": "/"}
)
_FRACTION = re.compile(r"(?:([0-9]{1,2})[ -])?([1-7])/([248])", re.ASCII)
_UK = re.compile(r"(?:([A-Y])|Z(?:\+?([1-9][0-9]?))?)(1/2)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class RingSize:
    """A finger size: the inside diameter it stands for, and how it was asked for.

    Attributes:
        inside_diameter_mm: inside diameter [mm]; exact for US sizes.
        system: one of ``SYSTEMS``.
        given: the size in the words of whoever asked.
    """

    inside_diameter_mm: Decimal
    system: str
    given: str

    @property
    def us(self) -> Decimal:
        """The exact US number, to a millionth [US number].

        >>> ring_size("diameter_mm", "20").us
        Decimal('10.293799')
        """
        with arithmetic():
            return _plain(half_up(us_number(self.inside_diameter_mm), _US_SHOWN))

    @property
    def inside_circumference_mm(self) -> Decimal:
        """Inside circumference: π × inside diameter [mm]."""
        with arithmetic():
            return _plain(half_up(PI * self.inside_diameter_mm, _EXACT_MM))

    def marks(self) -> Mapping[str, str | None]:
        """The nearest mark in each system; None where its scale has none.

        Quarter US sizes, half UK letters, whole ISO, Japanese and Swiss numbers;
        a size midway between two marks takes the larger.

        >>> dict(ring_size("us", "10").marks())
        {'us': '10', 'uk': 'T 1/2', 'iso': '62', 'jp': '21', 'ch': '22'}
        """
        around = self.inside_circumference_mm
        with arithmetic():
            japanese = (self.inside_diameter_mm - _JP_ONE_MM) * 3 + 1
            halves = half_up((around - _UK_A_MM) / _UK_HALF_MM, ONE)
            quarters = half_up(self.us * 4, ONE)
            return MappingProxyType(
                {
                    "us": f"{_plain(quarters / 4):f}",
                    "uk": _uk_mark(int(halves)),
                    "iso": _whole(around, ISO_MARKS),
                    "jp": _whole(japanese, _FROM_ONE),
                    "ch": _whole(around - _CH_LESS_MM, _FROM_ONE),
                }
            )

    @property
    def label(self) -> str:
        """What to call it: the size in its own system.

        >>> ring_size("uk", "t½").label
        'UK T 1/2'
        """
        around = self.inside_circumference_mm
        match self.system:
            case "us":
                return f"US {self.us:f}"
            case "ch":
                return f"CH {around - _CH_LESS_MM:f}"
            case "diameter_mm":
                return f"{half_up(self.inside_diameter_mm, _MM_SHOWN)} mm inside"
            case "circumference_mm":
                return f"{half_up(around, _MM_SHOWN)} mm around inside"
            case system:
                return f"{system.upper()} {self.marks()[system]}"


def ring_size(system: str, size: str) -> RingSize:
    """The finger size ``size`` written in one of ``SYSTEMS``.

    US sizes may be whole, decimal or with a fraction ("10", "9.5", "9 1/2",
    "9½"); UK letters may have a half and go on after Z ("T", "T 1/2", "Z+1 ½");
    ISO and Japanese sizes are whole numbers; the rest are plain decimals.

    Raises:
        InvalidInput: no such system, not a size of it, or not within US 0 to 24.

    >>> ring_size("us", "9½").inside_diameter_mm
    Decimal('19.35480')
    """
    if system not in _SCALES:
        raise InvalidInput(
            f"ring size system '{system[:40]}' is not known; use one of "
            f"{', '.join(SYSTEMS)}, such as us",
            path=("size", "system"),
        )
    name, allowed, read = _SCALES[system]
    text = " ".join(size.translate(_TYPED).split())
    with arithmetic():
        diameter = read(text)
    if diameter is None:
        raise InvalidInput(
            f"'{size[:40]}' is not a {name}; write {allowed}", path=_SIZE
        )
    return _within_bounds(RingSize(diameter, system, size.strip()))


def us_size(number: Decimal) -> RingSize:
    """The finger size of ``number`` [US number].

    Raises:
        InvalidInput: not within US 0 to 24.

    >>> us_size(Decimal("10")).inside_diameter_mm
    Decimal('19.7612')
    """
    size = RingSize(inside_diameter_mm(number), "us", format(number, "f"))
    return _within_bounds(size)


def inside_diameter_mm(us: Decimal) -> Decimal:
    """Inside diameter of ``us`` [US number]: 25.4 × (0.458 + 0.032 n), exact [mm].

    >>> inside_diameter_mm(Decimal("0"))
    Decimal('11.6332')
    """
    with arithmetic():
        return MM_PER_INCH * (_US_ZERO_IN + _US_STEP_IN * us)


@lru_cache(maxsize=512)  # callers drop any trailing zeros of a kept answer
def us_number(inside_diameter_mm: Decimal) -> Decimal:
    """US number of ``inside_diameter_mm`` [mm]: (d / 25.4 − 0.458) / 0.032.

    >>> us_number(Decimal("26.67"))
    Decimal('18.5')
    """
    with arithmetic():
        return (inside_diameter_mm / MM_PER_INCH - _US_ZERO_IN) / _US_STEP_IN


def _within_bounds(size: RingSize) -> RingSize:
    least, most = inside_diameter_mm(SMALLEST_US), inside_diameter_mm(LARGEST_US)
    if not least <= size.inside_diameter_mm <= most:
        diameter = half_up(size.inside_diameter_mm, _MM_SHOWN)
        raise InvalidInput(
            f"'{size.given[:40]}' ({size.system}) is {diameter} mm across inside; "
            f"finger sizes go from US {SMALLEST_US} to US {LARGEST_US} inclusive, "
            f"{half_up(least, _MM_SHOWN)} to {half_up(most, _MM_SHOWN)} mm, as us 10",
            path=_SIZE,
        )
    return size


def _plain(number: Decimal) -> Decimal:
    """Without trailing zeros, and never with an exponent."""
    return number.normalize() + ZERO


def _whole(value: Decimal, marks: range) -> str | None:
    nearest = int(half_up(value, ONE))
    return str(nearest) if nearest in marks else None


def _uk_mark(halves: int) -> str | None:
    """The letter that many half sizes above A; None below A."""
    if halves < 0:
        return None
    letters, half = divmod(halves, 2)
    beyond = letters - (len(_LETTERS) - 1)
    letter = f"Z+{beyond}" if beyond > 0 else _LETTERS[letters]
    return f"{letter} 1/2" if half else letter


def _number(text: str) -> Decimal | None:
    """A plain decimal, or a whole number and a fraction of it; None if neither."""
    written = _FRACTION.fullmatch(text)
    if written:
        whole, above, below = written.groups()
        part = Decimal(above) / Decimal(below)
        return Decimal(whole or 0) + part if part < ONE else None
    try:
        return exact_decimal(text)
    except InvalidInput:
        return None


def _numeric(diameter: Callable[[Decimal], Decimal | None]) -> _Reader:
    def read(text: str) -> Decimal | None:
        number = _number(text)
        return None if number is None else diameter(number)

    return read


def _read_uk(text: str) -> Decimal | None:
    compact = text.replace(" ", "")
    written = _UK.fullmatch(compact.upper() if compact.isascii() else "")
    if not written:
        return None
    letter, beyond, half = written.groups()
    halves = 2 * (_LETTERS.index(letter or "Z") + int(beyond or 0)) + bool(half)
    return (_UK_A_MM + _UK_HALF_MM * halves) / PI


_SCALES: Mapping[str, tuple[str, str, _Reader]] = MappingProxyType(
    {
        "us": (
            "US size",
            "a number, such as 10, 9.5 or 9 1/2",
            _numeric(inside_diameter_mm),
        ),
        "uk": (
            "UK size",
            "a letter A to Z or Z+1 and on, and maybe 1/2, such as T, T 1/2 or Z+1",
            _read_uk,
        ),
        "iso": (
            "mark of ISO 8653",
            "a whole number from 41 to 76, such as 62, or use circumference_mm",
            _numeric(lambda n: n / PI if n in ISO_MARKS else None),
        ),
        "jp": (
            "Japanese size",
            "a whole number from 1 to 55, such as 21",
            _numeric(lambda n: _JP_ONE_MM + (n - 1) / 3 if n in _FROM_ONE else None),
        ),
        "ch": (
            "Swiss size",
            "the inside circumference in mm less 40, 0 or more, such as 22",
            _numeric(lambda n: (n + _CH_LESS_MM) / PI if n >= ZERO else None),
        ),
        "diameter_mm": ("length", "the inside diameter in mm, such as 19.76", _number),
        "circumference_mm": (
            "length",
            "the inside circumference in mm, such as 62.1",
            _numeric(lambda n: n / PI),
        ),
    }
)
