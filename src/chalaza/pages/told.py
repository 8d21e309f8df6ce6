"""Acts in words: what was done, to what, and each row before and after."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from django.apps import apps
from django.db import models

from chalaza import facts
from chalaza.records import models as m
from chalaza.records.acts import ActError, Resting
from chalaza.words import numbers, things
from chalaza.words.events import DEATH_STAGES, EVENTS, FINDINGS, HATCH_STAGES
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

#: Verb of an act -> what was done. A verb without words is said as it stands.
VERBS: Mapping[str, str] = MappingProxyType(
    {
        "weigh": mark("Weighed"),
        "candle": mark("Candled"),
        "mark": mark("Marked air cells"),
        "hatch": mark("Noted young"),
        "open": mark("Opened eggs"),
        "note": mark("Wrote a note"),
        "event": mark("Noted what happened"),
        "turn": mark("Turned the eggs"),
        "turn_missed": mark("Noted a missed turn"),
        "turn_stop": mark("Stopped turning"),
        "remove": mark("Took eggs out"),
        "move": mark("Moved the eggs"),
        "import": mark("Brought in"),
        "bring": mark("Brought in"),
        "tick": mark("Ticked a job"),
        "untick": mark("Took a tick back"),
        "finish": mark("Ended the batch"),
        "reopen": mark("Took the batch up again"),
        "begin": mark("Began"),
        "make": mark("Added"),
        "change": mark("Changed"),
        "delete": mark("Deleted"),
        "check": mark("Checked a probe"),
        "forget": mark("Forgot a lesson"),
        "remember": mark("Remembered a setting"),
        "undo": mark("Undone"),
        "let in": mark("Let a phone in"),
        "put out": mark("Put a phone out"),
        "send_log": mark("Sent a log"),
        "leave_log": mark("Left a log out"),
        "log": mark("Took in a log"),
        "withdraw_log": mark("Withdrew a log"),
        "take_log": mark("Took a log in again"),
    }
)
_DID = mark("{did}: {what}")
_UNDID = mark("Undid “{what}”")
_MORE = Plural(mark("{listed} and {n} more"), mark("{listed} and {n} more"), by="n")
_ALL = mark("all eggs")
_STAYS = mark("It stays, because this rests on it: {what}. Take that away first.")
_WHICH = mark("{sort} {name}")
#: So many things are named one by one.
_NAMED = 4
_NOTE = 80
#: Acts of many sorts of rows at once: said by what they were about.
_WHOLE = frozenset({"begin", "import"})

#: Field of a row -> its words. A field without words is technical, and not shown.
FIELDS: Mapping[str, str] = MappingProxyType(
    {
        "at": mark("when"), "start": mark("from"), "end": mark("until"), "until": mark("until"),
        "looked_before": mark("looked before"), "eggs": mark("eggs"), "egg_id": mark("egg"), "gross_g": mark("on the scale"),
        "tare_g": mark("cup or tray"), "resolution_g": mark("steps of the scale"), "depth_mm": mark("depth"),
        "finding": mark("finding"), "count": mark("number"), "stage": mark("stage"), "sort": mark("sort"),
        "set_point_degc": mark("set point"), "text": mark("text"), "note": mark("note"), "name": mark("name"),
        "label": mark("label"), "kind": mark("kind"), "set_at": mark("set"), "zone": mark("time zone"),
        "planned_rh": mark("humidity planned"), "planned_temp_degc": mark("temperature planned"),
        "wanted_young": mark("young wanted"), "turns_per_d": mark("turns a day"), "finished_at": mark("ended"),
        "length_mm": mark("length"), "breadth_mm": mark("breadth"), "shell": mark("shell"), "position": mark("place"),
        "removed_at": mark("taken out"), "machine_id": mark("machine"), "probe_id": mark("probe"), "place_id": mark("room"),
        "batch_id": mark("batch"), "lot_id": mark("lot"), "parents_id": mark("parents"), "origin": mark("origin"),
        "laid_first": mark("first laid"), "laid_last": mark("last laid"), "store_temp_degc": mark("store"),
        "laid_at": mark("laid at"), "parents_weeks": mark("age of the parents"), "one_hen": mark("of one hen"),
        "altitude_m": mark("altitude"), "pressure_pa": mark("air pressure"), "airflow": mark("air"),
        "volume_l": mark("volume"), "troughs_cm2": mark("troughs"), "vents": mark("vents"), "tray": mark("tray"),
        "mapped": mark("mapped"), "controls": mark("steers the heater"), "height_mm": mark("height"),
        "reading_degc": mark("shown"), "reference_degc": mark("true"), "reading_rh": mark("humidity shown"),
        "reference_rh": mark("true humidity"), "forgotten": mark("forgotten"), "withdrawn": mark("out of force"),
        "units": mark("units"), "language": mark("language"), "theme": mark("light"),
    }
)  # fmt: skip
_MOMENTS = frozenset(
    {"at", "start", "end", "until", "looked_before", "set_at", "finished_at", "removed_at", "laid_first", "laid_last"}
)
_STYLES: Mapping[str, str] = MappingProxyType(
    {"g": "mass", "mm": "length", "degc": "temperature", "rh": "humidity", "m": "altitude"}
)
#: Where a field holds one of some named things: model and field -> their words.
_WORDS: Mapping[tuple[str, str], Mapping[Any, str]] = MappingProxyType(
    {
        ("Candling", "finding"): FINDINGS, ("Event", "sort"): EVENTS, ("Hatch", "stage"): HATCH_STAGES,
        ("Breakout", "stage"): DEATH_STAGES, ("Machine", "airflow"): things.AIRFLOWS,
        ("Probe", "sort"): things.PROBE_SORTS, ("ProbeCheck", "sort"): things.CHECK_SORTS, ("Egg", "shell"): things.SHELLS,
        ("Lot", "origin"): things.ORIGINS, ("Lot", "laid_at"): things.LAID_AT, ("Keeper", "units"): things.PREFERENCES,
    }
)  # fmt: skip
_NAMES_OF: Mapping[str, str] = MappingProxyType(
    {
        "Weighing": mark("weighing"), "Candling": mark("look"), "AirCellMark": mark("mark"), "Hatch": mark("young"),
        "Breakout": mark("opened egg"), "Event": mark("event"), "Note": mark("note"), "Egg": mark("egg"),
        "Batch": mark("batch"), "Lot": mark("lot"), "Stay": mark("stay"), "Machine": mark("machine"),
        "Place": mark("room"), "Probe": mark("probe"), "Mount": mark("place of a probe"), "ProbeCheck": mark("check"),
        "Parents": mark("parents"), "Done": mark("tick"), "Lesson": mark("lesson"), "Source": mark("readings"),
        "Upload": mark("file that waits"), "Recipe": mark("answers kept"),
        "Keeper": mark("how you read"), "Device": mark("phone"),
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldTold:
    """One field of a row: before and after; empty where there was nothing."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RowTold:
    """One row of an act: what sort, which, and its fields. `gone` and `new` say that it was deleted or made."""

    sort: str
    name: str
    fields: tuple[FieldTold, ...]
    new: bool
    gone: bool


