"""Readings kept: exact to the bit, counted once, brought back when what hid them is withdrawn."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from chalaza.records import acts, series
from chalaza.records import models as m
from chalaza.values.evidence import Series

from .demo import NOW, put_all

DAY = 86_400
START = 20_000 * DAY


def _series(t: Any, temp: Any, rh: Any) -> Series:
    return Series(np.array(t, np.int64), np.array(temp, np.float32), np.array(rh, np.float32))


@pytest.fixture
def probe(db: None) -> m.Probe:
    one = m.Probe(name="P1", sort="digital")
    acts.act(m.Keeper.objects.the_one(), "add", save=[one])
    return one


def _source(probe: m.Probe, one: Series, **more: Any) -> m.Source:
    source = m.Source(**{"sort": "file", "name": "log.csv", "at": NOW, **more})
    acts.act(m.Keeper.objects.the_one(), "log", save=[source])
    series.insert(source, {probe.uid: one})
    return source


def _bits(one: Series) -> tuple[list[int], bytes, bytes]:
    return one.t.tolist(), one.temp_degc.tobytes(), one.rh.tobytes()


@given(
    st.lists(st.integers(0, DAY - 1), min_size=1, max_size=300, unique=True).map(sorted),
    st.data(),
    st.integers(0, 40_000),
)
def test_a_day_packed_is_the_same_day_to_the_bit(seconds: list[int], data: st.DataObject, day: int) -> None:
    # Any 32 bits: NaN with any payload, infinity, noughts of both signs, numbers too small to be normal.
    bits = arrays.arrays(np.uint32, len(seconds))
    t = np.array(seconds, np.int64) + day * DAY
    temp, rh = (data.draw(bits).view(np.float32) for _ in range(2))
    found = series.unpacked(series.packed(t, temp, rh, day), len(t), day)
    assert _bits(Series(*found)) == _bits(Series(t, temp, rh))


def test_bytes_of_a_newer_version_are_refused_in_words() -> None:
    with pytest.raises(series.ChalazaError, match="newer version"):
        series.unpacked(b"\x09rest", 1, 0)


def test_what_was_stored_is_read_over_days_and_cut_at_both_ends(probe: m.Probe) -> None:
    t = START + np.arange(0, 3 * DAY, 613)
    one = _series(t, np.linspace(36, 38, len(t)), np.where(np.arange(len(t)) % 7 == 0, np.nan, 0.5))
    _source(probe, one)
    assert m.Chunk.objects.count() == 3
    assert _bits(series.read(probe.uid).series) == _bits(one)
    inside = (t >= START + 5000) & (t < START + 2 * DAY)
    assert series.read(probe.uid, START + 5000, START + 2 * DAY).series.t.tolist() == t[inside].tolist()


def test_nothing_at_all_is_an_empty_series(probe: m.Probe) -> None:
    assert len(series.read(probe.uid).series) == 0
    assert len(series.days(probe.uid, START, START + DAY)) == 0
    assert series.last(probe.uid, START) is None
    assert list(series.chunks(probe.uid, "x", _series([], [], []))) == []


def test_overlapping_sources_count_each_second_once_and_the_earlier_import_wins(probe: m.Probe) -> None:
    first = _series([START, START + 60, START + 120], [37.0, 37.1, 37.2], [0.5, 0.5, 0.5])
    later = _series([START + 60, START + 120, START + 180], [37.1, 39.9, 37.3], [0.5, 0.5, 0.5])
    _source(probe, first)
    _source(probe, later)
    found = series.read(probe.uid)
    assert found.series.t.tolist() == [START, START + 60, START + 120, START + 180]
    assert found.series.temp_degc.tolist() == pytest.approx([37.0, 37.1, 37.2, 37.3])
    assert (found.doubled, found.differing, found.filled) == (2, 1, 0)


def test_a_figure_that_is_missing_is_filled_unless_the_two_contradict_each_other(probe: m.Probe) -> None:
    nan = float("nan")
    _source(probe, _series([START, START + 60], [37.0, 37.0], [nan, nan]))
    _source(probe, _series([START, START + 60], [nan, 38.0], [0.55, 0.56]))
    found = series.read(probe.uid)
    assert found.series.rh.tolist() == pytest.approx([0.55, nan], nan_ok=True)
    assert found.series.temp_degc.tolist() == [37.0, 37.0]
    assert (found.doubled, found.differing, found.filled) == (2, 1, 1)


def test_withdrawing_the_first_source_brings_back_what_the_second_gave(probe: m.Probe) -> None:
    shared = [START + 60 * n for n in range(50)]
    kept = _source(probe, _series(shared, [37.0] * 50, [0.5] * 50))
    _source(probe, _series(shared, [38.0] * 50, [0.6] * 50))
    before = _bits(series.read(probe.uid).series)
    kept.withdrawn = True
    done = acts.act(m.Keeper.objects.the_one(), "withdraw", save=[kept])
    assert set(series.read(probe.uid).series.temp_degc.tolist()) == {38.0}
    acts.undo(m.Keeper.objects.the_one(), done)
    assert _bits(series.read(probe.uid).series) == before


def test_undoing_an_import_withdraws_it_and_undoing_that_brings_it_back(probe: m.Probe) -> None:
    source = m.Source(sort="file", name="log.csv", at=NOW)
    done = acts.act(m.Keeper.objects.the_one(), "log", save=[source])
    series.insert(source, {probe.uid: _series([START], [37.0], [0.5])})
    undone = acts.undo(m.Keeper.objects.the_one(), done)
    assert len(series.read(probe.uid).series) == 0
    assert m.Chunk.objects.count() == 1
    acts.undo(m.Keeper.objects.the_one(), undone)
    assert len(series.read(probe.uid).series) == 1


def test_a_source_is_stored_once(probe: m.Probe) -> None:
    one = _series([START], [37.0], [0.5])
    source = _source(probe, one)
    assert series.insert(source, {probe.uid: one}) == 0
    assert m.Chunk.objects.count() == 1


def _live(probe: m.Probe, one: Series) -> None:
    rows = zip(one.t.tolist(), one.temp_degc.tolist(), one.rh.tolist(), strict=True)
    m.Reading.objects.bulk_create(
        m.Reading(probe=probe, at=t, temp_degc=None if np.isnan(a) else a, rh=None if np.isnan(b) else b)
        for t, a, b in rows
    )


@given(st.integers(0, 2**32 - 1))
@pytest.mark.django_db
def test_packing_changes_nothing_that_is_read(seed: int) -> None:
    rng = np.random.default_rng(seed)
    m.Reading.objects.all().delete()
    m.Chunk.objects.all().delete()
    probe, _ = m.Probe.objects.get_or_create(uid="p", defaults={"name": "P", "sort": "digital"})

    def drawn() -> Series:
        t = START + np.sort(rng.choice(3 * DAY, rng.integers(1, 60), replace=False)) // 1800 * 1800
        t = np.unique(t)
        temp = np.where(rng.random(len(t)) < 0.2, np.nan, rng.normal(37.5, 0.3, len(t)))
        return _series(t, temp, np.where(rng.random(len(t)) < 0.2, np.nan, rng.random(len(t))))

    _source(probe, drawn())
    _live(probe, drawn())
    if rng.random() < 0.5:
        _source(probe, drawn())  # a file that comes later than the live readings: it counts before them all the same
    before, whole = series.read(probe.uid), series.days(probe.uid, START, START + 3 * DAY)
    for one, day in series.closed(START + int(rng.integers(0, 5)) * DAY):
        assert series.pack(one, day) > 0
    after = series.read(probe.uid)
    assert _bits(after.series) == _bits(before.series)
    assert (after.doubled, after.differing, after.filled) == (before.doubled, before.differing, before.filled)
    assert series.days(probe.uid, START, START + 3 * DAY).n.tolist() == whole.n.tolist()


def test_readings_that_come_late_join_the_day_that_is_packed(probe: m.Probe) -> None:
    _live(probe, _series([START, START + 120], [37.0, 37.2], [0.5, 0.5]))
    assert series.closed(START + DAY) == [(probe.uid, START // DAY)]
    assert series.closed(START + DAY - 1) == []
    assert series.pack(probe.uid, START // DAY) == 2
    _live(probe, _series([START + 60, START + 120], [37.1, 39.0], [0.5, 0.5]))
    assert series.pack(probe.uid, START // DAY) == 2
    assert m.Reading.objects.count() == 0
    assert m.Chunk.objects.count() == 1
    assert series.read(probe.uid).series.temp_degc.tolist() == pytest.approx([37.0, 37.1, 37.2])
    assert series.pack(probe.uid, START // DAY) == 0


def test_days_are_those_of_the_readings_whether_read_or_from_their_columns(probe: m.Probe) -> None:
    rng = np.random.default_rng(5)
    t = START + np.arange(0, 90 * DAY, 3600)
    one = _series(t, rng.normal(37.5, 0.5, len(t)), np.where(t < START + 5 * DAY, np.nan, rng.random(len(t))))
    _source(probe, one)
    _source(probe, _series(t[500:700], rng.normal(20, 1, 200), rng.random(200)))
    _live(probe, _series(t[-10:] + 60, [30.0] * 10, [0.2] * 10))
    found = series.days(probe.uid, START + 100, START + 90 * DAY)
    assert len(found) == 90
    for i in range(0, 90, 7):
        part = series.read(probe.uid, int(found.day[i]) * DAY, int(found.day[i] + 1) * DAY).series
        assert found.n[i] == len(part)
        wide = part.temp_degc.astype(np.float64)
        assert (found.temp_min[i], found.temp_max[i]) == (wide.min(), wide.max())
        assert found.temp_mean[i] == pytest.approx(wide.mean())
    assert bool(np.isnan(found.rh_mean[:5]).all())
    assert not bool(np.isnan(found.rh_mean[5:]).any())
    assert series.days(probe.uid, START + 10 * DAY, START + 12 * DAY).day.tolist() == [20_010, 20_011]


def test_the_newest_reading_is_found_among_packed_and_live(probe: m.Probe) -> None:
    _source(probe, _series([START, START + 60], [37.0, 37.1], [0.5, float("nan")]))
    assert series.last(probe.uid, START + 30) == (START, 37.0, 0.5)
    at, temp, rh = series.last(probe.uid, START + DAY)  # type: ignore[misc]  # there is one
    assert (at, temp, rh) == (START + 60, pytest.approx(37.1), None)
    _live(probe, _series([START + 90], [38.0], [0.6]))
    assert series.last(probe.uid, START + DAY) == (START + 90, 38.0, pytest.approx(0.6))


@pytest.mark.django_db
def test_the_demonstration_is_read_as_it_was_made() -> None:
    from chalaza.scenario import demo

    put_all()
    for evidence in demo.batches(NOW).values():
        for uid, one in evidence.setting.series.items():
            assert _bits(series.read(uid).series) == _bits(one)
