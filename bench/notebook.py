"""A notebook of five years for the benches: ten machines, a reading a minute of each, ten batches running, hundreds ended.

    python bench/notebook.py FOLDER

Everything in it is invented. The readings are written as chunks, month by month and machine by machine, as log files
would bring them; the batches that ended are a few simulated ones moved through the years.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

MACHINES, YEARS, STEP_S, FINISHED = 10, 5, 60, 240
DAY_S, MONTH_S = 86_400, 30 * 86_400
_KEPT: list["TemporaryDirectory[str]"] = []


@dataclass(frozen=True, slots=True)
class Built:
    """What the notebook holds, and what writing its readings took."""

    home: str
    readings: int
    chunks: int
    write_s: float
    size_mb: float
    running: tuple[str, ...]
    finished: int
    now: int
    built_s: float


@cache
def ready() -> Built:
    """The notebook, built once for all benches of a run in a folder that goes with it."""
    folder = TemporaryDirectory(prefix="chalaza-bench-")
    _KEPT.append(folder)
    return big_notebook(Path(folder.name))


def big_notebook(home: Path, *, machines: int = MACHINES, years: int = YEARS, finished: int = FINISHED) -> Built:
    """Build the notebook in `home` in an interpreter of its own. Raises `CalledProcessError` if that fails."""
    command = [sys.executable, __file__, str(home), "--machines", str(machines), "--years", str(years),
               "--finished", str(finished)]  # fmt: skip
    said = subprocess.run(command, env=environment(home), check=True, stdout=subprocess.PIPE, text=True)
    told = json.loads(said.stdout)
    return Built(**{**told, "running": tuple(told["running"])})


def environment(home: Path) -> dict[str, str]:
    """What a process needs to work on this notebook: its own database, one thread for linear algebra."""
    kept = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "CHALAZA_CLOCK")}
    return {
        **kept,
        "CHALAZA_HOME": str(home),
        "OPENBLAS_NUM_THREADS": "1",
        "DJANGO_SETTINGS_MODULE": "chalaza.records.settings",
    }


def here(home: Path) -> None:
    """Work on this notebook in this process. Once only: Django is set up for one."""
    os.environ.update(environment(home))
    os.environ.pop("DATABASE_URL", None)
    os.environ.pop("CHALAZA_CLOCK", None)
    from chalaza.records.notebook import open_records

    open_records()


# Built in its own interpreter ---------------------------------------------------------------------------------------


def _build(home: Path, machines: int, years: int, finished: int) -> dict[str, Any]:
    began = time.perf_counter()
    here(home)
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    now = int(time.time()) // 600 * 600
    rng = np.random.default_rng(5)
    _shed(machines, now - years * 365 * DAY_S - MONTH_S)
    written = time.perf_counter()
    readings, chunks = _readings(machines, years, now, rng)
    write_s = time.perf_counter() - written
    size_mb = sum(one.stat().st_size for one in home.glob("notebook.db*")) / 1e6
    running = _batches(machines, years, finished, now, rng)
    _answer(running)
    return {
        "home": str(home), "readings": readings, "chunks": chunks, "write_s": write_s, "size_mb": size_mb,
        "running": running, "finished": finished, "now": now, "built_s": time.perf_counter() - began,
    }  # fmt: skip


def _shed(machines: int, start: int) -> None:
    """Place, machines, a probe in each since the beginning."""
    from chalaza.records import models as m

    m.Place.objects.create(uid="shed", name="Shed", altitude_m=140.0, zone="Europe/Berlin")
    for n in range(machines):
        m.Machine.objects.create(uid=f"box{n}", name=f"Box {n + 1}", place_id="shed", airflow="fan", volume_l=40.0)
        m.Probe.objects.create(uid=f"p{n}", name=f"P{n + 1}", sort="digital")
        m.Mount.objects.create(uid=f"p{n}-there", probe_id=f"p{n}", machine_id=f"box{n}", start=start)
    keeper = m.Keeper.objects.the_one()
    keeper.zone = "Europe/Berlin"
    keeper.save()


def course(start: int, end: int, rng: "np.random.Generator") -> Any:
    """Readings of a box from `start` to `end`, as a logger gives them: tenths of a degree, whole per cent."""
    from chalaza.values.evidence import Series

    t = np.arange(start, end, STEP_S, dtype=np.int64)
    hours = t / 3600.0
    temp = 37.5 + 0.15 * np.sin(2 * np.pi * hours / 24.0) + rng.normal(0.0, 0.08, len(t))
    rh = 0.48 + 0.04 * np.sin(2 * np.pi * hours / (24.0 * 9.0)) + rng.normal(0.0, 0.008, len(t))
    return Series(t, temp.round(1).astype(np.float32), rh.round(2).astype(np.float32))


def _readings(machines: int, years: int, now: int, rng: "np.random.Generator") -> tuple[int, int]:
    """A log a month of each machine, packed and stored: how many readings, how many chunks."""
    from django.db import transaction

    from chalaza.records import models as m
    from chalaza.records import series

    readings = chunks = 0
    for n in range(machines):
        for month, start in enumerate(range(now - years * 365 * DAY_S, now, MONTH_S)):
            one = course(start, min(start + MONTH_S, now), rng)
            uid = f"log{n}-{month}"
            held = [{"probe": f"p{n}", "n": len(one), "first": int(one.t[0]), "last": int(one.t[-1])}]
            source = m.Source(
                uid=uid, sort="file", name=f"box-{n + 1}-{month + 1}.csv", at=int(one.t[-1]), report={"held": held}
            )
            made = list(series.chunks(f"p{n}", uid, one))
            with transaction.atomic():
                source.save(force_insert=True)
                readings += series.store(uid, made)
            chunks += len(made)
    return readings, chunks


def _batches(machines: int, years: int, finished: int, now: int, rng: "np.random.Generator") -> list[str]:
    """One running batch in each machine, and those that ended over the years; the uids of the running ones."""
    running = []
    for n in range(machines):
        age_d = 2.0 + 16.0 * n / max(machines - 1, 1)
        uid = f"now{n}"
        _put(_moved(_lived(age_d, n, rng), f"sim{n}", uid, now - int(age_d * DAY_S)), f"box{n}", uid, None)
        running.append(f"{uid}-batch")
    made = [_lived(23.0, 100 + n, rng) for n in range(4)]
    per = finished // machines
    apart = (years * 365 * DAY_S - 40 * DAY_S) // max(per, 1)
    for n in range(machines):
        for k in range(per):
            set_at, uid = now - (years * 365 - 3) * DAY_S + k * apart, f"old{n}-{k}"
            which = (n + k) % len(made)
            rows = _moved(made[which], f"sim{100 + which}", uid, set_at)
            _put(rows, f"box{n}", uid, set_at + 23 * DAY_S)
    return running


def _lived(age_d: float, number: int, rng: "np.random.Generator") -> Any:
    """A simulated batch of that age, with all a careful keeper notes; set at moment 10^9."""
    from chalaza.scenario.simulate import Plan, Truth, simulate

    plan = Plan(
        set_at=1_000_000_000, days=age_d, eggs=24, name=f"Batch {number}", prefix=f"sim{number}",
        display=lambda h: 37.5 + 0.0 * h, rh=lambda h: 0.48 + 0.0 * h, logged=False,
        weigh_days=tuple(day for day in (0.0, 5.0, 10.0, 15.0) if day <= age_d),
        candle_days=tuple(day for day in (7.0, 14.0) if day <= age_d), hatch_look_h=8.0, zone="Europe/Berlin",
        parents=f"Flock {number % 5}",
    )  # fmt: skip
    evidence, _ = simulate(Truth(), plan, rng)
    return evidence


def _moved(one: Any, old: str, new: str, set_at: int) -> Any:
    """The batch with names of its own, set at another moment."""
    from chalaza.quantities import MOMENT
    from chalaza.values.fields import columns

    later = set_at - one.batch.set_at

    def row(each: Any) -> Any:
        values = {}
        kind: type = type(each)
        for column in columns(kind):
            value = getattr(each, column.name)
            if column.field.quantity is MOMENT and value is not None:
                values[column.name] = value + later
            elif isinstance(value, str) and old in value:
                values[column.name] = value.replace(old, new)
        return replace(each, **values)

    parts = ("lots", "eggs", "weighings", "air_cells", "candlings", "hatches", "breakouts", "events")
    moved = {part: tuple(row(each) for each in getattr(one, part)) for part in parts}
    batch = replace(row(one.batch), uid=f"{new}-batch", name=new.capitalize())
    return replace(one, batch=batch, **moved)


def _put(one: Any, machine: str, uid: str, finished_at: int | None) -> None:
    """The rows of a batch into the tables, in that machine."""
    from chalaza.records import models as m
    from chalaza.records.rows import MODELS, record_of

    batch = record_of(replace(one.batch, finished_at=finished_at))
    batch.save(force_insert=True)
    m.Stay.objects.create(
        uid=f"{uid}-stay", batch_id=batch.uid, machine_id=machine, start=one.batch.set_at, end=finished_at
    )
    for lot in one.lots:
        parents, _ = m.Parents.objects.get_or_create(name=lot.parents, defaults={"uid": f"flock-{lot.parents[-1]}"})
        record_of(lot, parents_id=parents.uid, batch_id=batch.uid).save(force_insert=True)
    of_batch = {"batch_id": batch.uid}
    for part, extra in (("eggs", of_batch), ("weighings", of_batch), ("hatches", of_batch), ("breakouts", of_batch),
                        ("events", of_batch), ("air_cells", {}), ("candlings", {})):  # fmt: skip
        found = getattr(one, part)
        if found:
            MODELS[type(found[0])]._default_manager.bulk_create([record_of(each, **extra) for each in found])


def _answer(running: Iterable[str]) -> None:
    """Learn from the ended batches and answer the running ones, as a notebook in use would have."""
    from chalaza.records import answers

    for uid in running:
        answers.of(uid)


def log_lines(rows: int, start: int) -> Iterator[str]:
    """The lines of an invented log, a reading a minute, each second of which is another one than in the notebook."""
    yield "Time;Temp (°C);RH (%)\n"
    rng = np.random.default_rng(9)
    temp, rh = 37.5 + rng.normal(0.0, 0.1, rows), 50.0 + rng.normal(0.0, 2.0, rows)
    stamps = np.datetime_as_string((start + 30 + STEP_S * np.arange(rows)).astype("datetime64[s]"))
    for stamp, warm, wet in zip(stamps, temp, rh, strict=True):
        yield f"{stamp[:10]} {stamp[11:]};{warm:.2f};{wet:.1f}\n"


if __name__ == "__main__":
    wanted = argparse.ArgumentParser(description="Build the notebook of five years.")
    wanted.add_argument("home", type=Path)
    for name, value in (("machines", MACHINES), ("years", YEARS), ("finished", FINISHED)):
        wanted.add_argument(f"--{name}", type=int, default=value)
    given = wanted.parse_args()
    print(json.dumps(_build(given.home, given.machines, given.years, given.finished)))
