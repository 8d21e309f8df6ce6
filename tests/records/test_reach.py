"""What a change reaches: every batch whose evidence it changes, and no ended batch it cannot touch."""

import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from chalaza.errors import EvidenceError
from chalaza.records import acts, gather, series
from chalaza.records import models as m
from chalaza.values.evidence import Evidence, Series

pytestmark = pytest.mark.django_db

DAY = 86_400
T0 = 20_000 * DAY


def _keeper() -> m.Keeper:
    return m.Keeper.objects.the_one()


def _notebook() -> list[str]:
    """Two rooms, three boxes, probes in boxes and rooms, six batches one after the other; one of them moved."""
    save: list[Any] = []
    for n in range(2):
        save.append(m.Place(uid=f"room{n}", name=f"Room {n}"))
        save.append(m.Probe(uid=f"air{n}", name=f"Air {n}", sort="digital"))
        save.append(m.Mount(uid=f"air{n}-there", probe_id=f"air{n}", place_id=f"room{n}", start=T0))
    for n in range(3):
        save.append(m.Machine(uid=f"box{n}", name=f"Box {n}", place_id=f"room{n // 2}", airflow="fan"))
        save.append(m.Probe(uid=f"p{n}", name=f"P{n}", sort="digital"))
        save.append(m.Mount(uid=f"p{n}-there", probe_id=f"p{n}", machine_id=f"box{n}", start=T0))
    for n in range(6):
        start, box = T0 + n // 3 * 40 * DAY, n % 3
        end = start + 21 * DAY if n < 3 else None
        save.append(m.Batch(uid=f"b{n}", name=f"B{n}", kind="chicken", set_at=start, finished_at=end))
        moved = start + 18 * DAY if n == 1 else end
        save.append(m.Stay(uid=f"s{n}", batch_id=f"b{n}", machine_id=f"box{box}", start=start, end=moved))
    save.append(m.Stay(uid="s1b", batch_id="b1", machine_id="box0", start=T0 + 18 * DAY, end=T0 + 21 * DAY))
    acts.act(_keeper(), "begin", save=save)
    for n in range(4):
        _log(f"p{n}" if n < 3 else "air0", T0, 70 * DAY, 30_000)
    return [f"b{n}" for n in range(6)]


def _log(probe: str, start: int, length: int, step: int) -> m.Act:
    t = np.arange(start, start + length, step, dtype=np.int64)
    one = Series(t, np.full(len(t), 37.5, np.float32), np.full(len(t), 0.5, np.float32))
    held = [{"probe": probe, "n": len(t), "first": int(t[0]), "last": int(t[-1])}]
    source = m.Source(sort="file", name="log", at=start, report={"held": held})
    done = acts.act(_keeper(), "log", save=[source])
    series.insert(source, {probe: one})
    return done


def _evidence(uid: str) -> Evidence | str:
    try:
        found = gather.evidence(uid)
    except EvidenceError as why:
        return str(why)
    return replace(found, setting=replace(found.setting, series=dict(found.setting.series)))


def _any(rng: random.Random, found: Any) -> Any:
    """One of these rows; None where there is none."""
    rows = list(found)
    return rng.choice(rows) if rows else None


def _change(rng: random.Random) -> m.Act:
    """Something a keeper may do, drawn at random."""
    at, end = T0 + rng.randrange(-5, 70) * DAY, rng.choice((None, 1, 30))
    box, probe = f"box{rng.randrange(3)}", rng.choice(("p0", "p1", "p2", "air0", "air1"))
    kind, save, delete = rng.randrange(9), list[Any](), list[Any]()
    if kind == 0:
        until = None if end is None else at + end * DAY
        save = [m.Event(machine_id=box, at=at, until=until, sort="water")]
    elif kind == 1 and (old := _any(rng, m.Event.objects.order_by("id"))) is not None:
        old.at, old.machine_id, old.until = at, box, None
        save = [old]
    elif kind == 2 and (old := m.Event.objects.order_by("id").last()) is not None:
        delete = [old]
    elif kind == 3:
        save = [m.ProbeCheck(probe_id=probe, at=at, sort="ice", reading_degc=0.2)]
    elif kind == 4:
        one = m.Mount.objects.get(uid=f"{probe}-there")
        one.height_mm = float(rng.randrange(1, 90))
        save = [one]
    elif kind == 5:
        one = m.Place.objects.get(uid=f"room{rng.randrange(2)}")
        one.altitude_m = float(rng.randrange(1, 900))
        save = [one]
    elif kind == 6:
        machine = m.Machine.objects.get(uid=box)
        machine.volume_l = float(rng.randrange(10, 90))
        save = [machine]
    elif kind == 7:
        source = _any(rng, m.Source.objects.order_by("id"))
        source.withdrawn = not source.withdrawn
        save = [source]
    else:
        return _log(probe, at, (end or 3) * DAY, 3600)
    return acts.act(_keeper(), "change", save=save, delete=delete)


def test_whatever_is_done_each_batch_whose_evidence_changes_has_a_new_revision() -> None:
    batches, rng, quiet = _notebook(), random.Random(11), 0
    for _ in range(50):
        before = {uid: (_evidence(uid), m.Batch.objects.get(uid=uid).revision) for uid in batches}
        done = _change(rng)
        if rng.random() < 0.3:
            done = acts.undo(_keeper(), done)
        for uid in batches:
            same_revision = m.Batch.objects.get(uid=uid).revision == before[uid][1]
            quiet += same_revision
            if same_revision:
                assert _evidence(uid) == before[uid][0], (done.changes.get().model, uid)
    assert quiet > 80, "what cannot touch a batch leaves it alone"


def test_a_log_reaches_the_batches_of_its_days_and_boxes_alone() -> None:
    _notebook()
    for probe, start, reached in (("p0", T0, {"b0", "b1"}), ("p0", T0 + 45 * DAY, {"b3"}), ("p2", T0, {"b2"}),
                                  ("air0", T0 + 2 * DAY, {"b0", "b1"}), ("p2", T0 + 25 * DAY, set())):  # fmt: skip
        done = _log(probe, start, 3 * DAY, 3600)
        assert set(m.Batch.objects.filter(revision=done.pk).values_list("uid", flat=True)) == reached


def test_an_event_of_today_leaves_ended_batches_alone() -> None:
    _notebook()
    done = acts.act(_keeper(), "event", save=[m.Event(machine_id="box0", at=T0 + 50 * DAY, sort="water")])
    assert list(m.Batch.objects.filter(revision=done.pk).values_list("uid", flat=True)) == ["b3"]


def test_what_says_nothing_of_its_days_reaches_all() -> None:
    batches = _notebook()
    done = acts.act(_keeper(), "bring", save=[m.Source(sort="folder", name="x", at=T0)])
    assert m.Batch.objects.filter(revision=done.pk).count() == len(batches)
