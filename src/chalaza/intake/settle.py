"""Settles what names leave open about a column: its unit, its scale, what it holds at all. Asks where two readings are left."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from chalaza.intake import plausible
from chalaza.intake.columns import WANTED, Column
from chalaza.intake.plausible import finite
from chalaza.intake.questions import Asked, Option, Question
from chalaza.quantities import TEMP_DEGC
from chalaza.units import inside

Floats = npt.NDArray[np.float64]
Printed = Mapping[int, Sequence[str]]

#: RH over 100 % up to this is a wet or drifted sensor: kept as printed and flagged (our choice). [%]
_RH_TOP = 105.0


def settle(columns: Sequence[Column], asked: Asked, show: Printed) -> None:
    """Settle units, scales and the columns whose names say nothing; ask where two readings are left."""
    told = [column for column in columns if f"quantity:{column.at + 1}" in asked.answers]
    for column in columns:
        if column in told:
            _tell_quantity(column, asked)
        elif column.role in WANTED:
            _settle_named(column, asked, show)
    if any(column.role in WANTED for column in columns if column not in told):
        return
    bare = [column for column in columns if column.role == "unknown" and column not in told]
    for column in bare:
        _by_values(column)
    found = any(column.role in WANTED for column in bare)
    for column in bare:
        if column.role == "unknown":
            _ask_quantity(column, asked, found)


def _finite(column: Column) -> Floats:
    return finite(column.values)


def _settle_named(column: Column, asked: Asked, show: Printed) -> None:
    values = _finite(column)
    if not len(values) or column.statistic:
        column.unit = column.unit or ("°C" if column.role == "temperature" else "%")
        return
    if column.role == "temperature":
        _switch(column, asked)
        if not column.blocked:
            _settle_temperature(column, asked, show)
    else:
        _settle_rh(column, asked, show)


def _settle_temperature(column: Column, asked: Asked, show: Printed) -> None:
    span = {"°F": (-40.0, 140.0), "kelvin": (233.15, 333.15)}.get(column.unit, (TEMP_DEGC.low, 140.0))
    if not _scaled(column, plausible.scales(_finite(column), *span), asked, show):
        return
    if column.unit in ("°C", "°F", "kelvin"):
        return
    units = plausible.temperature_units(_finite(column))
    number = column.at + 1
    options = tuple(
        Option(key, words, _preview(show.get(column.at, ()), column, unit))
        for key, words, unit in (("degc", "degrees Celsius", "°C"), ("degf", "degrees Fahrenheit", "°F"))
    )
    words = f"column {number} ({column.name or 'no name'}) gives temperatures without a unit: °C or °F?"
    if len(units) == 1:
        taken = "degc" if units[0] == "°C" else "degf"
        answer = asked.ask(Question(f"unit:{number}", words, options, blocking=False, taken=taken))
        column.why += (
            "; no unit given: as °F it would be colder than 45 °F"
            if taken == "degc"
            else "; no unit given: too warm for °C"
        )
    else:
        answer = asked.ask(Question(f"unit:{number}", words, options))
    column.unit = {"degc": "°C", "degf": "°F", None: ""}[answer]
    column.blocked = not column.unit


def _settle_rh(column: Column, asked: Asked, show: Printed) -> None:
    values, number = _finite(column), column.at + 1
    top = float(values.max())
    if 0 < top <= 1.0 and not bool((values == np.round(values)).all()):
        options = (
            Option("fraction", "fractions, 1 is saturated", _preview(show.get(column.at, ()), column, "1")),
            Option("percent", "percent, 100 is saturated", _preview(show.get(column.at, ()), column, "%")),
        )
        words = f"column {number} ({column.name or 'no name'}) gives humidity from 0 to 1: fractions or percent?"
        open_ = Question(
            f"fraction:{number}",
            words,
            options,
            blocking=column.unit == "%",
            taken="fraction" if column.unit != "%" else "",
        )
        answer = asked.ask(open_)
        column.why += "; no value exceeds 1"
        column.unit, column.blocked = {"fraction": "1", "percent": "%", None: column.unit}[answer], answer is None
        return
    column.unit = "%"
    _scaled(column, plausible.scales(values, 0.0, _RH_TOP), asked, show)


def _scaled(column: Column, found: list[int], asked: Asked, show: Printed) -> bool:
    """Ask about whole numbers that only fit when divided by 10 or 100; False while the answer is open."""
    if not found:
        return True
    printed = list(show.get(column.at, ()))[:3]
    options = tuple(
        Option(
            str(scale),
            "as printed" if scale == 1 else f"divided by {scale}",
            tuple(f"{text}  reads as  {_over(text, scale)}" for text in printed),
        )
        for scale in (*found, 1)
    )
    words = f"column {column.at + 1} ({column.name or 'no name'}) gives whole numbers: tenths or hundredths?"
    answer = asked.ask(Question(f"scale:{column.at + 1}", words, options))
    if answer is None:
        column.blocked = True
        return False
    column.values = column.values / float(answer)
    return True


def _over(text: str, scale: int) -> str:
    try:
        return f"{float(text) / scale:g}"
    except ValueError:
        return "no number"


def _preview(printed: Sequence[str], column: Column, unit: str) -> tuple[str, ...]:
    values = _finite(column)[:3]
    shown = "°C" if unit in ("°C", "°F", "kelvin") else "%"
    read = [inside(float(value), unit) * (100.0 if shown == "%" else 1.0) for value in values]
    return tuple(f"{value:g}  reads as  {found:.1f} {shown}" for value, found in zip(values, read, strict=True))


def _switch(column: Column, asked: Asked) -> None:
    """A column that jumps by the formula of °C and °F: the unit was switched part-way."""
    good = np.flatnonzero(np.isfinite(column.values))
    clean = good[~np.isin(column.values[good], plausible.CODES)]
    values = column.values[clean]
    found = plausible.switches(values)
    if not found or len(found) > 20:
        return
    first = found[0][0]
    a, b = float(values[first - 1]), float(values[first])
    before, after = ("°F", "°C") if found[0][1] == "°C" else ("°C", "°F")
    options = (
        Option(
            "switched",
            f"{before} up to there, {after} from there on",
            (f"{a:g}, {b:g}  reads as  {inside(a, before):.1f}, {inside(b, after):.1f} °C",),
        ),
        Option("as-printed", "the values did jump", (f"{a:g}, {b:g}  in one unit",)),
    )
    words = f"column {column.at + 1} ({column.name or 'no name'}) jumps from {a:g} to {b:g}: was the unit switched?"
    answer = asked.ask(Question(f"unit-switch:{column.at + 1}", words, options))
    if answer == "switched":
        unit, start = before, 0
        for stop, following in (*found, (len(values), "")):
            rows = clean[start:stop]
            column.values[rows] = inside(column.values[rows], unit)
            unit, start = following, stop
        column.unit = "°C"
        column.why += "; unit switched part-way, as answered: all turned to °C"
    column.blocked = answer is None


def _by_values(column: Column) -> None:
    """A column without a name that only a digital thermometer can have written."""
    values = _finite(column)
    clean = plausible.without_codes(values)
    if len(values) and not len(clean):
        column.role, column.why = "no-sensor", f"every value is the sensor code {values[0]:g}"
        column.put_aside(np.isfinite(column.values), "sensor-code")
    elif plausible.on_grid(values):
        column.role, column.unit = "temperature", "°C"
        column.why = "every value lies on the 1/16 grid on which 12-bit digital thermometers count in °C"


_QUANTITIES = {
    "temp-degc": ("temperature in °C", "temperature", "°C"),
    "temp-degf": ("temperature in °F", "temperature", "°F"),
    "rh": ("relative humidity in %", "rh", "%"),
    "rh-fraction": ("relative humidity as a fraction", "rh", "1"),
    "ignore": ("neither: leave it out", "ignored", ""),
}


def _quantity_question(column: Column, keys: Sequence[str]) -> Question:
    options = tuple(
        Option(key, _QUANTITIES[key][0], _preview((), column, _QUANTITIES[key][2]) if key != "ignore" else ())
        for key in keys
    )
    words = f"column {column.at + 1} ({column.name or 'no name'}) could be several things: what does it hold?"
    return Question(f"quantity:{column.at + 1}", words, options)


def _tell_quantity(column: Column, asked: Asked) -> None:
    """The keeper says what a column holds, whatever its name."""
    answer = asked.ask(_quantity_question(column, tuple(_QUANTITIES))) or "ignore"
    _, column.role, column.unit = _QUANTITIES[answer]
    column.statistic, column.why = "", "as answered"


def _ask_quantity(column: Column, asked: Asked, found: bool) -> None:
    """Ask about a bare column; not where others are known and this one has another name or stands still."""
    values = plausible.without_codes(_finite(column))
    still = len(values) > 5 and bool((values == values[0]).all())
    if not len(values) or (still and (found or float(values[0]) in (0.0, 1.0))) or (found and column.name):
        return
    keys = []
    units = [column.unit] if column.unit in ("°C", "°F") else plausible.temperature_units(values)
    if column.unit != "%":
        keys += ["temp-degc"] * ("°C" in units) + ["temp-degf"] * ("°F" in units)
    keys += ["rh-fraction"] * plausible.fits(values, 0.0, 1.0) + ["rh"] * plausible.fits(values, 0.0, _RH_TOP)
    if keys:
        asked.ask(_quantity_question(column, (*keys, "ignore")))
        column.blocked = True
        column.why += "; asked about"


def check(column: Column) -> list[str]:
    """Set aside sensor codes and values outside the hard span; say what else is odd. Returns flags in plain words."""
    if column.role not in WANTED or column.blocked or not len(column.values):
        return []
    good = np.flatnonzero(np.isfinite(column.values))
    values = column.values[good]
    flags = []
    temperature = column.role == "temperature"
    low, high = (TEMP_DEGC.low, TEMP_DEGC.high) if temperature else (0.0, _RH_TOP / 100.0)
    for reason, which in plausible.set_aside(values, column.unit, low, high).items():
        mask = np.zeros(len(column.values), np.bool_)
        mask[good[which]] = True
        column.put_aside(mask, reason)
    if not temperature:
        over = int((column.values > (1.0 if column.unit == "1" else 100.0)).sum())
        if over:
            flags.append(
                f"{over} values of column {column.at + 1} lie over saturation, kept as printed: wet or drifted sensor"
            )
    return flags
