"""Air cells at true size: hold the egg against its outline, a lamp behind it, and see where the edge should run.

The outline carries the wanted band of this kind on the days one candles, and where the edge is expected now. One outline
serves eggs of like size, with a row for each egg to write in; or every egg has its own.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import floor
from typing import Any

import numpy as np

from chalaza.charts import AirCell, air_cell_of
from chalaza.charts.drawn import Torch, torch_of, wanted_loss
from chalaza.errors import ChalazaError
from chalaza.facts import Kind
from chalaza.inference.understanding import Understanding
from chalaza.sheets.drawing import Band, Word, drawing
from chalaza.sheets.sheet import Paper, Sheet, pdf, sheet
from chalaza.sheets.sizes import sized
from chalaza.sheets.typed import cleaned
from chalaza.units import inside
from chalaza.values.answers import Assessment
from chalaza.words import numbers
from chalaza.words.cautions import ALWAYS, caution, cautions
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

#: Before this day nothing is wanted that could be seen.
_FIRST_DAY_D = 1.0
#: Depth that is told as a loss, by the leading unit. [mm]
_STEP_MM: Mapping[str, float] = {"mm": 1.0, "in": inside(0.05, "in")}
_CARE = ("wash_hands", "lamp_hot", "one_look")


class By(StrEnum):
    """What gets an outline: eggs of like size together, or every egg."""

    SIZE = "size"
    EGG = "egg"


def card(
    u: Understanding, a: Assessment, voice: Voice, *, paper: Paper = Paper.A4, by: By = By.SIZE,
    eggs: Iterable[str] | None = None, timestamp: int | None = None,
) -> bytes:  # fmt: skip
    """The card as PDF. `timestamp`: moment of making (seconds UTC), that of the assessment if None; the rest as `laid`."""
    return pdf(laid(u, a, voice, paper=paper, by=by, eggs=eggs), timestamp=timestamp)


def laid(
    u: Understanding, a: Assessment, voice: Voice, *, paper: Paper = Paper.A4, by: By = By.SIZE,
    eggs: Iterable[str] | None = None,
) -> Sheet:  # fmt: skip
    """The card, ready to be made. `eggs`: uids, by default all that are neither out, opened nor taken away.

    Raises `ChalazaError` when no egg is left, `EvidenceError` for a uid that is not in the batch.
    """
    uids = tuple(dict.fromkeys(one.uid for one in a.count.eggs) if eggs is None else dict.fromkeys(eggs))
    if not uids:
        raise ChalazaError("no egg to draw: name at least one that is neither out, opened nor taken away")
    voice = voice.of(a.zone, a.set_at)
    look = _Look(voice, u, a, torch_of(u))
    held = [_held(look, uid) for uid in uids]
    drawings, rows = _by_size(look, held) if by is By.SIZE else (_by_egg(look, held), [])
    holes = {
        "name": cleaned(a.name or a.batch, 60),
        "day": numbers.number(floor(look.now_d), 0),
        "term": numbers.number(a.clock.term_d, 0),
        "moment": numbers.moment(voice, a.as_of, year=True),
    }
    body = {
        "lead": voice.say(_LEAD[by], holes),
        "eggs": drawings,
        "notes": _notes(look, held),
        "cautions": list(cautions(voice, _CARE)),
        "always": caution(voice, ALWAYS),
        "heads": _heads(look) if rows else [],
        "rows": rows,
    }
    title = voice.say(mark("Air cells, true size"))
    return sheet(voice, layout="air_cell", title=title, name=a.name or a.batch, paper=paper, body=body, at=a.as_of)


_LEAD: Mapping[By, str] = {
    By.SIZE: mark(
        "{name}: day {day} of {term}, setting being day 0, as of {moment}. Hold the egg, blunt end up, against the outline of "
        "its size, the lamp behind it, and see where the edge of the air cell runs. Write it down in the last column."
    ),
    By.EGG: mark(
        "{name}: day {day} of {term}, setting being day 0, as of {moment}. Hold the egg, blunt end up, against its outline, "
        "the lamp behind it, and see where the edge of the air cell runs."
    ),
}


# Figures ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Look:
    """What every part of the card is made from."""

    voice: Voice
    u: Understanding
    a: Assessment
    torch: Torch

    @property
    def now_d(self) -> float:
        """Days since setting."""
        return self.u.now_h / 24.0

    @property
    def past(self) -> bool:
        """Whether the day of the target is reached: all is told as it was then."""
        return self.now_d >= self.a.water.target_day_d

    def unit(self) -> str:
        """The sign of the unit lengths are told in: the leading one alone."""
        return numbers.STYLES["length"].ways(self.voice.units)[0].sign

    def mm(self, value_mm: float) -> str:
        """A length without its unit."""
        style = numbers.STYLES["length"]
        way = style.ways(self.voice.units)[0]
        return numbers.number(numbers.converted(value_mm, style, way), way.decimals)

    def size(self, cell: AirCell) -> str:
        """Length by breadth, without the unit."""
        return f"{self.mm(cell.length_mm)}{numbers.NB}×{numbers.NB}{self.mm(cell.breadth_mm)}"

    def lead(self, value: float, style_name: str) -> str:
        """A value in the leading unit alone."""
        style = numbers.STYLES[style_name]
        way = style.ways(self.voice.units)[0]
        return numbers.with_unit(style, way, value, way.decimals)

    def holes(self, cell: AirCell) -> dict[str, str]:
        """What sentences about one cell are filled with."""
        low, high = (self.mm(each) for each in (cell.shallow_mm, cell.reach_mm))
        return {
            "size": self.size(cell),
            "unit": self.unit(),
            "mass": self.lead(cell.mass_g, "mass"),
            "depth": self.mm(cell.depth_mm),
            "range": numbers.joined(low, high),
            "band": numbers.joined(*map(self.mm, cell.wanted_mm)),
        }


def days(kind: Kind) -> tuple[float, ...]:
    """The days on which the wanted band is drawn: those on which this kind is candled, one between the first two, and
    that of the target. [d]"""
    last = kind.loss_target.day_d
    first, second, *_ = kind.candle_d
    return tuple(sorted(d for d in {first, (first + second) // 2, *kind.candle_d, last} if d <= last))


@dataclass(frozen=True, slots=True)
class _Held:
    """What is held against an outline: an egg, or a counted group of which nobody knows which is which."""

    label: str
    count: int
    cell: AirCell


def _held(look: _Look, uid: str) -> _Held:
    cell = air_cell_of(look.u, look.a, uid)
    unit = look.u.rows.units[uid]
    label = cleaned(unit.label, 16, run=8) or cleaned(uid, 16, run=8)
    if unit.count > 1:
        label = look.voice.say(mark("{egg} ({n} eggs)"), {"egg": label, "n": str(unit.count)})
    return _Held(label, unit.count, cell)


# Drawings ---------------------------------------------------------------------------------------------------------


def _by_egg(look: _Look, held: Sequence[_Held]) -> list[dict[str, Any]]:
    seen = look.voice.say(mark("seen, {unit}"), {"unit": look.unit()})
    text = mark("{egg}: {size} {unit}, {mass}")
    return [
        _drawing(look, one.cell, look.voice.say(text, look.holes(one.cell) | {"egg": one.label}), seen) for one in held
    ]


def _by_size(look: _Look, held: Sequence[_Held]) -> tuple[list[dict[str, Any]], list[list[str]]]:
    drawings: list[dict[str, Any]] = []
    rows: dict[int, list[str]] = {}
    for one in sized([each.cell for each in held]):
        members = [held[i] for i in one.members]
        mean = _mean(look, members, one.length_mm, one.breadth_mm)
        n = sum(each.count for each in members)
        text = Plural(mark("{size} {unit}, about {mass}, {n} egg"), mark("{size} {unit}, about {mass}, {n} eggs"), "n")
        caption = look.voice.say(text, look.holes(mean) | {"n": str(n)}, n)
        drawings.append(_drawing(look, mean, caption, ""))
        rows |= {i: _row(look, held[i], look.size(mean)) for i in one.members}
    return drawings, [rows[i] for i in sorted(rows)]


def _mean(look: _Look, held: Sequence[_Held], length_mm: float, breadth_mm: float) -> AirCell:
    """The mean egg of some, in an outline of that size."""
    names, counts = ("mass_g", "loss", "loss_low", "loss_high"), [one.count for one in held]
    mass, loss, low, high = (
        float(np.average([getattr(one.cell, name) for one in held], weights=counts)) for name in names
    )
    return look.torch.cell((length_mm, breadth_mm, mass), (loss, low, high), wanted_loss(look.a, look.now_d))


def _drawing(look: _Look, cell: AirCell, caption: str, seen: str) -> dict[str, Any]:
    """One outline with its bands and words; `seen`: words before the place to write in, if it has one."""
    holes = look.holes(cell)
    bands, words = _bands(look, cell)
    words.append(Word(cell.depth_mm, look.voice.say(mark("expected {depth} ({range})"), holes), bold=True))
    return drawing(cell, bands, words) | {
        "caption": caption, "seen": seen, "alt": look.voice.say(_ALT, holes)
    }  # fmt: skip


_ALT = mark(
    "Outline at true size, {size} {unit}. The edge of the air cell is expected {depth} {unit} below the blunt end ({range}); "
    "{band} {unit} wanted."
)
_ON_DAY = mark("day {day}: {band} wanted")
#: By whether the day of the target is past.
_WANTED: Mapping[bool, str] = {False: mark("today: {band} wanted"), True: mark("at lockdown: {band} wanted")}


def _bands(look: _Look, cell: AirCell) -> tuple[list[Band], list[Word]]:
    """The wanted bands of the kind's days, and over them that of today; with what is said of each."""
    bands: list[Band] = []
    words: list[Word] = []
    for day in _drawn(look):
        size = (cell.length_mm, cell.breadth_mm, cell.mass_g)
        low, high = (look.torch.seen(loss, *size) for loss in wanted_loss(look.a, day))
        text = look.voice.say(_ON_DAY, {"day": f"{day:g}", "band": numbers.joined(look.mm(low), look.mm(high))})
        words.append(Word(0.5 * (low + high), text))
        bands.append(Band(low, high))
    if look.now_d >= _FIRST_DAY_D:
        words.append(Word(0.5 * sum(cell.wanted_mm), look.voice.say(_WANTED[look.past], look.holes(cell))))
        bands.append(Band(*cell.wanted_mm, now=True))
    return bands, words


