"""The readings: day chunks per source in one plain table, live rows beside them, one way to read both.

Readings are float32 from the reader on. An import packs outside any transaction and is inserted in one short one; a
source is withdrawn, never unpicked. Where two sources give the same second the earlier import wins, and live readings
yield to files; a figure the winner lacks is taken from the next, unless they contradict each other.
"""

import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from django.db import models, transaction

from chalaza.errors import ChalazaError
from chalaza.records import models as m
from chalaza.values.evidence import Floats, Series

DAY_S = 86_400
#: Beyond every moment that can be kept.
END = 4_102_444_801
_VERSION = 1
#: So many rows are deleted in one statement.
_SLICE = 5000
_LIVE = "live"
#: So many days are read at once where days are looked at one by one.
_DAYS = 200
_STATISTICS = ("temp_min", "temp_max", "temp_mean", "rh_min", "rh_max", "rh_mean")
Ints = npt.NDArray[np.int64]
Wide = npt.NDArray[np.float64]
Parts = list[tuple[Ints, Floats, Floats]]


@dataclass(frozen=True, slots=True)
class Read:
    """Readings of one probe; how many more readings sources gave for a second that another gave already (`doubled`).

    Of those, `differing` contradict what counts, and `filled` gave a figure it lacked.
    """

    series: Series
    doubled: int
    differing: int
    filled: int = 0


@dataclass(frozen=True, slots=True)
class Days:
    """The UTC days of one probe that hold readings, for long charts: how many, and least, greatest and mean of each.

    `day`: days since 1970. Temperatures in °C, humidity 0-1; NaN where a day has none.
    """

    day: Ints
    n: Ints
    temp_min: Wide
    temp_max: Wide
    temp_mean: Wide
    rh_min: Wide
    rh_max: Wide
    rh_mean: Wide

    def __len__(self) -> int:
        return len(self.day)


def packed(t: Ints, temp: Floats, rh: Floats, day: int) -> bytes:
    """One day as bytes: a version, then steps of time and byte-shuffled float32 columns, deflated."""
    steps = np.diff(t, prepend=day * DAY_S).astype("<u4")
    body = steps.view(np.uint8).reshape(-1, 4).T.tobytes()
    for column in (temp, rh):
        body += column.astype("<f4").view(np.uint8).reshape(-1, 4).T.tobytes()
    return bytes([_VERSION]) + zlib.compress(body, 6)


def unpacked(data: bytes, n: int, day: int) -> tuple[Ints, Floats, Floats]:
    """The day again. Raises `ChalazaError` for bytes this version does not know."""
    if not data or data[0] != _VERSION:
        raise ChalazaError("readings packed by a newer version: open the notebook with that one")
    body = np.frombuffer(zlib.decompress(data[1:]), dtype=np.uint8).reshape(3, 4, n)
    columns = [np.ascontiguousarray(part.T) for part in body]
    t = np.cumsum(columns[0].view("<u4").ravel().astype(np.int64)) + day * DAY_S
    return t, columns[1].view("<f4").ravel().astype(np.float32), columns[2].view("<f4").ravel().astype(np.float32)


def _ends(column: Floats) -> tuple[float | None, float | None, float | None]:
    if bool(np.isnan(column).all()):
        return None, None, None
    return float(np.nanmin(column)), float(np.nanmax(column)), float(np.nanmean(column, dtype=np.float64))


def chunks(probe: str, source: str, series: Series) -> Iterator["m.Chunk"]:
    """The chunks of a series, day by day, not saved: packed before any transaction."""
    for day, part in _by_day(series):
        low, high, mean = _ends(part.temp_degc)
        dry, wet, middle = _ends(part.rh)
        yield m.Chunk(
            probe_id=probe, source_id=source, day=day, n=len(part), first=int(part.t[0]), last=int(part.t[-1]),
            temp_min=low, temp_max=high, temp_mean=mean, rh_min=dry, rh_max=wet, rh_mean=middle,
            data=packed(part.t, part.temp_degc, part.rh, day),
        )  # fmt: skip


def _by_day(series: Series) -> Iterator[tuple[int, Series]]:
    """The parts of a series, UTC day by UTC day."""
    if not len(series):
        return
    of = series.t // DAY_S
    edges = (np.flatnonzero(np.diff(of)) + 1).tolist()
    for start, end in zip([0, *edges], [*edges, len(series)], strict=True):
        yield int(of[start]), Series(series.t[start:end], series.temp_degc[start:end], series.rh[start:end])