class Names:
    """Names of rows by uid, looked up once each."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, str], str] = {}

    def learn(self, changes: Iterable["m.Change"]) -> None:
        """Look up the eggs of many changes at once."""
        uids = {uid for one in changes for uid in _eggs_of(one.after or one.before or {})}
        for uid, label in m.Egg.objects.filter(uid__in=uids).values_list("uid", "label"):
            self._known["Egg", uid] = label

    def of(self, model: str, uid: object) -> str:
        """The name of a row, or its uid where it is gone."""
        key = (model, str(uid))
        if key not in self._known:
            kind: type[models.Model] = apps.get_model("records", model)
            found = kind._default_manager.filter(uid=uid).first()
            named = found.parents if isinstance(found, m.Lot) else found
            self._known[key] = str(named) if named is not None else str(uid)
        return self._known[key]


def _eggs_of(row: Mapping[str, Any]) -> list[str]:
    uids = [*str(row.get("eggs") or "").split(), str(row.get("egg_id") or "")]
    return [uid for uid in uids if uid and uid != "all"]


def sentence(voice: Voice, act: "m.Act", names: Names | None = None, changes: list["m.Change"] | None = None) -> str:
    """What an act did, in one sentence: `Weighed: C1 52.7 g`."""
    if act.undoes is not None:
        return voice.say(_UNDID, {"what": sentence(voice, act.undoes, names)})
    did = voice.language.gettext(VERBS.get(act.verb, act.verb))
    rows = list(act.changes.all()) if changes is None else changes
    known = names or Names()
    known.learn(rows[: _NAMED + 1])
    if act.verb in _WHOLE and act.subject:
        return voice.say(_DID, {"did": did, "what": act.subject})
    parts = [text for one in rows[:_NAMED] if (text := _short(voice, one, known))]
    listed = ", ".join(dict.fromkeys(parts)) or act.subject
    if len(rows) > _NAMED and parts:
        more = len(rows) - _NAMED
        listed = voice.say(_MORE, {"listed": listed, "n": str(more)}, more)
    return voice.say(_DID, {"did": did, "what": listed}) if listed else did


def why(voice: Voice, wrong: ActError) -> str:
    """Why an act was refused: what rests on what was to be taken away, by name, or the reason as it stands."""
    if not isinstance(wrong, Resting):
        return voice.language.gettext(str(wrong))
    named = list(dict.fromkeys(_rests(voice, one) for one in wrong.rows))
    listed, more = ", ".join(named[:_NAMED]), len(named) - _NAMED
    if more > 0:
        listed = voice.say(_MORE, {"listed": listed, "n": str(more)}, more)
    return voice.say(_STAYS, {"what": listed})


def _rests(voice: Voice, row: models.Model) -> str:
    """A row by its sort and name; what has no name, by what it is of."""
    named: models.Model = row
    if isinstance(row, m.Stay):
        named = row.batch
    elif isinstance(row, m.Mount):
        named = row.probe
    about = getattr(row, "parents", None) or getattr(row, "egg", None)
    if isinstance(row, m.Weighing):
        about = row.batch
    name = str(about or named)
    sort = voice.language.gettext(_NAMES_OF.get(type(named).__name__, type(named).__name__))
    return sort if name == getattr(named, "uid", "") else voice.say(_WHICH, {"sort": sort, "name": name})


def _short(voice: Voice, change: "m.Change", names: Names) -> str:
    """A row in a few words."""
    row = change.after or change.before or {}
    make = _SHORT.get(change.model)
    if make is not None:
        return make(voice, change.model, row, names)
    return str(row.get("name") or row.get("label") or "")


def _word(voice: Voice, model: str, field: str, row: Mapping[str, Any]) -> str:
    """The word of one of some named things, or what stands there."""
    value = str(row[field])
    return voice.language.gettext(_WORDS.get((model, field), {}).get(value, value))


def _egg(voice: Voice, row: Mapping[str, Any], names: Names) -> str:
    if row.get("eggs") == "all":
        return voice.say(_ALL)
    uids = _eggs_of(row)
    listed = [names.of("Egg", uid) for uid in uids[:_NAMED]]
    return " ".join(listed) + (" …" if len(uids) > _NAMED else "")


def _weighing(voice: Voice, model: str, row: Mapping[str, Any], names: Names) -> str:
    net = float(row["gross_g"]) - float(row.get("tare_g") or 0.0)
    return f"{_egg(voice, row, names)} {numbers.quantity(voice, net, 'mass')}"


def _depth(voice: Voice, model: str, row: Mapping[str, Any], names: Names) -> str:
    return f"{_egg(voice, row, names)} {numbers.quantity(voice, float(row['depth_mm']), 'length')}"


def _seen(voice: Voice, model: str, row: Mapping[str, Any], names: Names) -> str:
    said = _word(voice, model, "finding" if "finding" in row else "stage", row)
    count = int(row.get("count") or 0)
    who = _egg(voice, row, names)
    return " ".join(part for part in (who, str(count) if count != 1 or not who else "", said) if part)


def _event(voice: Voice, model: str, row: Mapping[str, Any], names: Names) -> str:
    said = _word(voice, model, "sort", row)
    point = row.get("set_point_degc")
    return said if point is None else f"{said} {numbers.quantity(voice, float(point), 'temperature')}"


def _note(voice: Voice, model: str, row: Mapping[str, Any], names: Names) -> str:
    text = str(row.get("text") or "").strip()
    return text if len(text) <= _NOTE else f"{text[:_NOTE]}…"


def _taken(voice: Voice, model: str, row: Mapping[str, Any], names: Names) -> str:
    return str(row.get("label") or "")


def _nothing(voice: Voice, model: str, row: Mapping[str, Any], names: Names) -> str:
    return ""


_SHORT: Mapping[str, Callable[[Voice, str, Mapping[str, Any], Names], str]] = MappingProxyType(
    {
        "Weighing": _weighing, "AirCellMark": _depth, "Candling": _seen, "Hatch": _seen, "Breakout": _seen, "Event": _event,
        "Note": _note, "Egg": _taken, "Done": _nothing, "Stay": _nothing, "Mount": _nothing, "Lesson": _nothing,
    }
)  # fmt: skip


def row(voice: Voice, change: "m.Change", names: Names) -> RowTold:
    """One row before and after, field by field: of a changed one what differs, of another all that is said."""
    before, after = change.before or {}, change.after or {}
    told = [
        FieldTold(name=voice.language.gettext(word), before=_value(voice, change.model, name, before, names),
                  after=_value(voice, change.model, name, after, names))
        for name, word in FIELDS.items()
        if before.get(name) != after.get(name)
    ]  # fmt: skip
    return RowTold(
        sort=voice.language.gettext(_NAMES_OF.get(change.model, change.model)), name=_short(voice, change, names),
        fields=tuple(one for one in told if one.before or one.after), new=change.before is None, gone=change.after is None,
    )  # fmt: skip


def _value(voice: Voice, model: str, name: str, row: Mapping[str, Any], names: Names) -> str:
    value = row.get(name)
    if value is None or value == "" or (name == "tare_g" and not value):
        return ""
    if name == "resolution_g":
        return f"{value:g}{numbers.NB}g"
    if name in _MOMENTS:
        return numbers.moment(voice, float(value), year=True)
    if isinstance(value, bool):
        return voice.say(mark("yes")) if value else voice.say(mark("no"))
    style = _STYLES.get(name.rpartition("_")[2])
    if style is not None and isinstance(value, (int, float)):
        return numbers.quantity(voice, float(value), style)
    if name in ("eggs", "egg_id"):
        return _egg(voice, row, names)
    if name.endswith("_id"):
        return names.of(name.removesuffix("_id").capitalize(), value)
    if name == "kind":
        known = facts.kinds().get(str(value))
        return voice.language.gettext(known.name) if known is not None else str(value)
    return _word(voice, model, name, row)
