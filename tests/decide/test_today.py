"""Today's jobs: what is asked on the key days of whole terms, and what holds whatever was recorded.

The key days are read from the tables of facts, not from the module. The demonstration's keeper records some of what is
asked and forgets some, so both sides are seen.
"""

import ast
import inspect
import re
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.decide.asked import USUAL, at, clocked, moment, named, of, usual

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.decide import asks, care, hatching, looks
from chalaza.decide.job import HOURLESS, LEAVES
from chalaza.decide.today import Job, When, merge
from chalaza.errors import EvidenceError
from chalaza.facts import days
from chalaza.scenario import demo
from chalaza.values.advice import Level
from chalaza.values.answers import Assessment
from chalaza.values.evidence import Candling, Event, EventSort, Evidence, Finding, HatchStage, Weighing
from factory import DAY_S, HOUR_S, SET_AT, evidences

NOW = 1_776_450_000
FORM = re.compile(r"|weigh|candle|mark|hatch|open|mount|event:[a-z_]+|check:(ice|compare|salt)")


@cache
def batches() -> dict[str, Evidence]:
    return demo.batches(NOW)


@cache
def walked(name: str, age_d: float) -> dict[str, Job]:
    """The jobs of a batch of the demonstration at that age, by what and number."""
    evidence = batches()[name]
    return named(of(evidence, evidence.batch.set_at + round(age_d * DAY_S)))


