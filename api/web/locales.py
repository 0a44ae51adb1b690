"""Numbers, shares and amounts as a visitor's country writes them; the text is English.

Days and times are in English words, as `words` has them, because numerals for days
are read in two orders. Nothing here goes through a float.

References:
    [1] Unicode CLDR, through Babel; RFC 9110 §12.5.4, Accept-Language.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, timedelta, tzinfo
from decimal import Decimal
from functools import lru_cache

from babel import Locale, UnknownLocaleError
from babel.numbers import format_currency, format_decimal

from api.web import words
from api.web.typed_numbers import typed_number
from pricing.money import currency, shown, tidy, trimmed

ENGLISH = Locale("en")

_MOST_TRIED = 10
_LONGEST = 35
_NO_BREAK = "\u00a0"
_TENTH = Decimal("0.1")
_HOUR, _DAY = timedelta(hours=1), timedelta(days=1)
_SHORT, _LONG = timedelta(minutes=90), timedelta(hours=48)


def locale_of(wanted: Iterable[str]) -> Locale:
    """The first locale of a list that is known, or English.

    >>> str(locale_of(["xx", "de-AT", "en"]))
    'de_AT'
    """
    for tag, _ in zip(wanted, range(_MOST_TRIED), strict=False):
        found = _known(tag) if len(tag) <= _LONGEST else None
        if found is not None:
            return found
    return ENGLISH


@lru_cache(maxsize=256)
def _known(tag: str) -> Locale | None:
    try:
        return Locale.parse(tag.replace("-", "_"))
    except (ValueError, UnknownLocaleError, TypeError):
        return None


def money(amount: Decimal, code: str, locale: Locale) -> str:
    r"""An amount with its currency, at its minor unit.

    >>> money(Decimal("1189.9"), "EUR", Locale("de"))
    '1.189,90\xa0€'
    """
    exact = Decimal(shown(amount, currency(code).step))
    return format_currency(exact, code, locale=locale, decimal_quantization=False)


def price(amount: Decimal, code: str, locale: Locale) -> str:
    r"""A price of metal or of a currency, every digit of it, with its currency.

    >>> price(Decimal("27.500000000"), "EUR", Locale("de"))
    '27,50\xa0EUR'
    """
    exact = tidy(amount, places=currency(code).minor_units)
    return f"{number(exact, locale)}{_NO_BREAK}{code}"


def number(value: Decimal | int, locale: Locale) -> str:
    """A number with every digit it has.

    >>> number(Decimal("1234.50"), Locale("de"))
    '1.234,50'
    """
    exact = Decimal(value)
    plain = format_decimal(exact, locale=locale, decimal_quantization=False)
    return _with_zeros(plain, exact, locale)


def _with_zeros(text: str, value: Decimal, locale: Locale) -> str:
    """The zeros at the end that were there, which Babel leaves out."""
    digits = format(value, "f").partition(".")[2]
    zeros = len(digits) - len(digits.rstrip("0"))
    if not zeros:
        return text
    if zeros == len(digits):
        sign = typed_number(Decimal("0.1"), locale)[1]
        return f"{text}{sign}{digits}" if sign not in text else text
    return text + "0" * zeros


def figure(value: Decimal, locale: Locale) -> str:
    """A measure at up to four decimals, without zeros at the end.

    >>> figure(Decimal("26.72800"), Locale("de"))
    '26,728'
    """
    return number(Decimal(trimmed(value)), locale)


def tenth(value: Decimal, locale: Locale) -> str:
    """A measure at one decimal, without a zero there: minutes, say.

    >>> tenth(Decimal("108.9117"), Locale("de"))
    '108,9'
    """
    return figure(Decimal(shown(value, _TENTH)), locale)


def share(value: Decimal, locale: Locale) -> str:
    r"""A share of one as per cent, at up to two decimals.

    >>> share(Decimal("0.3512"), Locale("de"))
    '35,12\xa0%'
    """
    hundredths = Decimal(shown(value * 100, Decimal("0.01")))
    return f"{number(tidy(hundredths, places=0), locale)}{_NO_BREAK}%"


def day(value: date | datetime, zone: tzinfo) -> str:
    """A day in words; of a moment, the day it is in a zone."""
    local = words.in_zone(value, zone) if isinstance(value, datetime) else value
    return words.day(local)


def age(span: timedelta) -> str:
    """How old something is, in words.

    >>> age(timedelta(minutes=12)), age(timedelta(hours=30))
    ('12 minutes', '30 hours')
    """
    if span < _SHORT:
        return _counted(span // timedelta(minutes=1), "minute")
    if span < _LONG:
        return _counted(span // _HOUR, "hour")
    return _counted(span // _DAY, "day")


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def filters(locale: Locale, zone: tzinfo) -> Mapping[str, Callable[..., str]]:
    """What templates write with, by the name of the filter."""
    return {
        "money": lambda amount, code: money(amount, code, locale),
        "price": lambda amount, code: price(amount, code, locale),
        "number": lambda value: number(value, locale),
        "figure": lambda value: figure(value, locale),
        "tenth": lambda value: tenth(value, locale),
        "share": lambda value: share(value, locale),
        "typed": lambda value: typed_number(value, locale),
        "typed_share": lambda value: typed_number(
            tidy(value.scaleb(2), places=0), locale
        ),
        "day": lambda value: day(value, zone),
        "instant": lambda value: words.moment(value, zone),
        "short_instant": lambda value: words.short_moment(value, zone),
        "age": age,
    }
