from dataclasses import replace

import pytest

from chalaza.charts.base import plain
from chalaza.charts.happenings import Parts, event_words, happenings, parts, turning_stopped, young
from chalaza.values.evidence import Candling, Event, EventSort, Finding, Hatch, HatchStage, Stay, Weighing
from charts.cases import evidence, understood
from factory import DAY_S, SET_AT

_, A = understood("day12")


def at(day: float) -> int:
    return SET_AT + int(day * DAY_S)


def event(
    sort: EventSort, day: float, *, machine: str | None = None, until: float | None = None, uid: str = "x"
) -> Event:
    return Event(uid=uid, at=at(day), sort=sort, machine=machine, until=None if until is None else at(until))


def found(**rows) -> list:
    return [one for one in happenings(A, Parts(**rows), plain) if one.word not in ("cold spell", "hot spell")]


def test_a_session_is_one_mark_with_its_number_of_eggs():
    looks = [Candling(uid=f"c{i}", at=at(7.0) + 60 * i, egg=f"e{i % 10}", finding=Finding.LIVE) for i in range(12)] + [
        Candling(uid="d", at=at(9.0), egg="tray", finding=Finding.LIVE, count=30)
    ]
    loads = [
        Weighing(uid="w1", at=at(5.0), eggs="e1 e2", gross_g=120.0), Weighing(uid="w2", at=at(5.0) + 90, eggs="e3", gross_g=60.0),
        Weighing(uid="w3", at=at(8.0), eggs="all", gross_g=900.0),
    ]  # fmt: skip
    marks = found(candlings=looks, weighings=loads)
    assert [(one.sort, one.at, one.eggs) for one in marks] == [
        ("weighed", at(5.0), 3), ("candled", at(7.0), 10), ("weighed", at(8.0), None), ("candled", at(9.0), 30)
    ]  # fmt: skip


def test_what_comes_later_is_not_seen():
    marks = found(
        candlings=[Candling(uid="c", at=at(13.0), egg="e1", finding=Finding.LIVE)],
        weighings=[Weighing(uid="w", at=at(12.5), eggs="e1", gross_g=50.0)],
        events=[event(EventSort.LID, 12.1)], stays=[Stay(uid="s", batch="b", machine="box", start=at(0.0))],
        hatches=[Hatch(uid="h", at=at(21.0), stage=HatchStage.OUT)],
    )  # fmt: skip
    assert marks == []


def test_an_event_of_a_machine_counts_only_while_the_batch_was_in_it():
    stays = [
        Stay(uid="s1", batch="b", machine="box", start=at(0.0), end=at(8.0)),
        Stay(uid="s2", batch="b", machine="hatcher", start=at(8.0)),
    ]
    events = [
        event(EventSort.POWER_OFF, 3.0, machine="box", until=3.1, uid="1"), event(EventSort.POWER_OFF, 9.0, machine="box", uid="2"),
        event(EventSort.LID, 9.5, machine="hatcher", uid="3"), event(EventSort.VENTS, 2.0, machine="hatcher", uid="4"),
        event(EventSort.POWER_OFF, -2.0, machine="box", until=-1.0, uid="5"), event(EventSort.MISTED, 4.0, uid="6"),
    ]  # fmt: skip
    marks = found(events=events, stays=stays)
    assert [(one.word, one.at) for one in marks] == [
        ("no power", at(3.0)), ("misted", at(4.0)), ("moved", at(8.0)), ("lid open", at(9.5))
    ]  # fmt: skip
    noted = found(events=[*events, event(EventSort.MOVED, 8.02, uid="7")], stays=stays)
    assert [one.word for one in noted].count("moved") == 1


def test_daily_care_is_told_but_takes_no_place_on_the_cord():
    filled = [event(EventSort.WATER, day, uid=f"{day}") for day in (1.0, 2.0, 3.0, 4.0)]
    assert all(one.often for one in found(events=filled))
    assert not any(one.often for one in found(events=filled[:3]))


def test_a_spell_nobody_noted_is_a_mark_and_one_that_was_is_not():
    # The batch of day 12 had two cold spells and a hot one of the shell.
    words = [one.word for one in happenings(A, Parts(), plain)]
    assert sorted(words) == ["cold spell", "cold spell", "hot spell"]
    noted = happenings(A, Parts(events=[event(EventSort.POWER_OFF, 8.2, machine="box", until=8.5)]), plain)
    assert [one.word for one in noted] == ["cold spell", "no power", "hot spell"]


def test_the_end_of_turning_is_the_last_time_it_was_noted():
    rows = [
        event(EventSort.TURNING_STOPPED, 10.0),
        event(EventSort.TURNING_STOPPED, 11.0),
        event(EventSort.TURNING_STOPPED, 13.0),
    ]
    assert turning_stopped(A, rows) == at(11.0)
    assert turning_stopped(A, []) is None
    assert found(events=rows) == []


def test_young_newly_seen_at_one_look_are_counted_together():
    _, after = understood("after")
    rows = [
        Hatch(uid="1", at=at(20.9), stage=HatchStage.OUT, count=2), Hatch(uid="2", at=at(20.9), stage=HatchStage.OUT),
        Hatch(uid="3", at=at(20.5), stage=HatchStage.PIPPED, count=4), Hatch(uid="4", at=at(21.0), stage=HatchStage.OUT, count=0),
    ]  # fmt: skip
    assert [(one.at, one.pipped, one.out) for one in young(after, rows)] == [(at(20.5), 4, 0), (at(20.9), 0, 3)]


def test_every_sort_of_event_has_a_word():
    assert set(event_words(plain)) == set(EventSort)


@pytest.mark.parametrize("name", ["day12", "after", "many"])
def test_parts_are_the_rows_of_the_evidence(name):
    found_, _ = evidence(name)
    rows = parts(found_)
    assert rows.candlings == found_.candlings
    assert rows.hatches == found_.hatches
    assert len(rows.events) == len(found_.setting.events) + len(found_.events)
    assert replace(rows, events=()).stays == found_.stays
