"""A log read whole by the worker: it counts once, asks what is open, and says in words what it cannot do."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chalaza.errors import ReadingError
from chalaza.intake import read
from chalaza.records import acts, files, logs, series, work
from chalaza.records import models as m
from chalaza.records.logs import Answers
from chalaza.worker.logs import import_log

from .place import text_of

pytestmark = pytest.mark.django_db

_ASKING = "Date,Time,T1 (C)\n" + "".join(f"0{n % 9 + 1}/04/2026,18:00,{24 + n % 9}.5\n" for n in range(9))


@pytest.fixture(autouse=True)
def probe() -> m.Probe:
    one = m.Probe(uid="p1", name="P1", sort="digital")
    acts.act(_keeper(), "add", save=[one])
    return one


def _keeper() -> m.Keeper:
    return m.Keeper.objects.the_one()


def _sent(text: str | bytes, name: str = "log.csv") -> m.Upload:
    data = text if isinstance(text, bytes) else text.encode()
    return logs.send(_keeper(), files.keep([data]), name)


def _done(upload: m.Upload, said: Answers, uid: str = "w1") -> dict[str, Any]:
    """What the work of reading a file comes to, done here and now."""
    logs.begin(_keeper(), upload, said, uid)
    row = work.take()
    assert row is not None
    outcome = import_log({**row.arguments, "uid": row.uid, "keeper": row.asked_by}, lambda share, text: None)
    assert work.finish(row, outcome)
    return dict(m.Work.objects.get(uid=uid).result)


_P1 = Answers(zone="UTC", probes={"probe": "p1"})


def test_a_file_counts_to_the_bit_as_it_was_read() -> None:
    text = text_of(4000)
    result = _done(_sent(text), _P1)
    assert result == {"source": "w1", "rows": 4000}
    wanted = read(text.encode(), zone="UTC").series()
    found = series.read("p1").series
    assert found == wanted
    assert (found.t.tolist(), found.temp_degc.tobytes()) == (wanted.t.tolist(), wanted.temp_degc.tobytes())
    assert not m.Upload.objects.exists()
    source = m.Source.objects.get()
    assert logs.held([source]) == {
        "w1": [logs.Held(probe="p1", n=4000, first=int(wanted.t[0]), last=int(wanted.t[-1]))]
    }
    assert source.report["overlap"]["p1"] == {"new": 4000, "same": 0, "differing": 0, "filled": 0}
    assert source.report["rows_read"] == 4000


def test_the_same_file_again_is_known_and_adds_nothing() -> None:
    upload = _sent(text_of(100))
    _done(upload, _P1)
    with pytest.raises(logs.Known, match=r"counts already, as log\.csv") as known:
        _sent(text_of(100), "copy.csv")
    assert known.value.source.uid == "w1"
    late = m.Upload(name="late.csv", sha256=upload.sha256, size=1, at=1)
    acts.act(_keeper(), "send_log", save=[late])
    assert _done(late, _P1, "w2") == {"known": "w1"}
    assert m.Source.objects.count() == 1


def test_a_longer_download_of_the_same_logger_adds_only_what_is_new() -> None:
    _done(_sent(text_of(3000)), _P1)
    _done(_sent(text_of(5000), "longer.csv"), _P1, "w2")
    assert len(series.read("p1").series) == 5000
    assert m.Source.objects.get(uid="w2").report["overlap"]["p1"] == {
        "new": 2000, "same": 3000, "differing": 0, "filled": 0,
    }  # fmt: skip
    assert [one.uid for one in logs.overlapping(m.Source.objects.get(uid="w2"))] == ["w1"]


def test_a_question_that_is_left_stores_nothing_and_says_which() -> None:
    upload = _sent(_ASKING)
    result = _done(upload, Answers(zone="UTC", probes={"probe": "p1"}))
    assert result["asks"] == ["date-order"]
    assert result["report"]["questions"][0]["code"] == "date-order"
    assert not m.Source.objects.exists()
    assert m.Upload.objects.get().work == "w1"
    answered = Answers(answers={"date-order": "dmy"}, zone="Europe/Berlin", probes={"probe": "p1"})
    assert _done(upload, answered, "w2")["source"] == "w2"
    assert int(series.read("p1").series.t[0]) == 1_775_059_200  # 1 April 2026, 18:00 in Berlin


def test_a_probe_nobody_named_is_asked_about_and_one_may_be_left_out() -> None:
    lines = ["Time;Box °C;Room °C", *(f"2026-04-01 10:{n:02d}:00;37.{n % 10};18.{n % 10}" for n in range(40))]
    upload = _sent("\n".join(lines))
    first = _done(upload, Answers(zone="UTC", probes={"box": "p1"}))
    assert first["unnamed"] == ["room"]
    assert _done(upload, Answers(zone="UTC", probes={"box": "p1", "room": ""}), "w2")["rows"] == 40
    assert m.Source.objects.get().report["named"] == {"box": "p1"}


@pytest.mark.parametrize(("probes", "says"), [({"box": "", "room": ""}, "nothing of the file would be kept"),
                                              ({"box": "p1", "room": "p1"}, "both named as one probe"),
                                              ({"box": "gone", "room": ""}, "'gone' is not in the notebook")])  # fmt: skip
def test_probes_that_cannot_be_are_refused_in_words(probes: dict[str, str], says: str) -> None:
    lines = ["Time;Box °C;Room °C", *(f"2026-04-01 10:{n:02d}:00;37.{n % 10};18.{n % 10}" for n in range(40))]
    with pytest.raises(ReadingError, match=says):
        _done(_sent("\n".join(lines)), Answers(zone="UTC", probes=probes))
    assert not m.Chunk.objects.exists()


def test_what_is_no_log_is_refused_in_words_and_waits_on() -> None:
    upload = _sent(b"%PDF-1.7 nothing")
    with pytest.raises(ReadingError, match="PDF document"):
        _done(upload, _P1)
    assert m.Upload.objects.exists()


def test_undoing_withdraws_puts_the_file_back_to_wait_and_brings_back_what_it_hid() -> None:
    _done(_sent(text_of(50)), _P1)
    other = text_of(50).replace(";45\n", ";55\n")
    _done(_sent(other, "other.csv"), _P1, "w2")
    act = m.Act.objects.get(uid="log-w1")
    first = series.read("p1").series
    undone = acts.undo(_keeper(), act)
    assert [one.name for one in m.Upload.objects.all()] == ["log.csv"]
    assert series.read("p1").series == read(other.encode(), zone="UTC").series()
    acts.undo(_keeper(), undone)
    assert series.read("p1").series == first
    assert not m.Upload.objects.exists()


def test_answers_are_remembered_for_files_of_this_look_only_if_wanted() -> None:
    report = read(text_of(50).encode()).report
    _done(_sent(text_of(50)), _P1)
    assert logs.recipe_for(report.look) is None
    _done(_sent(text_of(60), "next.csv"), Answers(zone="UTC", probes={"probe": "p1"}, remember=True), "w2")
    found = logs.recipe_for(report.look)
    assert found is not None
    assert (found.zone, found.probes, found.name) == ("UTC", {"probe": "p1"}, "next.csv")
    _done(_sent(text_of(70), "third.csv"), Answers(zone="+01:00", probes={"probe": "p1"}, remember=True), "w3")
    assert [one.zone for one in m.Recipe.objects.all()] == ["+01:00"]
    acts.undo(_keeper(), m.Act.objects.get(uid="log-w2"))  # what is remembered does not stand in the way
    assert m.Source.objects.get(uid="w2").withdrawn


def test_progress_is_told_from_nothing_to_all() -> None:
    upload = _sent(text_of(3000))
    logs.begin(_keeper(), upload, _P1, "w1")
    row = work.take()
    assert row is not None
    seen: list[float] = []
    import_log({**row.arguments, "uid": row.uid, "keeper": ""}, lambda share, text: seen.append(share))
    assert seen[0] == 0.0
    assert seen == sorted(seen)
    assert 0.9 < seen[-1] < 1.0


@pytest.mark.logs
def test_real_logs_count_as_they_are_read(shared: Path) -> None:
    for n, name in enumerate(("fahrenheit_mdy_dots.csv", "outdoor_dmy_blank_missing_trailing.csv")):
        data = (shared / "data" / "logs" / name).read_bytes()
        reading = read(data, zone="UTC")
        named = {log.name: "p1" if at == 0 else "" for at, log in enumerate(reading.probes)}
        result = _done(_sent(data, name), Answers(zone="UTC", probes=named), f"w{n}")
        wanted = reading.series()
        found = series.read("p1", int(wanted.t[0]), int(wanted.t[-1]) + 1).series
        assert result["rows"] == len(wanted) > 40
        assert np.isin(wanted.t, found.t).all()
