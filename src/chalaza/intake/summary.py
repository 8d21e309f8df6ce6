"""The report of a reading: statistics of columns and steps, and what the keeper should know."""

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from chalaza.intake.columns import WANTED, Column
from chalaza.intake.dates import iso
from chalaza.intake.layout import split
from chalaza.intake.plausible import finite, longest_still
from chalaza.intake.probes import ProbeLog
from chalaza.intake.report import ColumnReport, Report, Sample, Shown, Statistics
from chalaza.intake.shapes import Index
from chalaza.intake.table import REASONS, STATUS, Table
from chalaza.units import inside

if TYPE_CHECKING:
    from chalaza.intake.reader import Job

Ints = npt.NDArray[np.int64]
#: A record that stands still to the last digit this long is worth a look (our choice).
_STILL_S, _STILL_ROWS = 6 * 3600, 24
_SATURATED = 99.9
_MOST_GAPS, _SAMPLES = 20, 5


def summarise(
    job: "Job",
    taken: list[Column],
    rows: Index,
    utc: Ints,
    zone: str | None,
    newest: bool,
    in_order: bool,
    repeated: int,
    logs: tuple[ProbeLog, ...],
) -> Report:
    """The report of a finished reading; `rows` are the lines read, `utc` the times of all lines."""
    table, local = job.table, job.timeline.local
    steps, step, sorted_t = _steps(utc[rows])
    counts = np.bincount(table.status, minlength=len(REASONS))
    rejected = {
        reason: int(counts[at]) for at, reason in enumerate(REASONS) if at and counts[at] and reason != "continued"
    }
    notes = [*job.notes, *job.timeline.notes, *_notes(job, taken, utc, rows, step, newest, repeated)]
    first = int(local[rows].min()) if len(rows) else None
    last = int(local[rows].max()) if len(rows) else None
    return Report(
        encoding=job.text.note,
        layout=job.layout.why(),
        look=job.look,
        line_count=table.first_line + len(table.status),
        lines_above=table.first_line,
        rows_read=len(rows),
        rows_rejected=rejected,
        continued=int(counts[STATUS["continued"]]),
        time_column=job.timeline.why,
        time_decided=job.timeline.decided,
        first=None if first is None else iso(first),
        last=None if last is None else iso(last),
        zone=zone,
        step_s=step,
        largest_gap_s=int(steps.max()) if len(steps) else None,
        steps_not_modal=int((steps != step).sum()) if len(steps) else 0,
        gaps=_gaps(sorted_t, steps, step),
        in_order=in_order,
        newest_first=newest,
        repeated_times=repeated,
        columns=tuple(_column(column) for column in _with_time(job, taken, len(rows))),
        probes=tuple((log.name, len(log)) for log in logs),
        notes=tuple(dict.fromkeys(notes)),
        samples=_samples(table, taken),
        questions=tuple(job.asked.open),
        answered=dict(job.asked.used),
        shown=_shown(job, rows, utc),
    )


def _shown(job: "Job", rows: Index, utc: Ints) -> tuple[Shown, ...]:
    """The first two rows read and the last one, as printed."""
    found = []
    for row in dict.fromkeys([*rows[:2].tolist(), *rows[-1:].tolist()]):
        cells = split(job.table.line(row, 500), job.layout.delimiter)
        stamp = " ".join(cells[at] for at in job.source.columns if at < len(cells))
        found.append(Shown(job.table.number(row), stamp[:60], tuple(cell[:60] for cell in cells), int(utc[row])))
    return tuple(found)


def _steps(t: Ints) -> tuple[Ints, int | None, Ints]:
    """The steps between different times in order, the commonest of them, and the times in order."""
    steps = np.diff(t)
    if not bool((steps > 0).all()):
        t = np.unique(t)
        steps = np.diff(t)
    if not len(steps):
        return steps, None, t
    if bool((steps == steps[0]).all()):
        return steps, int(steps[0]), t
    values, counts = np.unique(steps, return_counts=True)
    return steps, int(values[np.argmax(counts)]), t


def _gaps(t: Ints, steps: Ints, step: int | None) -> tuple[tuple[str, str, int], ...]:
    if step is None or int(steps.max()) <= 3 * step:
        return ()
    wide = np.flatnonzero(steps > 3 * step)
    widest = np.sort(wide[np.argsort(-steps[wide], kind="stable")][:_MOST_GAPS])
    return tuple((iso(int(t[at])), iso(int(t[at + 1])), int(steps[at])) for at in widest.tolist())


def _with_time(job: "Job", taken: list[Column], count: int) -> list[Column]:
    """The columns of the report in the order of the file, those of time among them."""
    nothing = np.zeros(0, np.int64)
    seen = {column.at for column in taken}
    result = list(taken)
    for at in range(job.layout.columns):
        if at not in seen:
            own = at in job.source.columns
            why = job.timeline.why if own else "further times, not used"
            result.append(Column(at, job.layout.names[at], "time", "", "", why, nothing, np.zeros(0)))
    return sorted(result, key=lambda column: column.at)


