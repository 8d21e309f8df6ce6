"""More readings into a folder that is there: what stood first stays, nothing comes in twice, and a fault leaves it whole."""

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from uuid import uuid4

import numpy as np
import numpy.typing as npt

from chalaza.errors import FolderError
from chalaza.exchange import package, readings
from chalaza.exchange.reader import read_folder
from chalaza.exchange.schema import DESCRIPTOR, MAX_READINGS, READINGS, TABLES
from chalaza.values.evidence import Evidence, Floats, Series

_EMPTY = Series(np.empty(0, np.int64), np.empty(0, np.float32), np.empty(0, np.float32))


@dataclass(frozen=True, slots=True)
class Added:
    """What became of new readings, second by second: `added + same + differing + filled` is how many there were.

    `kept`: readings that were there before, and are still. `added`: seconds that were not. `same`: nothing new.
    `differing`: another figure stood there and stayed. `filled`: a figure that had been missing there was put in.
    """

    kept: int
    added: int
    same: int
    differing: int
    filled: int = 0

    @property
    def changed(self) -> bool:
        """Whether anything came in."""
        return bool(self.added or self.filled)


def merged(kept: Series, new: Series) -> tuple[Series, Added]:
    """Both series as one, in order of time and to the bit. Of a second in both, the kept figures stay.

    A missing figure of such a second is filled in only if no figure of it differs: two instruments are never mixed.
    """
    _, i, j = np.intersect1d(kept.t, new.t, assume_unique=True, return_indices=True)
    pairs = ((kept.temp_degc[i], new.temp_degc[j]), (kept.rh[i], new.rh[j]))
    differs = np.logical_or(*(~np.isnan(old) & ~np.isnan(add) & (old != add) for old, add in pairs))
    fills = np.logical_or(*(np.isnan(old) & ~np.isnan(add) for old, add in pairs)) & ~differs
    temp, rh = (
        _filled(whole, i, fills, add)
        for whole, (_, add) in zip((kept.temp_degc, kept.rh), pairs, strict=True)
    )  # fmt: skip
    fresh = np.ones(len(new), np.bool_)
    fresh[j] = False
    t = np.concatenate((kept.t, new.t[fresh]))
    order = np.argsort(t, kind="stable")
    whole = Series(
        t[order],
        np.concatenate((temp, new.temp_degc[fresh]))[order],
        np.concatenate((rh, new.rh[fresh]))[order],
    )
    n_differ, n_fill = int(differs.sum()), int(fills.sum())
    return whole, Added(len(kept), int(fresh.sum()), len(i) - n_differ - n_fill, n_differ, n_fill)


def _filled(column: Floats, at: npt.NDArray[np.intp], fills: npt.NDArray[np.bool_], new: Floats) -> Floats:
    result = column.copy()
    empty = fills & np.isnan(column[at])
    result[at[empty]] = new[empty]
    return result


def readings_files(folder: str | os.PathLike[str]) -> Mapping[str, str]:
    """The file of the readings of each probe, by uid, as the descriptor of a folder names it. Raises `FolderError`."""
    return package.listed((_inside(folder) / DESCRIPTOR).read_bytes()).series


def _inside(folder: str | os.PathLike[str]) -> Path:
    path = Path(folder)
    return path.parent if path.name == DESCRIPTOR else path


def add_readings(folder: str | os.PathLike[str], probe: str, series: Series) -> Added:
    """Add the readings of one probe to a folder, as `add_all`."""
    return add_all(folder, {probe: series})[probe]


def add_all(folder: str | os.PathLike[str], new: Mapping[str, Series]) -> Mapping[str, Added]:
    """Add readings to those of probes of a folder, by uid; the folder may be given by its descriptor.

    Every new file is complete before the first old one is replaced. Raises `FolderError` for a folder that cannot be
    read, for a probe that is not in it and for readings that could not be read again; then nothing has changed.
    """
    path = _inside(folder)
    if not path.is_dir():
        raise FolderError("nothing can be added to this", given=str(path), allowed="an open batch folder, unpacked")
    evidence, _ = read_folder(path)
    listed = package.listed((path / DESCRIPTOR).read_bytes())
    whole: dict[str, Series] = {}
    found: dict[str, Added] = {}
    for probe, series in new.items():
        _check_probe(evidence, probe)
        whole[probe], found[probe] = merged(evidence.setting.series.get(probe, _EMPTY), series)
    changed = [probe for probe in new if found[probe].changed]
    _check_room(evidence, whole)
    unlisted = [probe for probe in changed if probe not in listed.series]
    files = {probe: listed.series.get(probe) or _new_file(probe, listed) for probe in changed}
    made = {files[probe]: partial(readings.chunks, whole[probe], files[probe]) for probe in changed}
    if unlisted:
        text = package.with_readings((path / DESCRIPTOR).read_bytes(), unlisted)
        made[DESCRIPTOR] = partial(iter, (text,))
    _replace(path, {name: made[name]() for name in made}, {files[probe] for probe in unlisted})
    return found


def _check_probe(evidence: Evidence, probe: str) -> None:
    known = [one.uid for one in evidence.setting.probes]
    if probe not in known:
        raise FolderError(
            "no such probe", file=TABLES["probes"].file, given=probe, allowed=", ".join(known) or "none: it has no rows"
        )


def _check_room(evidence: Evidence, whole: Mapping[str, Series]) -> None:
    count = sum(map(len, {**evidence.setting.series, **whole}.values()))
    if count > MAX_READINGS:
        raise FolderError("too many readings", given=f"{count:,}", allowed=f"{MAX_READINGS:,} in all")


def _new_file(probe: str, listed: package.Listed) -> str:
    file = f"{READINGS}{package.slug(probe)}.csv"
    if file in listed.files:
        raise FolderError("holds the readings of another probe", file=file, given=probe, allowed="a name of its own")
    return file


def _replace(path: Path, made: Mapping[str, Iterable[bytes]], unlisted: set[str]) -> None:
    """Write all files beside the old ones, then put them in place; a new file goes again if the descriptor fails."""
    parts: dict[str, Path] = {}
    done = False
    placed: list[Path] = []
    try:
        for name, chunks in made.items():
            parts[name] = path / f".{name}.{uuid4().hex[:8]}.part"
            with open(parts[name], "xb") as file:
                file.writelines(chunks)
                file.flush()
                os.fsync(file.fileno())
        for name, part in parts.items():
            part.replace(path / name)
            placed += [path / name] if name in unlisted else []
        done = True
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)
        for orphan in () if done else placed:
            orphan.unlink(missing_ok=True)
