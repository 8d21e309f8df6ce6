"""What is known about a kind of bird, figure by figure, each with its range, its sources and how far it was checked."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza import facts
from chalaza.words import numbers
from chalaza.words.basis import Cited, cited
from chalaza.words.fact_names import BELIEVED, CONDITIONS, PUBLISHED, TOPICS, WANTED, Name
from chalaza.words.language import mark
from chalaza.words.numbers import NB, Voice

#: Units that are no news to a reader: a bare share, and turns a day, which the name says.
_NO_UNIT = frozenset({"", "1", "1/d"})
_LIMIT_STYLES: Mapping[str, str] = MappingProxyType({"°C": "temperature", "d": "days"})
#: The groups of figures, in order.
GROUPS: Mapping[str, str] = MappingProxyType(
    {
        "wanted": mark("What is wanted"),
        "published": mark("What is published, where it disagrees"),
        "limits": mark("Limits"),
        "notes": mark("Notes"),
        "believed": mark("What is believed before a batch shows anything"),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One figure. `low`, `middle`, `high` are in `unit` (a share for `1`); `figure` is how a person reads it."""

    group: str
    quantity: str
    words: str
    figure: str
    low: float | None
    middle: float | None
    high: float | None
    unit: str
    note: str
    sources: tuple[Cited, ...]
    status: str


def known(voice: Voice, name: str) -> tuple[Fact, ...]:
    """All figures held about a kind (key or other name), by group. Raises `EvidenceError` for no such kind."""
    key = facts.kind(name).key
    rows = (
        *_wanted(voice, key),
        *_published(voice, key),
        *_limits(voice, key),
        *_notes(voice, key),
        *_believed(voice, key),
    )
    return rows


def spans(rows: Iterable[Fact]) -> Mapping[str, tuple[float, float, int]]:
    """Published matter -> lowest and highest figure and the number of rows: where sources disagree, the range."""
    found: dict[str, tuple[float, float, int]] = {}
    for row in rows:
        ends = [each for each in (row.low, row.middle, row.high) if each is not None]
        if row.group != "published" or not ends:
            continue
        low, high, n = found.get(row.quantity, (min(ends), max(ends), 0))
        found[row.quantity] = (min(low, *ends), max(high, *ends), n + 1)
    return MappingProxyType(found)


def span_words(voice: Voice, quantity: str, low: float, high: float) -> str:
    """The whole range of what is published about a matter."""
    return _figure(voice, PUBLISHED[quantity], low, None, high, "")


def _number(cell: str) -> float | None:
    return float(cell) if cell else None


def _wanted(voice: Voice, key: str) -> Iterator[Fact]:
    for row in facts.table("kind_values"):
        if row["kind"] == key:
            yield _fact(
                voice,
                "wanted",
                row["quantity"],
                WANTED[row["quantity"]],
                row,
                row["typical"],
                told(voice, row["where"]),
            )
    for row in facts.table("loss_targets"):
        if row["kind"] == key:
            note = _on_day(voice, row["day_d"], row["note"])
            yield _fact(voice, "wanted", "loss_target", WANTED["loss_target"], row, row["typical"], note)


def _on_day(voice: Voice, day_d: str, note: str) -> str:
    when = voice.say(mark("to day {day}"), {"day": day_d}) if day_d else voice.say(mark("over the whole term"))
    return f"{when}; {told(voice, note)}" if note else when


def told(voice: Voice, text: str) -> str:
    """A text of the tables in this language; nothing stays nothing."""
    return voice.language.gettext(text) if text else ""


def _published(voice: Voice, key: str) -> Iterator[Fact]:
    rows = [row for row in facts.table("advice_ranges") if key in facts.members(row["subject"])]
    for row in sorted(rows, key=lambda row: list(PUBLISHED).index(row["matter"])):
        yield _fact(voice, "published", row["matter"], PUBLISHED[row["matter"]], row, "", told(voice, row["words"]))
    for row in facts.table("loss_literature"):
        if key in facts.members(row["subject"]):
            note = _on_day(voice, row["day_d"], row["meaning"])
            name = PUBLISHED["loss_literature"]
            yield _fact(voice, "published", "loss_literature", name, row, row["best"], note)


def _limits(voice: Voice, key: str) -> Iterator[Fact]:
    """The most particular limit of each name; its meaning is its name."""
    best: dict[str, tuple[int, Mapping[str, str]]] = {}
    for row in facts.table("limits"):
        rank = facts.members(row["subject"]).get(key)
        if rank is not None and (row["limit"] not in best or rank < best[row["limit"]][0]):
            best[row["limit"]] = (rank, row)
    for _, row in best.values():
        style = _LIMIT_STYLES.get(row["unit"], "loss" if row["limit"].startswith("carbon_dioxide") else "")
        yield _fact(voice, "limits", row["limit"], Name(row["meaning"], style), row, row["value"], "")