def ages(name: str, *, more: int = 0) -> list[float]:
    evidence = batches()[name]
    return [0.2, *map(float, range(1, int((NOW - evidence.batch.set_at) // DAY_S) + more + 1))]


def open_jobs(name: str, age_d: float, when: When = When.TODAY) -> set[str]:
    return {key for key, job in walked(name, age_d).items() if not job.done and job.when is when}


def done_jobs(name: str, age_d: float) -> set[str]:
    return {key for key, job in walked(name, age_d).items() if job.done}


# --- whole terms, against the tables ----------------------------------------------------------------------------------


def test_quail_are_asked_for_on_the_days_of_their_kind() -> None:
    """Set at 19:00: what is due on day d is tomorrow's job at 19:00 on day d - 1 and today's on day d, until done. They
    were candled a day late twice, and weighed on days 6 and 12."""
    kind = facts.kind("coturnix")
    first, second, _ = kind.candle_d
    assert (first, second, kind.stop_turning_d.typical) == (6.0, 12.0, 15.0)
    for number, day in ((1, first), (2, second)):
        assert f"candle/{number}" not in walked("orchard-quail", day - 2)
        assert f"candle/{number}" in open_jobs("orchard-quail", day - 1, When.TOMORROW)
        assert f"candle/{number}" in open_jobs("orchard-quail", day)
        assert f"candle/{number}" in done_jobs("orchard-quail", day + 1)
        assert f"candle/{number}" not in walked("orchard-quail", day + 2)
    # Printed for hens: from day 5 on. The same share of this term is day 4.2.
    assert "weigh/2" in open_jobs("orchard-quail", 3.0, When.TOMORROW)
    assert "weigh/2" in open_jobs("orchard-quail", 5.0)
    assert "weigh/2" in done_jobs("orchard-quail", 6.0)
    assert "weigh/3" in done_jobs("orchard-quail", 12.0)


def test_quail_go_into_lockdown_when_turning_ends_and_are_then_watched() -> None:
    assert "lockdown/1" in open_jobs("orchard-quail", 13.6, When.TOMORROW)
    assert "lockdown/1" in done_jobs("orchard-quail", 14.6)
    assert {"candle/3", "weigh/4"} <= open_jobs("orchard-quail", 15.0)
    assert "heat/1" in open_jobs("orchard-quail", 15.0, When.TOMORROW)
    assert "lid/18" not in walked("orchard-quail", 18.0), "on that day the young are lifted out"
    for age in (16.0, 17.0):
        assert "candle/3" not in walked("orchard-quail", age), "the lid stays shut from the first pip"
        assert f"lid/{age:.0f}" in open_jobs("orchard-quail", age)
        assert f"pips/{age:.0f}" in walked("orchard-quail", age)


def test_young_quail_are_due_under_heat_within_a_day_of_the_first_and_two_at_most() -> None:
    evidence = batches()["orchard-quail"]
    first = min(one.at for one in evidence.hatches if one.stage is HatchStage.OUT and one.count)
    job = walked("orchard-quail", 18.0)["young/1"]
    assert (job.due - first, (job.until or 0) - first) == (24 * HOUR_S, 48 * HOUR_S)
    assert job.level is Level.ACT
    assert walked("orchard-quail", 19.1)["young/1"].when is When.NOW, "after two days it cannot wait"


def test_after_the_hatch_eggs_are_opened_the_box_is_cleaned_and_then_there_is_peace() -> None:
    end = (walked_clock("orchard-quail", 19.0).last_hatch.high - batches()["orchard-quail"].batch.set_at) / DAY_S
    assert "open/1" in open_jobs("orchard-quail", 18.0, When.TOMORROW)
    assert 18.0 < end < 19.0
    assert "open/1" in open_jobs("orchard-quail", 19.0)
    assert not any(key.startswith("clean") for key in walked("orchard-quail", 19.0)), "eggs are still in"
    assert {"open/1", "young/1"} <= done_jobs("orchard-quail", 20.0), "the eggs were opened on that day"
    assert open_jobs("orchard-quail", 20.0) == {"clean/1"}
    assert set(walked("orchard-quail", 25.0)) == {"clean/1"}
    assert walked("orchard-quail", end + 14.1) == {}


def walked_clock(name: str, age_d: float):
    evidence = batches()[name]
    now = evidence.batch.set_at + round(age_d * DAY_S)
    return assess(prior_beliefs(evidence.batch.kind), evidence, now).clock


def test_hens_that_were_not_candled_again_are_asked_for_until_the_last_look() -> None:
    kind = facts.kind("chicken")
    assert kind.candle_d == (7.0, 14.0, 18.0)
    assert "candle/1" in done_jobs("speckled-hens", 7.0)
    asked = [age for age in ages("speckled-hens", more=6) if "candle/2" in open_jobs("speckled-hens", age)]
    assert asked == [14.0, 15.0, 16.0, 17.0]
    assert "candle/3" in open_jobs("speckled-hens", 18.0), "one line for one look under the lamp"
    for age in ages("speckled-hens", more=6):
        assert sum(key.startswith("candle") for key in open_jobs("speckled-hens", age)) <= 1


def test_hens_get_one_line_a_day_about_the_dial_and_one_about_the_water() -> None:
    for age in ages("speckled-hens", more=6):
        found = walked("speckled-hens", age)
        assert sum(key.startswith("leave/") for key in found) == 1
        assert sum(key.startswith("humidity/") for key in found) <= 1
    assert walked("speckled-hens", 0.2)["leave/0"].code == "warmth.warming_up"
    water = walked("speckled-hens", 5.0)["humidity/5"]
    assert (water.code, water.level, water.form) == ("water.raise", Level.ACT, "event:water")
    # The trough was filled at hour 150, that is day 6.25; that is noted, and quiets it for a day.
    assert walked("speckled-hens", 7.0)["humidity/7"].done_at == batches()["speckled-hens"].batch.set_at + 150 * HOUR_S
    assert "humidity/8" in open_jobs("speckled-hens", 8.0)


def test_hens_whose_turning_nobody_stops_are_told_so_louder_and_louder() -> None:
    assert "lockdown/1" not in walked("speckled-hens", 16.0)
    assert walked("speckled-hens", 18.0)["lockdown/1"].level is Level.ACT
    assert walked("speckled-hens", 19.0)["lockdown/1"].when is When.NOW
    assert "wetter/1" in open_jobs("speckled-hens", 18.0)


def test_hens_of_which_no_young_was_seen_are_looked_at_before_an_egg_is_opened() -> None:
    found = walked("speckled-hens", 24.0)
    assert list(found) == ["late/1"]
    assert (found["late/1"].code, found["late/1"].form) == ("clock.overdue", "candle")
    evidence = batches()["speckled-hens"]
    now = evidence.batch.set_at + 24 * DAY_S + HOUR_S
    key = f"{evidence.batch.uid}/late/1"
    after = named(of(evidence, now, done={key: now - 600}))
    assert after["late/1"].done
    assert not after["open/1"].done


def test_ducks_are_turned_from_the_second_day_on_and_checked_when_it_narrows() -> None:
    found = walked("pond-ducks", 0.2)
    assert found["turn_first/1"].when is When.TOMORROW
    assert found["turn_first/1"].due == batches()["pond-ducks"].batch.set_at + DAY_S
    assert walked("pond-ducks", 1.0)["turn_first/1"].when is When.TODAY
    assert walked("pond-ducks", 1.0)["check/1"].form == "check:ice"


@pytest.mark.parametrize("name", ["speckled-hens", "orchard-quail", "pond-ducks"])
def test_on_every_day_the_list_is_in_order_and_well_formed(name: str) -> None:
    for age in ages(name, more=6):
        jobs = list(walked(name, age).values())
        assert_in_order(jobs)
        assert len({job.key for job in jobs}) == len(jobs)
        for job in jobs:
            assert job.when is not When.LATER
            assert FORM.fullmatch(job.form), job
            assert job.code == job.advice.code
            assert job.level is job.advice.level
            assert (job.when is When.NOW) == (job.level is Level.NOW and not job.done)
            assert job.minutes is None or job.minutes > 0
            assert not (job.leaves and (job.done or job.form))


def assert_in_order(jobs: list[Job]) -> None:
    ranks = [(job.when is When.TOMORROW, -job.level, job.due) for job in jobs]
    assert ranks == sorted(ranks)


# --- keys -------------------------------------------------------------------------------------------------------------

DAYS = (0.5, 3.0, 6.8, 9.0, 12.0, 16.0, 17.6, 18.6, 20.0, 21.2, 22.0)
MOVED = ("stop_turning", "internal_pip", "first_pip", "half_hatched", "last_hatch")


def shifted(a: Assessment, hours: float) -> Assessment:
    """The assessment with its whole forecast moved."""
    moved = {
        name: replace(
            one, value=one.value + hours * HOUR_S, low=one.low + hours * HOUR_S, high=one.high + hours * HOUR_S
        )
        for name in MOVED
        for one in (getattr(a.clock, name),)
    }
    return clocked(a, **moved)


@given(age=st.sampled_from(DAYS), hours=st.floats(-30.0, 30.0))
def test_a_job_keeps_its_key_when_the_forecast_moves(age: float, hours: float) -> None:
    """What is planned for the whole term has the same keys whatever the forecast, but for what it lets pass or begin."""
    a = usual(at(age))
    before, after = (named(of(USUAL, at(age), one, later=True)) for one in (a, shifted(a, hours)))
    both = before.keys() & after.keys()
    assert {"heat/1"} <= both or a.clock.half_hatched.value < at(age) + 40 * HOUR_S
    for key in both - {"leave", "lid"}:
        assert before[key].form == after[key].form or key.startswith("check/")
    for key in ("lockdown/1", "heat/1", "candle/3", "weigh/4"):
        if key in both and not before[key].done and min(before[key].due, after[key].due) > at(age) + 40 * HOUR_S:
            assert after[key].due - before[key].due == pytest.approx(hours * HOUR_S, abs=2)
    daily = {key for key in before.keys() ^ after.keys() if key.split("/")[0] in HOURLESS}
    once = (before.keys() ^ after.keys()) - daily
    assert once <= {
        "lockdown/1",
        "wetter/1",
        "heat/1",
        "late/1",
        "open/1",
        "candle/2",
        "candle/3",
        "weigh/4",
        "weigh/3",
    }


def test_a_tick_survives_a_forecast_that_moves_by_a_day() -> None:
    now = at(18.6)
    a = usual(now)
    key = f"{USUAL.batch.uid}/lockdown/1"
    for hours in (-24.0, 0.0, 24.0):
        found = named(of(USUAL, now, shifted(a, hours), done={key: now - 60}, later=True))
        assert found["lockdown/1"].done_at == now - 60


# --- ticks and records ------------------------------------------------------------------------------------------------


@given(age=st.sampled_from(DAYS))
def test_a_tick_takes_a_job_from_what_is_open_and_from_nothing_else(age: float) -> None:
    now = at(age)
    before = of(USUAL, now, usual(now))
    for job in before:
        if job.done or job.leaves:
            continue
        after = {one.key: one for one in of(USUAL, now, usual(now), done={job.key: now - 30})}
        assert after[job.key].done_at == now - 30
        assert {one.key for one in before if one.done} | {job.key} == {key for key, one in after.items() if one.done}


def test_what_was_ticked_yesterday_is_no_longer_listed() -> None:
    now = at(18.6)
    key = f"{USUAL.batch.uid}/lockdown/1"
    found = named(of(USUAL, now, usual(now), done={key: now - DAY_S}))
    assert "lockdown/1" not in found


def test_a_tick_of_later_than_now_is_not_seen() -> None:
    now = at(18.6)
    key = f"{USUAL.batch.uid}/lockdown/1"
    assert not named(of(USUAL, now, usual(now), done={key: now + 60}))["lockdown/1"].done


def test_rows_of_later_than_now_are_not_seen() -> None:
    now = at(6.9)
    late = tuple(Candling(uid=f"z{n}", at=now + 60, egg=f"e{n}", finding=Finding.LIVE) for n in range(1, 13))
    assert not named(of(replace(USUAL, candlings=late), now, usual(now)))["candle/1"].done


@pytest.mark.parametrize(
    ("what", "rows", "number"),
    [
        ("candlings", 12, "candle/2"), ("candlings", 6, "candle/2"), ("weighings", 3, "weigh/3"),
    ],
)  # fmt: skip
def test_records_in_the_window_count_as_done_without_a_tick(what: str, rows: int, number: str) -> None:
    when = at(13.0 if what == "candlings" else 12.1)
    now = when + HOUR_S
    made = (
        tuple(Candling(uid=f"z{n}", at=when, egg=f"e{n}", finding=Finding.LIVE) for n in range(1, rows + 1))
        if what == "candlings"
        else tuple(Weighing(uid=f"z{n}", at=when, eggs=f"e{n}", gross_g=57.0) for n in range(1, rows + 1))
    )
    assert not named(of(USUAL, now, usual(now)))[number].done
    seen = replace(USUAL, **{what: (*getattr(USUAL, what), *made)})
    assert named(of(seen, now, usual(now)))[number].done_at == when


def test_a_few_eggs_of_the_tray_do_not_make_a_look_nor_a_weighing() -> None:
    now = at(13.0)
    some = replace(
        USUAL,
        candlings=(
            *USUAL.candlings,
            *(Candling(uid=f"z{n}", at=now, egg=f"e{n}", finding=Finding.LIVE) for n in (1, 2)),
        ),
        weighings=(*USUAL.weighings, Weighing(uid="z", at=now, eggs="e1 e2", gross_g=110.0)),
    )
    found = named(of(some, now, usual(now)))
    assert not found["candle/2"].done
    assert not found["weigh/3"].done


def test_the_whole_tray_on_the_scale_is_a_weighing() -> None:
    now = at(12.5)
    tray = replace(USUAL, weighings=(*USUAL.weighings, Weighing(uid="z", at=now - 60, eggs="all", gross_g=690.0)))
    assert named(of(tray, now, usual(now)))["weigh/3"].done_at == now - 60


def test_turning_noted_as_stopped_ends_lockdown_and_turning() -> None:
    now = at(18.6)
    assert {"lockdown/1"} <= named(of(USUAL, now, usual(now))).keys()
    stopped = replace(USUAL, events=(*USUAL.events, Event(uid="x", at=now - 60, sort=EventSort.TURNING_STOPPED)))
    found = named(of(stopped, now, usual(now)))
    assert found["lockdown/1"].done_at == now - 60
    assert not any(key.startswith("turn/") for key in found)


# --- whatever is recorded ---------------------------------------------------------------------------------------------


def near(rows, set_at: int):
    """The rows moved into the forty days after setting, their ends left open."""
    ends = {"until": None, "looked_before": None}
    return tuple(
        replace(
            one, at=set_at + one.at % (40 * DAY_S), **{name: end for name, end in ends.items() if hasattr(one, name)}
        )
        for one in rows
    )


@settings(suppress_health_check=list(HealthCheck))
@given(
    evidence=evidences().filter(lambda one: one.stays and any(egg.count for egg in one.eggs)),
    kind=st.sampled_from(["chicken", "coturnix", "duck", "pigeon", "ostrich"]),
    age=st.floats(0.0, 60.0),
)
def test_whatever_was_recorded_the_jobs_are_well_formed(evidence: Evidence, kind: str, age: float) -> None:
    rows = ("weighings", "air_cells", "candlings", "hatches", "breakouts", "events")
    stays = tuple(
        replace(one, start=at(n), end=None if n + 1 == len(evidence.stays) else at(n + 1))
        for n, one in enumerate(evidence.stays)
    )
    mine = replace(
        evidence,
        batch=replace(evidence.batch, kind=kind, set_at=SET_AT),
        stays=stays,
        setting=replace(evidence.setting, events=near(evidence.setting.events, SET_AT), series={}),
        **{name: near(getattr(evidence, name), SET_AT) for name in rows},
    )
    jobs = of(mine, at(age), later=True)
    assert len({job.key for job in jobs}) == len(jobs)
    assert all(FORM.fullmatch(job.form) and job.batch == mine.batch.uid for job in jobs)
    assert all(job.done_at is None or job.done_at <= at(age) for job in jobs)
    assert {job.what for job in jobs if job.leaves} <= LEAVES
    assert jobs == of(mine, at(age), later=True)


# --- days of the calendar ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "Asia/Tokyo", "Pacific/Kiritimati"])
@given(minutes=st.integers(0, 10 * 24 * 60))
def test_today_ends_at_the_local_midnight(zone: str, minutes: int) -> None:
    now = at(8.0) + minutes * 60
    today_no = days.day(zone, now)
    for job in of(USUAL, now, usual(at(9.0)), zone=zone, later=True):
        wanted = {today_no: When.TODAY, today_no + 1: When.TOMORROW}.get(days.day(zone, job.due), When.LATER)
        if days.day(zone, job.due) < today_no:
            wanted = When.TODAY
        assert job.when is wanted or job.when is When.NOW or job.done, job


def test_the_days_on_which_the_clock_is_moved_have_one_turning_each() -> None:
    """Berlin puts its clock forward on 29 March 2026: day 28 since setting, a day of 23 hours. (The forecast is moved
    back so far that turning goes on.)"""
    seen: dict[str, set[int]] = {}
    a = clocked(usual(at(10.0)), stop_turning=moment(60, 2), internal_pip=moment(61, 2), first_pip=moment(62, 2),
                half_hatched=moment(63, 2), last_hatch=moment(64, 2))  # fmt: skip
    for hour in range(26 * 24, 30 * 24, 3):
        now = at(hour / 24.0)
        for job in of(USUAL, now, a):
            if job.what == "turn":
                number = int(job.key.rsplit("/", 1)[1])
                seen.setdefault(job.key, set()).add(job.due)
                begins = days.begins("Europe/Berlin", days.day("Europe/Berlin", SET_AT) + number)
                assert begins < job.due < (job.until or 0)
                assert (job.when is When.TODAY) == (
                    days.day("Europe/Berlin", now) == days.day("Europe/Berlin", job.due)
                )
    assert [len(dues) for dues in seen.values()] == [1] * len(seen)
    assert len({min(dues) for dues in seen.values()}) == len(seen) >= 5


def test_a_zone_that_is_not_there_is_refused() -> None:
    with pytest.raises(EvidenceError, match="no time zone 'Europe/Nowhere'"):
        of(USUAL, at(3.0), usual(at(3.0)), zone="Europe/Nowhere")


# --- order, silence, end ----------------------------------------------------------------------------------------------


def test_merging_puts_what_cannot_wait_first_and_tomorrow_last() -> None:
    lists = [tuple(walked(name, age).values()) for name, age in (("speckled-hens", 19.0), ("orchard-quail", 18.0))]
    merged = merge(lists)
    assert sorted(job.key for job in merged) == sorted(job.key for jobs in lists for job in jobs)
    assert_in_order(list(merged))
    assert merged[0].level is Level.NOW
    assert merge([]) == ()


def test_what_is_silenced_is_not_heard_unless_it_cannot_wait() -> None:
    now = at(6.9)
    codes = [job.code for job in of(USUAL, now, usual(now))]
    assert "job.candle" in codes
    assert "job.candle" not in [
        job.code for job in of(USUAL, now, usual(now), silenced=[("job.candle", USUAL.batch.uid)])
    ]
    assert codes == [job.code for job in of(USUAL, now, usual(now), silenced=[("job.candle", "another")])]
    urgent = walked("speckled-hens", 19.0)["lockdown/1"]
    evidence = batches()["speckled-hens"]
    found = of(evidence, evidence.batch.set_at + 19 * DAY_S, silenced=[(urgent.code, evidence.batch.uid)])
    assert urgent.key in {job.key for job in found}


@given(days_on=st.floats(14.0, 400.0))
def test_a_batch_long_over_asks_for_nothing(days_on: float) -> None:
    a = clocked(usual(at(10.0)), last_hatch=moment(22.5, 12), seen=3)
    end = 22.5 + 0.5
    assert of(USUAL, at(end + days_on + 0.01), a) == ()


def test_eggs_all_taken_out_leave_only_the_box_to_clean() -> None:
    gone = replace(USUAL, eggs=tuple(replace(egg, removed_at=at(9.0)) for egg in USUAL.eggs))
    assert list(named(of(gone, at(9.5), usual(at(9.5))))) == ["clean/1"]


def test_a_batch_that_left_its_last_machine_early_leaves_only_the_box_to_clean() -> None:
    left = replace(USUAL, stays=tuple(replace(one, end=at(9.0)) for one in USUAL.stays))
    assert list(named(of(left, at(9.5), usual(at(9.5))))) == ["clean/1"]
    assert of(left, at(24.0), usual(at(9.5))) == ()


# --- the registries ---------------------------------------------------------------------------------------------------


def advice_codes() -> set[str]:
    from tests.words.codes import all_codes

    return all_codes()


def test_every_advice_is_a_job_or_planned_or_left_alone_or_quiet() -> None:
    parts = [set(asks.ASKS), set(asks.PLANNED), set(asks.LEAVE), set(asks.QUIET)]
    assert set().union(*parts) == advice_codes()
    assert sum(map(len, parts)) == len(advice_codes())


def test_every_sort_of_job_named_without_an_hour_is_one_there_is() -> None:
    source = "\n".join(inspect.getsource(module) for module in (asks, care, hatching, looks))
    whats = {
        node.args[0].value
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "job"
        and isinstance(node.args[0], ast.Constant)
    } | {ask.what for ask in asks.ASKS.values()}
    assert whats >= HOURLESS
    assert LEAVES <= HOURLESS
    assert not any("/" in what for what in whats)


def test_of_a_batch_that_is_planned_nothing_is_asked_that_only_eggs_in_the_box_could_ask_for() -> None:
    ahead = of(USUAL, SET_AT - 2 * DAY_S, usual(SET_AT))
    assert not [job.code for job in ahead if job.leaves or job.level is Level.NOW]
    assert [job.leaves for job in of(USUAL, SET_AT + HOUR_S, usual(SET_AT + HOUR_S)) if job.leaves]
