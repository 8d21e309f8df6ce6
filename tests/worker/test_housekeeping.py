"""House work: closed days of live readings are packed, what was withdrawn long ago is gone with its file."""

import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chalaza.records import acts, clock, files, logs, series
from chalaza.records import models as m
from chalaza.records.acts import ActError
from chalaza.values.evidence import Series
from chalaza.worker.housekeeping import pack, purge

pytestmark = pytest.mark.django_db

DAY = 86_400
NOW = 20_000 * DAY + 12 * 3600


@pytest.fixture(autouse=True)
def stopped(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> None:
    settings.HOME = tmp_path  # files of other tests are strays too
    monkeypatch.setenv(clock.VARIABLE, str(NOW))
    acts.act(m.Keeper.objects.the_one(), "add", save=[m.Probe(uid="p1", name="P1", sort="digital")])


def _quiet(share: float, message: str) -> None:
    """Progress nobody looks at."""


def test_days_that_have_been_over_for_two_days_are_packed_and_younger_ones_stay() -> None:
    at = [NOW - n * 6 * 3600 for n in range(40)]
    m.Reading.objects.bulk_create(m.Reading(probe_id="p1", at=each, temp_degc=37.5, rh=0.5) for each in at)
    before = series.read("p1").series
    result = pack({}, _quiet).result
    young = [each for each in at if each // DAY >= (NOW - 2 * DAY) // DAY]
    assert result == {"days": 8, "rows": 40 - len(young)}
    assert m.Reading.objects.count() == len(young) > 8
    assert series.read("p1").series == before
    assert pack({}, _quiet).result == {"days": 0, "rows": 0}


def _counting(text: bytes) -> m.Source:
    kept = files.keep([text])
    source = m.Source(sort="file", name="log.csv", sha256=kept.sha256, size=kept.size, at=NOW)
    acts.act(m.Keeper.objects.the_one(), "log", save=[source])
    one = Series(np.array([NOW]), np.array([37.0], np.float32), np.array([0.5], np.float32))
    series.insert(source, {"p1": one})
    os.utime(files.path(kept.sha256), (NOW - 100 * DAY,) * 2)
    return source


def test_what_was_withdrawn_thirty_days_ago_is_gone_for_good(monkeypatch: pytest.MonkeyPatch) -> None:
    keeper = m.Keeper.objects.the_one()
    kept, gone = _counting(b"kept"), _counting(b"gone")
    withdrawn = logs.withdraw(keeper, gone)
    monkeypatch.setenv(clock.VARIABLE, str(NOW + 30 * DAY))
    assert purge({}, _quiet).result["sources"] == 0
    assert files.path(gone.sha256).exists()
    monkeypatch.setenv(clock.VARIABLE, str(NOW + 30 * DAY + 1))
    assert purge({}, _quiet).result["sources"] == 1
    assert not files.path(gone.sha256).exists()
    assert files.path(kept.sha256).exists()
    assert [one.source_id for one in m.Chunk.objects.all()] == [kept.uid]
    with pytest.raises(ActError, match="upload the file anew"):
        acts.undo(keeper, withdrawn)
    with pytest.raises(ActError, match="30 days after it was withdrawn"):
        logs.take_again(keeper, m.Source.objects.get(uid=gone.uid))


def test_files_nobody_speaks_of_and_old_work_go_too() -> None:
    waits = logs.send(m.Keeper.objects.the_one(), files.keep([b"waits"]), "a.csv")
    stray = files.keep([b"stray"])
    young = files.keep([b"young"])
    for sha, age in ((waits.sha256, 40), (stray.sha256, 40), (young.sha256, 20)):
        os.utime(files.path(sha), (NOW - age * DAY,) * 2)
    m.Work.objects.create(uid="old", kind="pack", asked=NOW, state="done", ended=NOW - 31 * DAY)
    m.Work.objects.create(uid="new", kind="pack", asked=NOW, state="done", ended=NOW - 29 * DAY)
    assert purge({}, _quiet).result == {"sources": 0, "files": 1, "work": 1}
    assert files.path(waits.sha256).exists()
    assert files.path(young.sha256).exists()
    assert [one.uid for one in m.Work.objects.all()] == ["new"]
