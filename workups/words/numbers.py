"""Numbers as people read them: significant figures, decimals of a balance, units, ranges."""

import math
from decimal import ROUND_HALF_UP, Context, Decimal

_EXACT = Context(prec=700)  # digits enough for any float with any decimals
NBSP = "\u00a0"
MINUS = "\u2212"


def _signed(text: str) -> str:
    """A plain number with a true minus sign, and no minus on a zero."""
    if text.startswith("-"):
        return text[1:] if not text.strip("-0.") else MINUS + text[1:]
    return text


def fixed(value: float, decimals: int) -> str:
    """A number with a stated number of decimals (none below 0), halves rounded away from 0.

    The half is that of the number as it is written, as templates round it: 9.85 is 9.9 on every
    page, though the nearest binary number lies below it.

    >>> fixed(5.9, 2), fixed(1234.4, -2), fixed(9.85, 1)
    ('5.90', '1200', '9.9')
    """
    written = Decimal(repr(float(value)))
    if not written.is_finite():
        return str(value)
    cut = written.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP, _EXACT)
    return _signed(f"{cut:.{max(decimals, 0)}f}")


def decimals_for(value: float, digits: int) -> int:
    """Decimals that show ``digits`` significant figures of ``value``, after rounding."""
    if value == 0 or not math.isfinite(value):
        return 0
    exponent = int(f"{abs(value):.{digits - 1}e}".split("e")[1])
    return digits - 1 - exponent


def significant(value: float, digits: int = 3) -> str:
    """A number to significant figures, never with an exponent.

    >>> significant(0.05678), significant(218.6), significant(2600.0, 2)
    ('0.0568', '219', '2600')
    """
    return fixed(value, decimals_for(value, digits))


def plain(value: float, digits: int = 6) -> str:
    """A number as a person typed it: no zeros added, none lost.

    >>> plain(25.0), plain(0.5), plain(8.25)
    ('25', '0.5', '8.25')
    """
    text = significant(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def change(value: float) -> str:
    """A change with its sign, never more than two decimals.

    >>> change(10.0), change(-2.5), change(0.0)
    ('+10', '−2.5', '0')
    """
    text = plain(round(value, 2))
    return f"+{text}" if value > 0 and text != "0" else text


def unit_after(number: str, unit: str) -> str:
    """A number and its unit with a blank between that never breaks; no unit, no blank."""
    return f"{number}{NBSP}{unit}" if unit else number


def amount(value: float, unit: str = "") -> str:
    """A planned or measured amount as it was typed, with its unit."""
    return unit_after(plain(value), unit)


def rounded(value: float, unit: str = "", digits: int = 3) -> str:
    """A computed amount to significant figures, with its unit."""
    return unit_after(significant(value, digits), unit)


def balance_decimals(readability_g: float) -> int:
    """Decimals that a balance of this readability in g shows.

    >>> balance_decimals(0.01), balance_decimals(0.0001), balance_decimals(1.0)
    (2, 4, 0)
    """
    return max(0, -math.floor(math.log10(readability_g) + 1e-9))


def mass(value_g: float, readability_g: float = 0.01) -> str:
    """A mass with the decimals of the balance it was read on."""
    return unit_after(fixed(value_g, balance_decimals(readability_g)), "g")


def percent(share: float) -> str:
    """A share of 0..1 in percent, whole numbers, with the ends told honestly.

    >>> [percent(x).replace(NBSP, " ") for x in (0.0, 0.002, 0.093, 0.998, 1.0)]
    ['0 %', 'under 1 %', '9 %', 'over 99 %', '100 %']
    """
    if 1e-9 < share < 0.005:
        return f"under 1{NBSP}%"
    if 0.995 <= share < 1 - 1e-9:
        return f"over 99{NBSP}%"
    return unit_after(fixed(100 * share, 0), "%")


def uncertainty_decimals(uncertainty: float) -> int:
    """Decimals that show an uncertainty to two figures, or to one where it leads with 3 to 9."""
    leading = f"{abs(uncertainty):.1e}"[0]
    return decimals_for(uncertainty, 2 if leading in "12" else 1)


def with_uncertainty(value: float, uncertainty: float, unit: str = "") -> str:
    """A value with its standard uncertainty, both cut at the same decimal.

    >>> with_uncertainty(5.9412, 0.0147, "g").replace(NBSP, " ")
    '5.941 ± 0.015 g'
    """
    if uncertainty <= 0 or not math.isfinite(uncertainty):
        return rounded(value, unit)
    decimals = uncertainty_decimals(uncertainty)
    number = f"{fixed(value, decimals)}{NBSP}±{NBSP}{fixed(uncertainty, decimals)}"
    return unit_after(number, unit)


def interval(low: float, high: float, unit: str = "") -> str:
    """A range whose ends carry the same decimals: enough to show its width to two figures.

    >>> interval(5.872, 6.911, "g").replace(NBSP, " ")
    '5.9 to 6.9 g'
    """
    decimals = _interval_decimals(low, high)
    return unit_after(f"{fixed(low, decimals)} to {fixed(high, decimals)}", unit)


def _interval_decimals(low: float, high: float) -> int:
    return decimals_for(high - low, 2) if high > low else decimals_for(high, 3)


def ranged(value: float, low: float | None, high: float | None, unit: str = "") -> str:
    """A value with its range, no finer than the range says; alone where there is none.

    >>> ranged(2.0549, 2.0289, 2.0809, "g").replace(NBSP, " ")
    '2.055 g (2.029 to 2.081 g)'
    >>> ranged(5.74, 1.2, 13.3, "%").replace(NBSP, " ")
    '6 % (1 to 13 %)'
    """
    if low is None or high is None or high <= low:
        return rounded(value, unit)
    shown = unit_after(fixed(value, _interval_decimals(low, high)), unit)
    return f"{shown} ({interval(low, high, unit)})"


_DAY_MIN, _HOUR_MIN = 1440.0, 60.0


def duration(minutes: float) -> str:
    """A time in minutes, hours from two hours on, days from two days on.

    >>> [duration(m).replace(NBSP, " ") for m in (0.5, 10, 120, 10080)]
    ['0.5 min', '10 min', '2 h', '7 days']
    """
    if minutes >= 2 * _DAY_MIN:
        return unit_after(significant(minutes / _DAY_MIN, 2).removesuffix(".0"), "days")
    if minutes >= 2 * _HOUR_MIN:
        return unit_after(plain(minutes / _HOUR_MIN, 3), "h")
    return amount(minutes, "min")


_TIMES = {2: "twice", 3: "three times", 4: "four times", 5: "five times", 6: "six times"}


def times(count: int) -> str:
    """How often, in words; nothing for once."""
    return "" if count <= 1 else _TIMES.get(count, f"{count}{NBSP}times")


def joined(words: tuple[str, ...] | list[str], last: str = "and") -> str:
    """A list as a sentence has it: "a", "a and b", "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