def _drawn(look: _Look) -> list[float]:
    """The kind's days that have a band of their own: not so near to today that today's would cover its middle."""
    low, high = wanted_loss(look.a, look.now_d)
    if look.now_d < _FIRST_DAY_D:
        return list(days(look.u.kind))
    return [day for day in days(look.u.kind) if not low <= 0.5 * sum(wanted_loss(look.a, day)) <= high]


# Words ------------------------------------------------------------------------------------------------------------


def _heads(look: _Look) -> list[str]:
    loss, wanted = _COLUMNS[look.past]
    heads = (mark("egg"), mark("outline, {unit}"), mark("at setting, {mass}"), loss, wanted, mark("expected, {unit}"),
             mark("seen, {unit}"))  # fmt: skip
    holes = {"unit": look.unit(), "mass": numbers.STYLES["mass"].ways(look.voice.units)[0].sign}
    return [look.voice.say(one, holes) for one in heads]


#: By whether the day of the target is past.
_COLUMNS: Mapping[bool, tuple[str, str]] = {
    False: (mark("lost now, %"), mark("wanted now, {unit}")),
    True: (mark("lost by lockdown, %"), mark("wanted then, {unit}")),
}


def _row(look: _Look, held: _Held, outline: str) -> list[str]:
    """One egg's row; the last cell is left to write in."""
    cell = held.cell
    mass = numbers.STYLES["mass"]
    way = mass.ways(look.voice.units)[0]
    loss = [numbers.number(100.0 * each, 1) for each in (cell.loss, cell.loss_low, cell.loss_high)]
    holes = look.holes(cell)
    return [
        held.label,
        outline,
        numbers.number(numbers.converted(cell.mass_g, mass, way), way.decimals),
        f"{loss[0]}{numbers.NB}({numbers.joined(loss[1], loss[2])})",
        holes["band"] if look.now_d >= _FIRST_DAY_D else numbers.DASH,
        f"{holes['depth']}{numbers.NB}({holes['range']})",
        "",
    ]


