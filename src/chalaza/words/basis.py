"""Where a figure comes from, in words: method, records, sources with how far each was checked."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza import facts
from chalaza.values.estimate import Basis
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

METHODS: Mapping[str, str] = MappingProxyType(
    {
        "reading": mark("as the probe showed it"),
        "exposure": mark(
            "worked out hour by hour from the log, the place of the probe and the warmth the eggs give off"
        ),
        "clock": mark("the warmth the eggs had, hour by hour, against the term of their kind"),
        "water": mark("water vapour through the shells, hour by hour, fitted to the weights"),
        "fit": mark("fitted together with all else that is known of this batch"),
        "count": mark("the chances of every egg, stage by stage, with what the lamp showed"),
        "drift": mark("daily means of the log against their usual scatter"),
        "swing": mark("day against night in the log, or the box against its room"),
        "chill": mark("a table of cold spells"),
        "heat": mark("a table of hot spells"),
        "plan": mark("counted from the hour of setting"),
    }
)

INPUTS: Mapping[str, str] = MappingProxyType(
    {
        "readings": mark("readings of the probes"),
        "weighings": mark("weighings"),
        "air_cells": mark("marks of the air cell"),
        "probe_checks": mark("checks of the probes"),
        "candlings": mark("candlings"),
        "hatches": mark("young seen"),
    }
)

STATUSES: Mapping[str, str] = MappingProxyType(
    {
        "checked": mark("checked"),
        "memory": mark("from memory"),
        "practice": mark("common practice"),
        "computed": mark("computed"),
    }
)

#: What each status promises.
STATUS_MEANS: Mapping[str, str] = MappingProxyType(
    {
        "checked": mark("checked: its page was seen"),
        "memory": mark("from memory: known, page not seen"),
        "practice": mark("common practice: no page holds it"),
        "computed": mark("computed: our arithmetic from figures with a source"),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cited:
    """A source and how far it was checked."""

    key: str
    cite: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """Where a figure comes from."""

    method: str
    inputs: tuple[str, ...]
    sources: tuple[Cited, ...]


def cited(voice: Voice, key: str) -> Cited:
    """The source of that key. Raises `KeyError` for no such source (our bug)."""
    source = facts.sources()[key]
    return Cited(key=key, cite=source.cite, status=voice.say(STATUSES[source.status]))


def explain(voice: Voice, basis: Basis) -> Explained:
    """A basis in words."""
    return Explained(
        method=voice.say(METHODS[basis.method]),
        inputs=tuple(voice.say(INPUTS[name]) for name in basis.inputs),
        sources=tuple(cited(voice, key) for key in basis.sources),
    )
