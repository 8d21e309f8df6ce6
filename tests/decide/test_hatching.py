"""From the first pip to the clean box: looking, lifting, opening, cleaning."""

from dataclasses import replace

import pytest
from tests.decide.asked import USUAL, at, clocked, moment, named, of, usual

from chalaza import facts
from chalaza.decide.today import When, today
from chalaza.values.advice import Level
from chalaza.values.evidence import Breakout, DeathStage, Event, EventSort, Evidence, Hatch, HatchStage
from factory import HOUR_S


def out(uid: str, days: float, count: int = 1, egg: str | None = None) -> Hatch:
    return Hatch(uid=uid, at=at(days), stage=HatchStage.OUT, count=count, egg=egg)


def hatching(*rows: Hatch) -> Evidence:
    return replace(USUAL, hatches=rows)


def seen(now: int, last: float = 22.0):
    """An assessment as of `now` that has young out and a window that ends on day `last`."""
    return clocked(
        usual(at(20.0)), seen=4, last_hatch=moment(last), first_pip=moment(20.0, 6), internal_pip=moment(19.5, 6)
    )


def test_pips_are_looked_for_once_a_day_while_the_window_is_open_and_a_look_without_any_counts() -> None:
    a = usual(at(20.5))
    found = named(of(USUAL, at(20.5), a))
    assert {"pips/20", "pips/21"} <= found.keys()
    assert found["pips/20"].form == "hatch"
    assert found["pips/20"].code == "job.pips"
    looked = Hatch(uid="h", at=at(20.4), stage=HatchStage.PIPPED, count=0)
    assert named(of(hatching(looked), at(20.5), a))["pips/20"].done_at == at(20.4)
    assert not named(of(hatching(replace(looked, at=at(19.0))), at(20.5), a))["pips/20"].done
    assert named(of(hatching(out("h", 20.4)), at(20.5), seen(at(20.5))))["pips/20"].code == "job.hatching"


def test_a_look_that_found_nobody_out_starts_no_clock() -> None:
    rows = (Hatch(uid="h", at=at(20.0), stage=HatchStage.OUT, count=0), out("i", 20.5, 3))
    job = named(of(hatching(*rows), at(20.6), seen(at(20.6)), later=True))["young/1"]
    assert job.advice.figures["first"] == at(20.5)
    assert job.advice.figures["n"] == 3


def test_young_out_after_one_lift_belong_to_the_next() -> None:
    rows = (out("a", 20.5, 3), out("b", 20.8, 2), out("c", 21.2, 4))
    now = at(21.4)
    key = f"{USUAL.batch.uid}/young/1"
    found = named(of(hatching(*rows), now, seen(now), done={key: at(20.9)}, later=True))
    assert found["young/2"].advice.figures["n"] == 4
    assert found["young/2"].due == at(21.2) + 24 * HOUR_S
    first = named(of(hatching(*rows), at(20.95), seen(now), done={key: at(20.9)}))["young/1"]
    assert (first.done, first.advice.figures["n"]) == (True, 5)
    both = named(of(hatching(*rows), now, seen(now), later=True))
    assert both["young/1"].advice.figures["n"] == 9
    assert "young/2" not in both


@pytest.mark.parametrize("record", ["moved", "opened", "left"])
def test_a_record_shows_that_young_were_moved(record: str) -> None:
    now = at(21.9)
    batch = hatching(out("a", 20.5, 3))
    batch = {
        "moved": replace(batch, events=(Event(uid="e", at=at(21.8), sort=EventSort.MOVED),)),
        "opened": replace(batch, breakouts=(Breakout(uid="b", at=at(21.8), stage=DeathStage.LATE, count=1),)),
        "left": replace(batch, stays=tuple(replace(one, end=at(21.8)) for one in batch.stays)),
    }[record]
    assert named(of(batch, now, seen(now)))["young/1"].done_at == at(21.8)


def test_young_surely_moved_are_not_asked_about_for_ever() -> None:
    rows = hatching(out("a", 20.5, 3))
    assert named(of(rows, at(22.6), seen(at(22.6))))["young/1"].when is When.NOW
    assert "young/1" not in named(of(rows, at(24.6), seen(at(24.6))))


def test_helpless_young_have_no_hours_in_which_to_feed_themselves() -> None:
    now = at(20.8)
    job = named(
        today(seen(now), bird=facts.kind("pigeon"), batch=USUAL.batch, eggs=USUAL.eggs, stays=USUAL.stays,
              hatches=(out("a", 20.5),), now=now, zone="UTC")
    )["young/1"]  # fmt: skip
    assert (job.code, job.until) == ("job.young_by_hand", None)


def test_the_eggs_left_are_those_neither_out_nor_opened_nor_taken() -> None:
    now = at(22.5)
    eggs = (replace(USUAL.eggs[0], removed_at=at(7.0)), *USUAL.eggs[1:])
    rows = (out("a", 20.5, 1, "e2"), out("b", 20.6, 1, "e3"), out("c", 21.0, 4))
    # e1 was taken out clear and opened as well: it is not counted twice.
    opened = (Breakout(uid="o", at=at(7.0), egg="e1", stage=DeathStage.INFERTILE),)
    batch = replace(USUAL, eggs=eggs, hatches=rows, breakouts=opened)
    job = named(of(batch, now, seen(now)))["open/1"]
    assert job.advice.figures["n"] == 12 - 1 - 2 - 4
    assert (job.form, job.level, job.due) == ("open", Level.WATCH, at(22.0))


def test_opening_all_that_is_left_is_done_and_the_box_is_then_to_be_cleaned() -> None:
    now = at(22.6)
    batch = replace(hatching(out("a", 20.5, 9)), events=(Event(uid="e", at=at(21.0), sort=EventSort.MOVED),))
    assert "clean/1" not in named(of(batch, now, seen(now)))
    some = replace(batch, breakouts=(Breakout(uid="o", at=at(22.5), stage=DeathStage.LATE, count=2),))
    assert not named(of(some, now, seen(now)))["open/1"].done
    all_of = replace(batch, breakouts=(Breakout(uid="o", at=at(22.5), stage=DeathStage.LATE, count=3),))
    found = named(of(all_of, now, seen(now)))
    assert found["open/1"].done_at == at(22.5)
    assert found["clean/1"].advice.figures["since"] == at(22.5)
    assert not found["clean/1"].done
    key = f"{USUAL.batch.uid}/clean/1"
    assert named(of(all_of, now, seen(now), done={key: now}))["clean/1"].done


def test_a_hatch_of_every_egg_leaves_nothing_to_open() -> None:
    now = at(22.6)
    batch = replace(hatching(out("a", 20.5, 12)), events=(Event(uid="e", at=at(21.0), sort=EventSort.MOVED),))
    assert list(named(of(batch, now, seen(now)))) == ["clean/1"]


def test_the_box_is_not_cleaned_while_young_are_in_it() -> None:
    now = at(21.0)
    assert "clean/1" not in named(of(hatching(out("a", 20.5, 12)), now, seen(now)))


def test_more_out_than_were_set_is_no_negative_number_of_eggs() -> None:
    now = at(22.6)
    found = named(of(hatching(out("a", 20.5, 40)), now, seen(now)))
    assert not any(key.startswith("open") for key in found)