def _notes(look: _Look, held: Sequence[_Held]) -> list[dict[str, str]]:
    """How to read the card, how sure it is, and which days its bands belong to."""
    voice = look.voice
    read = mark(
        "Depth below the blunt end in {units}, as the lamp shows it. Pale bands: wanted on that day. Dark band: wanted now. "
        "Thick line: where the edge is expected; nine times in ten it shows within the upright bar."
    )
    marks = {
        True: mark(
            "{step} of depth is about {loss} of the weight of the egg. The skin of the cell is domed and its edge hard to "
            "see; a scale tells far more. Mark the edge on two or three eggs that are also weighed, and the next card is surer."
        ),
        False: mark(
            "{step} of depth is about {loss} of the weight of the egg. The skin of the cell is domed and its edge hard to "
            "see; a scale tells far more. The marks noted so far are in this card."
        ),
    }
    notes = [
        (mark("How to read it."), voice.say(read, {"units": voice.say(_UNITS[look.unit()])})),
        (mark("How sure it is."), voice.say(marks[look.a.water.marks == 0], _worth(look, held))),
    ]
    if told := [numbers.day(voice, day) for day in _drawn(look)]:
        notes.append((mark("Which days."), voice.say(mark("{days}."), {"days": "; ".join(told)})))
    if look.a.water.weighings < 2 and look.a.water.marks == 0:
        text = mark(
            "No egg was weighed a second time: what is expected goes by the kind of bird, and its range is wide."
        )
        notes.append((mark("Not weighed."), voice.say(text)))
    return [{"head": voice.say(head), "text": text} for head, text in notes]


_UNITS: Mapping[str, str] = {"mm": mark("millimetres"), "in": mark("inches")}


def _worth(look: _Look, held: Sequence[_Held]) -> dict[str, str]:
    """What a step of depth tells of the loss, for the mean of the eggs as they are now."""
    lengths, breadths = [one.cell.length_mm for one in held], [one.cell.breadth_mm for one in held]
    mean = _mean(look, held, float(np.mean(lengths)), float(np.mean(breadths)))
    low = max(mean.loss - 0.005, 0.0)
    less, more = (look.torch.seen(loss, mean.length_mm, mean.breadth_mm, mean.mass_g) for loss in (low, low + 0.01))
    style, step = numbers.STYLES["length"], _STEP_MM[look.unit()]
    way = style.ways(look.voice.units)[0]
    shown = f"{numbers.converted(step, style, way):g}{numbers.NB}{way.sign}"
    return {"step": shown, "loss": look.lead(0.01 * step / (more - less), "loss")}
