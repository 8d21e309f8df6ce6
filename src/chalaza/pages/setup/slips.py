"""Plausible slips of setting up: °F typed for °C and the other way round."""

import re

from chalaza import units
from chalaza.pages.forms import Choice, Measure
from chalaza.words import numbers
from chalaza.words.numbers import Voice

_BARE = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*")
#: Where the air of a machine with eggs in it is meant to be; outside it is asked about. [°C]; judgement.
RUN_DEGC = (30.0, 42.0)


def other_unit(voice: Voice, text: str, field: Measure, low: float, high: float) -> Choice | None:
    """What was likely meant where a bare figure lies outside `low` to `high` (unit inside), but inside in another unit."""
    typed = _BARE.fullmatch(text)
    if typed is None:
        return None
    value = float(typed[1].replace(",", "."))
    if low <= float(units.inside(value, field.show)) <= high:
        return None
    for unit in field.of.displays:
        inside = float(units.inside(value, unit))
        if unit != field.show and low <= inside <= high:
            figure = numbers.quantity(voice, inside, "temperature")
            return Choice(f"{typed[1]} {unit}", f"{typed[1]} {unit} = {figure}", likely=True)
    return None
