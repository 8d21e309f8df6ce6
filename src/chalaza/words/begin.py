"""The day of setting, in words: what is planned because it is usual, what is worth finding out, what to mind."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza import facts
from chalaza.facts import Kind
from chalaza.facts.kinds import usual_temp
from chalaza.values.estimate import Band
from chalaza.values.evidence import Airflow
from chalaza.words import numbers
from chalaza.words.basis import STATUSES, Cited, cited
from chalaza.words.cautions import ALWAYS
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

#: Kinds whose young or eggs fall under special rules: group of the table of kinds -> caution; by key where it differs.
_RULES: Mapping[str, str] = MappingProxyType({"gamebird": "licences", "ratite": "licences", "altricial": "hand_fed"})
_RULES_OF: Mapping[str, str] = MappingProxyType({"swan": "licences", "mallard": "licences", "coturnix": ""})


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One thing taken or asked for: the column of the record it stands in, in words, its sources.

    `quantity` is the name under which the facts of the kind hold it, where they do; `standing` says how far it was checked.
    """

    column: str
    words: str
    quantity: str = ""
    sources: tuple[Cited, ...] = ()
    standing: str = ""


def plans(voice: Voice, kind: Kind, airflow: Airflow) -> tuple[Taken, Taken]:
    """Temperature and humidity that are planned where a keeper says nothing."""
    temp = usual_temp(kind, airflow)
    still = airflow is Airflow.STILL
    usual = mark("Level with the egg tops {figure} is planned, usual for this kind in still air.") if still else mark(
        "{figure} is planned, usual for this kind with a fan."
    )  # fmt: skip
    if temp is None:
        text = voice.say(mark("No temperature is planned: for this kind in still air none is published."))
        first = Taken(column="planned_temp_degc", words=text)
    else:
        quantity = "temp_still_egg_top" if still else "temp_forced"
        first = _plan(voice, temp, "planned_temp_degc", quantity, "temperature", usual)
    wet = mark("{figure} humidity is planned, usual for this kind. Weighing will say better.")
    return first, _plan(voice, kind.rh_setting, "planned_rh", "rh_setting", "humidity", wet)


def _plan(voice: Voice, band: Band, column: str, quantity: str, style: str, text: str) -> Taken:
    figure = numbers.ranged(voice, band.typical, band.typical, band.typical, style)
    sources = tuple(cited(voice, key) for key in band.sources)
    words = voice.say(text, {"figure": figure})
    standing = voice.say(STATUSES[band.status])
    return Taken(column=column, words=words, quantity=quantity, sources=sources, standing=standing)


def asked(voice: Voice, airflow: Airflow, height_mm: float | None, laid_first: int | None) -> tuple[Taken, ...]:
    """What is worth finding out, and why."""
    out = []
    if airflow is Airflow.STILL and height_mm is None:
        text = mark(
            "Measure how high the probe hangs over the egg tops. Still air is layered: without the height the reading "
            "does not tell the warmth of the eggs."
        )
        out.append(Taken(column="height_mm", words=voice.say(text), sources=_layered(voice)))
    if laid_first is None:
        text = mark("Note when the eggs were laid. The days in store move the hatch.")
        out.append(Taken(column="laid_first, laid_last", words=voice.say(text)))
    return tuple(out)


def _layered(voice: Voice) -> tuple[Cited, ...]:
    """Who says that a reading in still air holds for one height only."""
    rows = [row for row in facts.table("still_air_advice") if "layered" in row["meaning"]]
    return tuple(cited(voice, key) for key in dict.fromkeys(" ".join(row["source"] for row in rows).split()))


def minded(kind: Kind, *, posted: bool) -> tuple[str, ...]:
    """Keys of the cautions for whoever sets eggs of this kind; the last is said under everything."""
    rule = _RULES_OF.get(kind.key, _RULES.get(kind.group, ""))
    return ("homes", *(("movement_ban",) if posted else ()), *((rule,) if rule else ()), ALWAYS)