def _notes(voice: Voice, key: str) -> Iterator[Fact]:
    for row in facts.table("kind_notes"):
        if key in facts.members(row["subject"]):
            name = Name(TOPICS[row["topic"]])
            yield _fact(voice, "notes", row["topic"], name, row, "", told(voice, row["text"]))


def _believed(voice: Voice, key: str) -> Iterator[Fact]:
    for quantity in facts.quantities():
        for condition in facts.conditions(quantity):
            yield _belief(voice, quantity, condition, facts.prior(quantity, key, condition))


def _belief(voice: Voice, quantity: str, condition: str, belief: facts.Prior) -> Fact:
    name = BELIEVED[quantity]
    words = voice.say(name.words)
    if condition:
        words = voice.say(mark("{what}: {condition}"), {"what": words, "condition": voice.say(CONDITIONS[condition])})
    low = middle = high = None
    if belief.shape == "dirichlet":
        shares = [numbers.quantity(voice, share, name.style) for share in belief.shares]
        live, unsure, clear, dead = shares
        text = mark("alive {live}, unsure {unsure}, clear {clear}, stopped {dead}")
        figure = voice.say(text, {"live": live, "unsure": unsure, "clear": clear, "dead": dead})
    else:
        low, high = belief.interval90
        middle = belief.p[0] if belief.shape == "lognormal" else belief.mean
        figure = _figure(voice, name, low, middle, high, belief.unit)
    return Fact(
        group="believed", quantity=f"{quantity}.{condition}".rstrip("."), words=words, figure=figure, low=low,
        middle=middle, high=high, unit=belief.unit, note=told(voice, belief.note), status=belief.status,
        sources=tuple(cited(voice, key) for key in belief.sources),
    )  # fmt: skip


def _fact(voice: Voice, group: str, key: str, name: Name, row: Mapping[str, str], middle: str, note: str) -> Fact:
    low, typical, high = _number(row.get("low", "")), _number(middle), _number(row.get("high", ""))
    unit = row.get("unit", "")
    return Fact(
        group=group, quantity=key, words=voice.language.gettext(name.words),
        figure=_figure(voice, name, low, typical, high, unit), low=low, middle=typical, high=high, unit=unit, note=note,
        sources=tuple(cited(voice, each) for each in row["source"].split()), status=row["status"],
    )  # fmt: skip


def _figure(voice: Voice, name: Name, low: float | None, middle: float | None, high: float | None, unit: str) -> str:
    """A value with its span; a span alone where nothing is typical; one edge alone as such."""
    if low is not None and high is not None and middle is None:
        return _one(voice, name, low, unit) if low == high else _span(voice, name, low, high, unit)
    if middle is not None:
        low, high = (middle, middle) if low is None or high is None else (low, high)
        return _ranged(voice, name, middle, low, high, unit)
    if high is not None:
        return voice.say(mark("at most {figure}"), {"figure": _one(voice, name, high, unit)})
    return "" if low is None else voice.say(mark("at least {figure}"), {"figure": _one(voice, name, low, unit)})


def _one(voice: Voice, name: Name, value: float, unit: str) -> str:
    return _ranged(voice, name, value, value, value, unit)


def _ranged(voice: Voice, name: Name, middle: float, low: float, high: float, unit: str) -> str:
    if name.style:
        return numbers.ranged(voice, middle, low, high, name.style)
    digits = _digits(middle, low, high)
    shown = _with_unit(numbers.number(middle, digits), unit)
    return shown if low == high else f"{shown}{NB}({_ends(low, high, digits)})"


def _span(voice: Voice, name: Name, low: float, high: float, unit: str) -> str:
    if name.style:
        return numbers.band(voice, low, high, name.style)
    return _with_unit(_ends(low, high, _digits(low, high)), unit)


def _ends(low: float, high: float, digits: int) -> str:
    return numbers.joined(numbers.number(low, digits), numbers.number(high, digits))


def _with_unit(text: str, unit: str) -> str:
    return text if unit in _NO_UNIT else f"{text}{NB}{unit}"


def _digits(*values: float) -> int:
    """Decimals that show three figures of the first value that has any; none where all are whole."""
    if all(value == round(value) for value in values):
        return 0
    size = next(abs(value) for value in values if value)
    return next((digits for digits, least in enumerate((100, 10, 1, 0.1)) if size >= least), 4)