def read(probe: str, start: int = 0, end: int = END) -> Read:
    """The readings of a probe with start <= t < end, of all sources in force and live."""
    parts, live = _packed(_in_force(probe, start, end)), _live(probe, start, end)
    return merged([*parts, live] if len(live[0]) else parts, start, end)


def _packed(found: "models.QuerySet[m.Chunk]") -> Parts:
    """Chunks unpacked, in the order in which their sources count: files by their import, then the live stream."""
    rows = sorted(
        found.values_list("source__sort", "source__id", "day", "n", "data"),
        key=lambda row: (row[0] == _LIVE, *row[1:3]),
    )
    return [unpacked(bytes(data), n, day) for *_, day, n, data in rows]


def _live(probe: str, start: int, end: int) -> tuple[Ints, Floats, Floats]:
    """Readings that are not packed yet."""
    rows = list(
        m.Reading.objects.filter(probe_id=probe, at__gte=start, at__lt=end)
        .order_by("at").values_list("at", "temp_degc", "rh")
    )  # fmt: skip
    t, temp, rh = zip(*rows, strict=True) if rows else ((), (), ())
    return np.array(t, np.int64), _floats(temp), _floats(rh)


def _in_force(probe: str, start: int, end: int) -> "models.QuerySet[m.Chunk]":
    return m.Chunk.objects.filter(
        probe_id=probe, day__gte=start // DAY_S, day__lte=(end - 1) // DAY_S, source__withdrawn=False
    )


def _floats(values: tuple[float | None, ...]) -> Floats:
    return np.array([np.nan if one is None else one for one in values], dtype=np.float32)


def merged(parts: Parts, start: int = 0, end: int = END) -> Read:
    """All parts as one series; of a second that several give, what lies first in `parts` counts."""
    if not parts:
        empty = np.empty(0, np.float32)
        return Read(Series(np.empty(0, np.int64), empty, empty), 0, 0)
    t, temp, rh = (np.concatenate(column) for column in zip(*parts, strict=True))
    keep = (t >= start) & (t < end)
    if not bool(keep.all()):
        t, temp, rh = t[keep], temp[keep], rh[keep]
    if len(t) < 2 or bool(np.all(np.diff(t) > 0)):
        return Read(Series(t, temp, rh), 0, 0)
    order = np.argsort(t, kind="stable")
    t, temp, rh = t[order], temp[order], rh[order]
    again = np.concatenate((np.zeros(1, np.bool_), np.diff(t) == 0))
    differing, filled = _filled(temp, rh, again)
    return Read(Series(t[~again], temp[~again], rh[~again]), int(again.sum()), differing, filled)


def _filled(temp: Floats, rh: Floats, again: npt.NDArray[np.bool_]) -> tuple[int, int]:
    """Fill the first row of each second from the later ones that do not contradict it: how many did, how many filled."""
    rows = np.arange(len(again))
    head = np.maximum.accumulate(np.where(again, 0, rows))
    depth = rows - head
    differing = filled = 0
    for level in range(1, int(depth.max()) + 1):
        later = np.flatnonzero(depth == level)
        first = head[later]
        against = _contradicts(temp[first], temp[later]) | _contradicts(rh[first], rh[later])
        gives = np.zeros(len(later), np.bool_)
        for column in (temp, rh):
            lacks = np.isnan(column[first]) & ~np.isnan(column[later]) & ~against
            column[first[lacks]] = column[later[lacks]]
            gives |= lacks
        differing, filled = differing + int(against.sum()), filled + int(gives.sum())
    return differing, filled


def _contradicts(a: Floats, b: Floats) -> npt.NDArray[np.bool_]:
    both: npt.NDArray[np.bool_] = ~np.isnan(a) & ~np.isnan(b) & (a != b)
    return both


def days(probe: str, start: int, end: int) -> Days:
    """The UTC days between two moments, each whole, from the columns of their chunks: for charts of more than 60 days.

    Days that several sources share, or that have live readings, are read.
    """
    columns = {
        row[0]: row[1:]
        for row in _in_force(probe, start, end).order_by("day", "source__id").values_list("day", "n", *_STATISTICS)
    }
    for day, part in _read_days(probe, _shared(probe, start, end)):
        columns[day] = (len(part), *_ends(part.temp_degc), *_ends(part.rh))
    made = [np.array([columns[day][i] for day in sorted(columns)], np.float64) for i in range(1, 7)]
    whole = np.array(sorted(columns), np.int64)
    return Days(whole, np.array([columns[day][0] for day in sorted(columns)], np.int64), *made)


