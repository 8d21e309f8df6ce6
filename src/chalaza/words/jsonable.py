"""Answers as JSON: the dataclasses gone over one by one, so that a new field needs no line here.

An estimate is `{value, low, high, unit, basis}`. Moments are ISO 8601 with the batch's offset, in unit `time`; shares
are 0 to 1 in unit `1`; temperatures are °C. Nothing is rounded. Sentences are added beside the figures they speak of.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from enum import Enum
from typing import Any
from zoneinfo import ZoneInfo

from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Assessment, Offer
from chalaza.values.estimate import Band, Estimate
from chalaza.words import advice as advice_words
from chalaza.words import measures
from chalaza.words.answers import answered
from chalaza.words.cautions import ALWAYS, caution, cautions
from chalaza.words.numbers import NB, Voice

#: Fields that hold bare seconds since 1970 outside an `Estimate`.
MOMENTS = frozenset({"set_at", "as_of", "gaps"})
_EPOCH, _TIME = "epoch_s", "time"


def iso(at: float, zone: str) -> str:
    """A moment as ISO 8601 with the offset of `zone`, in whole seconds."""
    return datetime.fromtimestamp(round(at), ZoneInfo(zone)).isoformat()


def jsonable(value: Any, zone: str, *, name: str = "") -> Any:
    """`value` as what `json` writes; `name` is the field it stands in. Raises `TypeError` for what has no form."""
    if isinstance(value, (Estimate, Band)) and value.unit == _EPOCH:
        moments = {key: iso(getattr(value, key), zone) for key in _numbers(value)}
        return _fields(value, zone) | moments | {"unit": _TIME}
    if isinstance(value, Level):
        return value.name.lower()
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value):
        return _fields(value, zone)
    if isinstance(value, Mapping):
        return {str(key): jsonable(item, zone) for key, item in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [jsonable(item, zone, name=name) for item in value]
    return _plain(value, zone, name)


def _numbers(value: Estimate | Band) -> tuple[str, ...]:
    return ("value", "low", "high") if isinstance(value, Estimate) else ("low", "typical", "high")


def _fields(value: Any, zone: str) -> dict[str, Any]:
    return {each.name: jsonable(getattr(value, each.name), zone, name=each.name) for each in fields(value)}


def _plain(value: Any, zone: str, name: str) -> Any:
    if value is None or isinstance(value, (str, bool)):
        return value
    if hasattr(value, "item"):  # a numpy scalar
        value = value.item()
    if isinstance(value, (bool, int, float)):
        return iso(float(value), zone) if name in MOMENTS else value
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def assessment(voice: Voice, a: Assessment) -> dict[str, Any]:
    """An assessment with its sentences: the four answers, `advice`, `measure_next` and what always holds."""
    spoken_to = voice.of(a.zone, a.set_at)
    out: dict[str, Any] = jsonable(a, a.zone)
    for one in answered(spoken_to, a):
        out[one.question]["sentence"] = one.sentence
    out["advice"] = [_advice(spoken_to, one, a.zone) for one in a.advice]
    out["measure_next"] = [_offer(spoken_to, one, a.zone) for one in a.measure_next]
    out["caution"] = caution(spoken_to, ALWAYS)
    return plain_spaces(out)  # type: ignore[no-any-return]  # a dict in, a dict out


def _advice(voice: Voice, one: Advice, zone: str) -> dict[str, Any]:
    said = advice_words.say(voice, one)
    words = {"what": said.what, "do": said.do, "because": said.because, "cautions": cautions(voice, said.cautions)}
    return {**jsonable(one, zone), **words}


def _offer(voice: Voice, one: Offer, zone: str) -> dict[str, Any]:
    said = measures.say(voice, one)
    words = {"do": said.do, "how": said.how, "narrows": said.narrows, "cautions": cautions(voice, said.cautions)}
    return {**jsonable(one, zone), **words}


def plain_spaces(value: Any) -> Any:
    """The same with ordinary spaces in every text: what breaks a line is nobody's business in JSON."""
    if isinstance(value, str):
        return value.replace(NB, " ")
    if isinstance(value, dict):
        return {key: plain_spaces(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain_spaces(item) for item in value]
    return value
