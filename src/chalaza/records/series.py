"""The readings: day chunks per source in one plain table, live rows beside them, one way to read both.

Readings are float32 from the reader on. An import packs outside any transaction and is inserted in one short one; a
source is withdrawn, never unpicked. Where two sources give the same second the earlier import wins.
"""

import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from django.db import transaction

from chalaza.errors import ChalazaError
from chalaza.records import models as m
from chalaza.values.evidence import Floats, Series

DAY_S = 86_400
_VERSION = 1
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Read:
    """Readings of one probe, and how many seconds two sources both gave (`doubled`) and gave differently (`differing`)."""

    series: Series
    doubled: int
    differing: int


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
    if not len(series):
        return
    days = series.t // DAY_S
    edges = np.flatnonzero(np.diff(days)) + 1
    for start, end in zip([0, *edges.tolist()], [*edges.tolist(), len(series)], strict=True):
        t, temp, rh = series.t[start:end], series.temp_degc[start:end], series.rh[start:end]
        day = int(days[start])
        low, high, mean = _ends(temp)
        dry, wet, middle = _ends(rh)
        yield m.Chunk(
            probe_id=probe, source_id=source, day=day, n=end - start, first=int(t[0]), last=int(t[-1]), temp_min=low,
            temp_max=high, temp_mean=mean, rh_min=dry, rh_max=wet, rh_mean=middle, data=packed(t, temp, rh, day),
        )  # fmt: skip


def read(probe: str, start: int = 0, end: int = 4_102_444_800) -> Read:
    """The readings of a probe with start <= t < end, of all sources in force and live."""
    found = m.Chunk.objects.filter(
        probe_id=probe, day__gte=start // DAY_S, day__lte=end // DAY_S, source__withdrawn=False
    ).values_list("source__id", "day", "n", "data").order_by("source__id", "day")  # fmt: skip
    parts = [unpacked(bytes(data), n, day) for _, day, n, data in found]
    live = list(
        m.Reading.objects.filter(probe_id=probe, at__gte=start, at__lt=end)
        .order_by("at").values_list("at", "temp_degc", "rh")
    )  # fmt: skip
    if live:
        t, temp, rh = zip(*live, strict=True)
        parts.append((np.array(t, np.int64), _floats(temp), _floats(rh)))
    return _merged(parts, start, end)


def _floats(values: tuple[float | None, ...]) -> Floats:
    return np.array([np.nan if one is None else one for one in values], dtype=np.float32)


def _merged(parts: list[tuple[Ints, Floats, Floats]], start: int, end: int) -> Read:
    if not parts:
        empty = np.empty(0, np.float32)
        return Read(Series(np.empty(0, np.int64), empty, empty), 0, 0)
    t, temp, rh = (np.concatenate(column) for column in zip(*parts, strict=True))
    if len(t) > 1 and not bool(np.all(np.diff(t) > 0)):
        order = np.argsort(t, kind="stable")  # parts lie in the order of import: the earlier one stays in front
        t, temp, rh = t[order], temp[order], rh[order]
    same = np.flatnonzero(np.diff(t) == 0) + 1
    differing = int(np.count_nonzero(_apart(temp[same], temp[same - 1]) | _apart(rh[same], rh[same - 1])))
    keep = np.ones(len(t), dtype=bool)
    keep[same] = False
    keep &= (t >= start) & (t < end)
    return Read(Series(t[keep], temp[keep], rh[keep]), len(same), differing)


def _apart(a: Floats, b: Floats) -> npt.NDArray[np.bool_]:
    same: npt.NDArray[np.bool_] = (a == b) | (np.isnan(a) & np.isnan(b))
    return ~same


def insert(source: "m.Source", readings: Mapping[str, Series]) -> int:
    """Store a source with its readings (probe uid -> series) in one short transaction; how many readings. Once per uid.

    Call within `acts` bookkeeping of your own: the chunks are no rows of the history, the source is.
    """
    made = [chunk for probe, one in readings.items() for chunk in chunks(probe, source.uid, one)]
    with transaction.atomic():
        if m.Chunk.objects.filter(source_id=source.uid).exists():
            return 0
        m.Chunk.objects.bulk_create(made, batch_size=200)
    return sum(one.n for one in made)


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
