"""Plausible slips of setting up: °F typed for °C and the other way round."""

import re
from dataclasses import replace

from chalaza import units
from chalaza.pages.forms import Choice, Measure
from chalaza.words import numbers
from chalaza.words.language import mark
from chalaza.words.numbers import NB, Preference, Voice

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
            alone = replace(voice, units=Preference.US if field.show == "°F" else Preference.METRIC)
            holes = {"typed": f"{typed[1]}{NB}{unit}", "figure": numbers.quantity(alone, inside, "temperature")}
            return Choice(f"{typed[1]} {unit}", voice.say(mark("{typed}, that is {figure}"), holes), likely=True)
    return None
