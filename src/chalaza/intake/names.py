"""Units written in column names and unit rows."""

import re

from chalaza.intake.vocabulary import word_set

_DEGREE = r"(?:[°º˚øØ¡\ufffd]|Â°|Â|\?)"
_BEFORE = r"(?:^|[\s_/,;\[(.-])"
_AFTER = r"(?:$|[\s_/,;\])])"


def _temperature(letter: str, word: str) -> re.Pattern[str]:
    small = letter.lower()
    return re.compile(
        rf"{_DEGREE}\s?[{letter}{small}](?![A-Za-z])|[oO]{letter}{_AFTER}|deg(?:rees?|s)?[.\s_]*[{letter}{small}]{_AFTER}"
        rf"|deg[{letter}]|{word}|(?i:te?mp(?:erature)?)[\s_]?{small}(?:$|[\])_])|{_BEFORE}{letter}(?:$|[\])])|[\[(]{letter}[\])]"
    )


_UNITS = (
    ("°C", re.compile(r"℃|°\s?С|(?i:celsius|centigrad)")),
    ("°F", re.compile(r"℉|(?i:fahrenheit)")),
    ("°C", _temperature("C", r"(?i:celsius)")),
    ("°F", _temperature("F", r"(?i:fahrenheit)")),
    ("kelvin", re.compile(rf"(?i:kelvin)|[\[(]K[\])]|{_BEFORE}K$")),
    ("g/m³", re.compile(r"g\s?/\s?m\s?[3³]|g\s?/\s?kg")),
    ("%", re.compile(r"%|(?i:\bpercent\b|\bpct\b|\bprozent\b|\bpourcent\b)")),
)
#: Units of columns that are not wanted; they only show that a row of a header is a row of units.
_OTHERS = word_set(
    "lx lux v mv volts volt a ma hpa kpa pa mbar bar mmhg inhg mm in m cm ft s min h ms ppm ppb dbm db w/m2 "
    "w/m^2 kw/m^2 mj/m^2 mw/cm2 uw/cm2 lxh lx.h w/cm2h mw/cm2h m/s km/h mph deg rn ts ° unitless - g/m3 g/m³ "
    "g/kg kj/kg °"
)
_AGGREGATES = word_set("min max avg mean smp tot std tmx tmn sum med sd")


def unit_in(text: str) -> str:
    """The unit of temperature or humidity named in `text`: `°C`, `°F`, `kelvin`, `%`, `g/m³`, or `""`."""
    found = [unit for unit, pattern in _UNITS if pattern.search(text[:400])]
    if "°C" in found and "°F" in found:
        return ""  # a name that offers both says neither
    return found[0] if found else ""


_ALONE = re.compile(
    rf"^(?:{_DEGREE}?\s?[CF]|℃|℉|K|oC|oF|deg(?:rees?|s)?[.\s_]*[CF]?|celsius|fahrenheit|kelvin"
    r"|%\s?(?:r\.?\s?[hf]\.?|h\.?r\.?)?|percent|prozent|g\s?/\s?m\s?[3³])$",
    re.IGNORECASE,
)


def is_unit(text: str) -> bool:
    """Whether a cell is nothing but a unit: `°C`, `Deg C`, `%`, `lx`, not `T C`."""
    plain = text.strip().strip("[]()").strip()
    if not plain or len(plain) > 12:
        return False
    return plain.casefold() in _OTHERS or _ALONE.match(plain) is not None


def is_aggregate(text: str) -> bool:
    """Whether a header cell is nothing but the name of a statistic (`Max`, `Avg`, ...)."""
    return text.strip().casefold() in _AGGREGATES
