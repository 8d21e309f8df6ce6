"""Reading a logger file: the steps in order. `read` is what the rest of the program calls."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from chalaza.errors import ReadingError
from chalaza.intake import clock, commas, longform, probes, settle, vocabulary
from chalaza.intake import columns as cols
from chalaza.intake.columns import Column
from chalaza.intake.layout import Layout, kind, sniff, split
from chalaza.intake.probes import ProbeLog
from chalaza.intake.questions import Asked, Question
from chalaza.intake.recipe import Recipe, look_of
from chalaza.intake.report import Report
from chalaza.intake.shapes import Index, Spans, shape
from chalaza.intake.summary import disorder, summarise
from chalaza.intake.table import BLANK, PLAIN, STATUS, Filler, Table
from chalaza.intake.text import Text, clean, load
from chalaza.intake.timeline import Timeline, build, counter_of
from chalaza.intake.when import Source, choose
from chalaza.values.evidence import Series

Progress = Callable[[float], None]
_NO_ANSWERS: Mapping[str, str] = MappingProxyType({})
#: How many lines that are no rows are looked at one by one; the rest only has no time.
_LOOKED_AT = 20_000
#: Text below the readings is a footer as far as this; beyond, the times have become unreadable.
_FOOTER_LINES = 60
_FOOTER = vocabulary.word_set(
    "average avg mean min minimum max maximum end total sum count stdev std mittelwert mittel moyenne "
    "promedio media ende fin fine summary statistics"
)
_ZONE_LINE = re.compile(r"time ?zone|zeitzone|utc offset|gmt offset|fuseau|zona horaria", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Reading:
    """What a file gave: one `ProbeLog` a probe (none while a question keeps them back) and the `report`."""

    probes: tuple[ProbeLog, ...]
    report: Report

    def series(self, probe: str | int = 0) -> Series:
        """The readings of one probe, by name or place, as evidence holds them. Raises `ReadingError` for no such."""
        for at, log in enumerate(self.probes):
            if probe in (at, log.name):
                return log.series()
        known = ", ".join(log.name for log in self.probes) or "none while questions are open"
        raise ReadingError(f"no probe {probe!r} in this file; there are: {known}")


@dataclass(slots=True)
class Job:
    """All that the steps of one reading share."""

    text: Text
    layout: Layout
    look: str
    asked: Asked
    zone: str
    source: Source
    table: Table
    index: int | None
    timeline: Timeline
    notes: list[str] = field(default_factory=list)
    commas_open: bool = False


def read(
    source: bytes | Path,
    *,
    answers: Mapping[str, str] = _NO_ANSWERS,
    zone: str | None = None,
    recipe: Recipe | None = None,
    progress: Progress | None = None,
    careful: bool = False,
) -> Reading:
    """Read a logger file, whatever its look.

    `answers`: question code -> option key; `zone`: name or offset of the logger's clock where the file says none;
    `recipe`: answers kept for this look, used only when the look is the same; `progress` is told the share done (0-1).
    `careful` cuts every line and number one by one: slow, same result. Raises `ReadingError` when nothing is readable.
    """
    text = clean(load(source))
    layout, data, merged, notes, zone_name = _prepared(text, answers, zone, recipe)
    asked = Asked(merged)
    commas_open = False
    if layout.clash:
        answer = asked.ask(commas.question(layout))
        commas_open = answer is None
        if answer != "separator":
            data = commas.rewritten(data, layout)
            layout = sniff(data)
    look = look_of(layout, _stamp_shape(layout))
    table, when, index = _filled(data, layout, careful, progress)
    timeline = build(table, layout, when, counter_of(table, index), asked)
    job = Job(text, layout, look, asked, zone_name, when, table, index, timeline, notes, commas_open)
    return _finished(job)


def _prepared(
    text: Text, answers: Mapping[str, str], zone: str | None, recipe: Recipe | None
) -> tuple[Layout, bytes, dict[str, str], list[str], str]:
    layout, data = sniff(text.data), text.data
    if layout.blanks:
        data = re.sub(rb"[ \t]+(?=\n|$)", b"", re.sub(rb"(?m)^[ \t]+", b"", data))
        data = re.sub(rb"[ \t]{2,}" if layout.blanks == "  " else rb"[ \t]+", b"\t", data)
    notes = [*layout.notes]
    merged, zone_name = dict(answers), zone or answers.get("zone", "")
    if recipe is not None:
        if recipe.look == look_of(layout, _stamp_shape(layout)):
            merged = {**recipe.answers, **answers}
            zone_name = zone_name or recipe.zone or recipe.answers.get("zone", "")
            notes.append(f"read by the recipe {recipe.name}")
        else:
            notes.append(f"the recipe {recipe.name} is for files of another look and was not used")
    if text.torn:
        notes.append(f"{text.torn} NUL bytes: written while the power failed")
    return layout, data, merged, notes, zone_name


def _stamp_shape(layout: Layout) -> str:
    row = layout.sample[0]
    stamps = [
        shape(cell.encode()).decode("utf-8", "replace") for cell in row if kind(cell) in ("stamp", "date", "time")
    ]
    return "|".join(re.sub("0+", "0", stamp) for stamp in stamps)


def _filled(data: bytes, layout: Layout, careful: bool, progress: Progress | None) -> tuple[Table, Source, int | None]:
    when = choose(layout)
    stamped = set(when.columns) if when.form in ("stamp", "pair", "clock") else set()
    others = set()
    for at in range(layout.columns):
        cells = [row[at] for row in layout.sample if row[at]]
        told = sum(kind(cell) in ("stamp", "date", "time") for cell in cells)
        if at not in stamped and at not in when.columns and told * 2 > len(cells):
            others.add(at)
    table = Filler(data, layout, stamped, others, careful).fill(progress)
    index = cols.find_index(table, layout)
    return table, when, None if index in when.columns else index


def _finished(job: Job) -> Reading:
    table, timeline = job.table, job.timeline
    _explain(job)
    rows = np.flatnonzero((table.status == 0) & timeline.good)
    if not len(rows):
        raise ReadingError(
            f"no row with a time that can be read was found under the layout: {job.layout.why()}; {job.timeline.why}; "
            "look at the file in a text editor and export it again"
        )
    taken = _taken(job, rows)
    measured = _measured(job, taken, rows)
    if not measured.all():
        _drop_unmeasured(job, rows, measured)
        rows = rows[measured]
        if not len(rows):
            raise ReadingError(
                "every row has a time but no reading: the sensor was not connected, or only events were logged"
            )
        taken = _taken(job, rows)
    rows, taken, utc, zone, newest, blocked = _placed(job, rows, taken)
    show = {at: [row[at] for row in job.layout.sample[:3]] for at in range(job.layout.columns)}
    taken = longform.unfold(table, taken, rows, timeline.local[rows])
    settle.settle(taken, job.asked, show)
    for column in taken:
        column.blocked |= job.commas_open and column.role in cols.WANTED
        job.notes += settle.check(column)
    turned = rows[::-1] if newest else rows
    back = np.flatnonzero(np.diff(utc[turned]) < 0)
    if len(back):
        job.notes.append(disorder(utc[turned], back))
    repeated = _collapse(job, taken, utc)
    rows = rows[table.status[rows] == 0]
    _demand_something(job, taken)
    logs = () if blocked else _logs(taken, utc)
    report = summarise(job, taken, rows, utc, zone, newest, len(back) == 0, repeated, logs)
    return Reading(logs, report)


def _taken(job: Job, rows: Index) -> list[Column]:
    return [
        cols.take(job.table, job.layout, rows, job.index, at)
        for at in sorted(job.table.numbers)
        if at not in job.source.columns
    ]


def _measured(job: Job, taken: list[Column], rows: Index) -> Spans:
    """Rows with something in any column that is more than a running number, a set point, words or the like."""
    result = np.zeros(len(rows), np.bool_)
    for column in taken:
        if column.role not in cols.NOT_MEASURED and not result.all():
            source = job.table.numbers[column.at]
            filled = np.array([n == PLAIN or cell.reason != "blank" for n, cell in enumerate(source.cells)])
            result |= filled[source.labels[rows]]
    return result


def _drop_unmeasured(job: Job, rows: Index, measured: Spans) -> None:
    """Rows with a time and no number: an event when words stand in them, else no measurement."""
    dropped = rows[~measured]
    words = np.zeros(len(dropped), np.bool_)
    for source in job.table.numbers.values():
        text = np.array([cell.reason == "text" for cell in source.cells])
        words |= text[source.labels[dropped]]
    job.table.status[dropped] = np.where(words, STATUS["event-only"], STATUS["no-measurement"])


def _explain(job: Job) -> None:
    """Say what the lines are that have no time: blank, the header again, a comment, a footer, or a damaged row."""
    table, timeline = job.table, job.timeline
    none = (table.status == 0) & ~timeline.good
    odd = np.flatnonzero(none | (table.status == STATUS["field-count"]))
    if not len(odd):
        return
    empty = none[odd]
    for column in table.stamps.values():
        empty &= ~column.filled[odd]
    for source in table.numbers.values():
        empty &= source.labels[odd] == BLANK
    table.status[odd[empty]] = STATUS["blank"]
    odd = odd[~empty]
    good = np.flatnonzero((table.status == 0) & timeline.good)
    last = int(good[-1]) if len(good) else -1
    heads = {tuple(name for name in job.layout.names if name)} | {
        tuple(split(line, job.layout.delimiter)) for line in _header_lines(job)
    }
    reasons = [_reason(job, at, last, heads, bool(none[at])) for at in odd[:_LOOKED_AT].tolist()]
    table.status[odd[:_LOOKED_AT]] = [STATUS[reason] for reason in reasons]
    rest = odd[_LOOKED_AT:]
    table.status[rest[none[rest]]] = STATUS["bad-time"]


def _header_lines(job: Job) -> list[str]:
    lines = job.table.data[:65536].decode("utf-8", "replace").split("\n")
    return [lines[at] for at in job.layout.header if at < len(lines)]


def _reason(job: Job, at: int, last: int, heads: set[tuple[str, ...]], regular: bool) -> str:
    line = job.table.line(at, 2000)
    cells = split(line, job.layout.delimiter)
    if tuple(cell for cell in cells if cell) in heads or tuple(cells) in heads:
        return "repeated-header"
    if line.lstrip().startswith(("#", "//")):
        return "comment"
    word = next(iter(vocabulary.tokens(line[:80])), "")
    below = last < at <= last + _FOOTER_LINES
    if word in _FOOTER or (below and not any(kind(cell) in ("stamp", "date") for cell in cells)):
        return "footer"
    return "bad-time" if regular else "field-count"


def _placed(
    job: Job, rows: Index, taken: list[Column]
) -> tuple[Index, list[Column], npt.NDArray[np.int64], str | None, bool, bool]:
    """UTC of every line; rows that cannot be placed are taken out. Also the zone, newest first or not, blocked or not."""
    timeline, table = job.timeline, job.table
    local = timeline.local[rows]
    newest = len(local) > 1 and float((np.diff(local) < 0).mean()) > 0.5
    turn = slice(None, None, -1) if newest else slice(None)
    moved, reset = clock.ask_reset(local[turn], job.asked)
    timeline.local[rows] = moved[turn]
    table.status[rows[reset[turn]]] = STATUS["clock-reset"]
    keep = ~reset[turn]
    placed, zone = _zoned(job, rows[keep][turn])
    utc = timeline.local.copy()
    utc[rows[keep][turn]] = placed.utc
    missing = rows[keep][turn][placed.missing]
    table.status[missing] = STATUS["missing-hour"]
    if placed.note:
        job.notes.append(placed.note)
    good = table.status[rows] == 0
    if not good.all():
        rows = rows[good]
        if not len(rows):
            raise ReadingError("no row is left whose time can be placed; check the zone and the clock of the logger")
        taken = _taken(job, rows)
    blocked = placed.blocked or not timeline.decided
    return rows, taken, utc, zone, newest, blocked


def _zoned(job: Job, rows: Index) -> tuple[clock.Placed, str | None]:
    """UTC of `rows` (oldest first) by what the file says, else by the zone given, else as printed."""
    timeline, local = job.timeline, job.timeline.local[rows]
    none = np.zeros(len(rows), np.bool_)
    told: str | None = None
    if timeline.utc:
        told, placed = "UTC", clock.Placed(local, none, False, "")
    elif timeline.offset is not None:
        minutes = timeline.offset[rows].astype(np.int64)
        lost = minutes == 32767
        told = "offset printed in each row"
        placed = clock.Placed(local - np.where(lost, 0, minutes) * 60, lost, False, "")
        job.table.status[rows[lost]] = STATUS["bad-time"]
        placed = clock.Placed(placed.utc, none, False, "")
    elif (offset := _zone_of_file(job)) is not None:
        told = f"UTC{'-' if offset < 0 else '+'}{abs(offset) // 3600:02d}:{abs(offset) % 3600 // 60:02d}"
        placed = clock.Placed(local - offset, none, False, "")
    if told is not None:
        if job.zone and told != "UTC":
            job.notes.append(f"the file says its zone itself ({told}); the zone {job.zone} was not used")
        return placed, told
    if job.zone:
        return clock.to_utc(local, job.zone, job.asked), job.zone
    hint = f" (the stamps say {timeline.zone}, which has several meanings)" if timeline.zone else ""
    job.asked.ask(
        Question(
            "zone",
            f"in which zone is the clock of the logger?{hint}",
            (),
            blocking=False,
            taken="as printed",
            free="a name such as Europe/Paris or an offset such as +01:00",
        )
    )
    return clock.Placed(local, none, False, ""), None


def _zone_of_file(job: Job) -> int | None:
    for at in job.source.columns:
        if (offset := clock.zone_in(job.layout.names[at])) is not None:
            return offset
    for line in job.layout.preamble:
        if _ZONE_LINE.search(line):
            if (offset := clock.zone_in(line)) is not None:
                return offset
            value = re.split(r"[:=;,\t]\s*", line, maxsplit=1)[-1].strip(' "')
            try:
                if (offset := clock.offset_of(value)) is not None:
                    return offset
            except ReadingError:
                continue
    return None


def _collapse(job: Job, taken: list[Column], utc: npt.NDArray[np.int64]) -> int:
    """Collapse equal rows of one time; count those of one time that differ, which are kept."""
    repeated = 0
    used = [column for column in taken if column.used]
    groups = {id(column.rows): column.rows for column in used}
    for rows in groups.values():
        mine = [column for column in used if column.rows is rows]
        t = utc[rows]
        step = np.diff(t)
        if not len(step) or bool((step > 0).all()):
            continue
        order = np.argsort(t, kind="stable")
        equal = np.diff(t[order]) == 0
        if not equal.any():
            continue
        same = equal.copy()
        for column in mine:
            values = column.values[order]
            same &= (values[1:] == values[:-1]) | (np.isnan(values[1:]) & np.isnan(values[:-1]))
        repeated += int((equal & ~same).sum())
        drop = order[1:][same]
        job.table.status[rows[drop]] = STATUS["duplicate"]
        keep = np.ones(len(rows), np.bool_)
        keep[drop] = False
        kept = rows[keep]
        for column in mine:
            column.rows, column.values = kept, column.values[keep]
    return repeated


def _demand_something(job: Job, taken: list[Column]) -> None:
    if any(column.role in (*cols.WANTED, "no-sensor") or column.blocked for column in taken):
        return
    listed = ", ".join(f"{column.at + 1} {column.name or '(no name)'}: {column.role}" for column in taken)[:1500]
    raise ReadingError(
        "no column of temperature or humidity was found: looked for names and units of both in many languages; "
        f"the columns are: {listed or 'none but the time'}; say which it is with an answer such as quantity:2=temp-degc"
    )


def _logs(taken: list[Column], utc: npt.NDArray[np.int64]) -> tuple[ProbeLog, ...]:
    used = [column for column in taken if column.used and bool(np.isfinite(column.values).any())]
    made = (probes.build(name, warm, wet, utc) for name, warm, wet in probes.pair(used))
    return tuple(log for log in made if len(log))