def _shared(probe: str, start: int, end: int) -> list[int]:
    """The days that more than one source gives, or that have live readings, in order."""
    seen = _in_force(probe, start, end).values_list("day").annotate(sources=models.Count("id"))
    span = {"at__gte": start // DAY_S * DAY_S, "at__lt": ((end - 1) // DAY_S + 1) * DAY_S}
    live = m.Reading.objects.filter(probe_id=probe, **span).values_list("at", flat=True)
    return sorted({day for day, sources in seen.order_by("day") if sources > 1} | {at // DAY_S for at in live})


def _read_days(probe: str, wanted: Sequence[int]) -> Iterator[tuple[int, Series]]:
    """The readings of some days, day by day, in a query for some hundred of them."""
    for at in range(0, len(wanted), _DAYS):
        some = wanted[at : at + _DAYS]
        first, last = some[0] * DAY_S, (some[-1] + 1) * DAY_S
        parts = _packed(_in_force(probe, first, last).filter(day__in=some))
        live = _live(probe, first, last)
        found = merged([*parts, live] if len(live[0]) else parts).series
        of = set(some)
        yield from (one for one in _by_day(found) if one[0] in of)


def insert(source: "m.Source", readings: Mapping[str, Series]) -> int:
    """Store a source with its readings (probe uid -> series) in one short transaction; how many readings. Once per uid.

    Call within `acts` bookkeeping of your own: the chunks are no rows of the history, the source is.
    """
    return store(source.uid, [chunk for probe, one in readings.items() for chunk in chunks(probe, source.uid, one)])


def store(source: str, made: Sequence["m.Chunk"]) -> int:
    """Insert the chunks of a source, packed before; how many readings. Nothing if it has some already."""
    with transaction.atomic():
        if m.Chunk.objects.filter(source_id=source).exists():
            return 0
        m.Chunk.objects.bulk_create(made, batch_size=200)
    return sum(one.n for one in made)


def closed(before: int) -> list[tuple[str, int]]:
    """Probe and day of the live readings of UTC days that ended before a moment, in order."""
    day = before // DAY_S
    found = m.Reading.objects.filter(at__lt=day * DAY_S).values_list("probe_id", "at")
    return sorted({(str(probe), at // DAY_S) for probe, at in found})


def pack(probe: str, day: int) -> int:
    """Move the live readings of one day into a chunk of the live source, in one transaction; how many."""
    span = {"at__gte": day * DAY_S, "at__lt": (day + 1) * DAY_S}
    with transaction.atomic():
        rows = list(
            m.Reading.objects.filter(probe_id=probe, **span).order_by("at").values_list("id", "at", "temp_degc", "rh")
        )  # fmt: skip
        if not rows:
            return 0
        source, _ = m.Source.objects.get_or_create(uid=_LIVE, defaults={"sort": _LIVE, "name": _LIVE, "at": rows[0][1]})
        numbers, t, temp, rh = zip(*rows, strict=True)
        parts = [(np.array(t, np.int64), _floats(temp), _floats(rh))]
        for old in m.Chunk.objects.filter(probe_id=probe, source_id=source.uid, day=day):
            parts.insert(0, unpacked(bytes(old.data), old.n, day))
            old.delete()
        whole = merged(parts, day * DAY_S, (day + 1) * DAY_S).series
        m.Chunk.objects.bulk_create(list(chunks(probe, source.uid, whole)))
        for at in range(0, len(numbers), _SLICE):
            m.Reading.objects.filter(pk__in=numbers[at : at + _SLICE]).delete()
    return len(rows)


def last(probe: str, before: int) -> tuple[int, float | None, float | None] | None:
    """The newest reading of a probe not later than `before`: moment, temperature, humidity."""
    in_force = m.Chunk.objects.filter(probe_id=probe, first__lte=before, source__withdrawn=False)
    day = in_force.order_by("-day").values_list("day", flat=True).first()
    live = m.Reading.objects.filter(probe_id=probe, at__lte=before).order_by("-at").values_list("at", flat=True).first()
    starts = [one for one in (None if day is None else day * DAY_S, live) if one is not None]
    if not starts:
        return None
    found = read(probe, max(starts), before + 1).series
    temp, rh = float(found.temp_degc[-1]), float(found.rh[-1])
    return int(found.t[-1]), None if np.isnan(temp) else temp, None if np.isnan(rh) else rh