def _column(column: Column) -> ColumnReport:
    values = finite(column.values)
    found = _statistics(values)
    known = column.role in WANTED and column.unit in ("°C", "°F", "kelvin", "%", "1")
    why = f"{column.why}; {column.kind}" if column.kind else column.why
    if column.statistic and column.role in WANTED:
        why += f"; {column.statistic} of a time span, not a reading: left out"
    return ColumnReport(
        number=column.at + 1,
        name=column.name,
        quantity=column.role or "unknown",
        unit=column.unit,
        statistic=column.statistic,
        why=why,
        used=column.used,
        found=found,
        inside=_turned(found, column.unit) if known else None,
        inside_unit=("°C" if column.role == "temperature" else "1") if known else "",
        aside=dict(column.aside),
    )


def _turned(found: Statistics, unit: str) -> Statistics:
    if found.low is None or found.high is None or found.mean is None:
        return found
    return Statistics(found.n, inside(found.low, unit), inside(found.high, unit), inside(found.mean, unit))


def _statistics(values: npt.NDArray[np.float64]) -> Statistics:
    if not len(values):
        return Statistics(0)
    return Statistics(len(values), float(values.min()), float(values.max()), float(values.mean()))


def _samples(table: Table, taken: list[Column]) -> tuple[Sample, ...]:
    """A few of the lines and cells that were set aside, with their line numbers."""
    found = []
    for status, reason in enumerate(REASONS):
        if status and reason not in ("blank", "continued"):
            for at in _first_few(table, status):
                found.append(Sample(table.number(at), 0, table.line(at, 120), reason))
    for column in taken:
        for at, text, reason in column.samples:
            if reason != "blank":
                found.append(Sample(table.number(at), column.at + 1, text[:120], reason))
    return tuple(sorted(found, key=lambda sample: (sample.line, sample.column)))


def _first_few(table: Table, status: int) -> list[int]:
    return [int(at) for at in np.flatnonzero(table.status == status)[:_SAMPLES]]


def _notes(
    job: "Job",
    taken: list[Column],
    utc: Ints,
    rows: Index,
    step: int | None,
    newest: bool,
    repeated: int,
) -> list[str]:
    notes = []
    extremes = [column for column in taken if column.role in WANTED and column.statistic in ("max", "min")]
    if extremes:
        span = "daily extremes" if step == 86_400 else "extremes"
        listed = ", ".join(column.name or str(column.at + 1) for column in extremes[:8])
        notes.append(f"{span}, not readings: {listed}; a day's extremes do not tell how warm the eggs were")
    if newest:
        notes.append("the newest row stands first: turned round")
    if repeated:
        notes.append(f"{repeated} rows have the time of another row but other values: all kept")
    notes += _cut_seconds(utc[rows], step)
    notes += [note for column in taken if column.used for note in _still(column, utc)]
    return notes


def disorder(t: Ints, back: Index) -> str:
    """What to say when time goes back: `back` are the rows (oldest first) after which it does."""
    steps = np.diff(t)
    step = int(np.median(steps))
    runs_on = steps[np.minimum(back + 1, len(steps) - 1)] == step
    times = "once" if len(back) == 1 else f"{len(back)} times"
    if len(back) <= 50 and bool((np.abs(steps[back] + 3600) <= step).all() and runs_on.all()):
        return f"time goes back an hour {times}, as when a clock is set back: say the zone to place these rows"
    return f"rows are not in order of time: time goes back {times}; they were sorted"


def _cut_seconds(t: Ints, step: int | None) -> list[str]:
    if step is None or step > 600 or len(t) < 20 or bool((t % 60 != 0).any()):
        return []
    steps = np.diff(t)
    odd = (np.abs(steps - step) == 60).mean()
    return ["seconds are cut off: steps jump by a minute"] if odd > 0.1 else []


def _still(column: Column, utc: Ints) -> list[str]:
    good = np.flatnonzero(np.isfinite(column.values))
    if len(good) < _STILL_ROWS:
        return []
    values = column.values[good]
    still = longest_still(values)
    if still.last - still.first + 1 < _STILL_ROWS:
        return []
    begin, end = (int(utc[column.rows[good[at]]]) for at in (still.first, still.last))
    value = float(values[still.first])
    saturated = column.role == "rh" and value >= (_SATURATED if column.unit != "1" else _SATURATED / 100)
    coarse = bool((values == np.round(values)).all())
    if abs(end - begin) < _STILL_S or (coarse and not saturated):
        return []
    what = "saturated" if saturated else "without the least change"
    span = abs(end - begin) / 3600
    name = f"column {column.at + 1} ({column.name or 'no name'})"
    return [f"{name} stands at {value:g} for {span:.1f} h, {what}: kept, but look at the sensor"]
