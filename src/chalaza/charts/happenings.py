"""What was done and what happened in a batch's term, gathered from its rows into marks: looks, weighings, events, young.

A session under the lamp or at the scale is one mark, whatever the number of eggs.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from chalaza.charts.base import Say
from chalaza.values.answers import Assessment
from chalaza.values.evidence import Candling, Event, EventSort, Evidence, Hatch, HatchStage, Stay, Weighing

#: Rows of one sort closer than this are one session. [s]
_SESSION_S = 6 * 3_600
#: A sort of event that came more often than this is daily care: told in the table, not on the cord.
_OFTEN = 3
#: Which name stays where two do not fit.
_FIRST = (
    EventSort.POWER_OFF, EventSort.MOVED, EventSort.REMOVED, EventSort.TURNING_MISSED, EventSort.LID, EventSort.COOLED,
    EventSort.SET_POINT, EventSort.MISTED, EventSort.VENTS, EventSort.WATER,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """The rows of a batch that have a place in its term. Events are those of the batch and of any machine."""

    candlings: Sequence[Candling] = ()
    weighings: Sequence[Weighing] = ()
    events: Sequence[Event] = ()
    stays: Sequence[Stay] = ()
    hatches: Sequence[Hatch] = ()


def parts(evidence: Evidence) -> Parts:
    """Those rows of a batch's evidence."""
    return Parts(
        candlings=evidence.candlings, weighings=evidence.weighings, stays=evidence.stays, hatches=evidence.hatches,
        events=(*evidence.setting.events, *evidence.events),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """One mark: `sort` "candled", "weighed" or "event", its word, from when to when [seconds UTC], and how many eggs.

    `often`: one of many alike. `rank`: the lower the sooner it is named.
    """

    sort: str
    word: str
    at: int
    until: int | None = None
    eggs: int | None = None
    often: bool = False
    rank: int = 0


@dataclass(frozen=True, slots=True)
class Seen:
    """Young newly seen at one look."""

    at: int
    pipped: int
    out: int


def event_words(say: Say) -> Mapping[EventSort, str]:
    """What each sort of event is called."""
    return {
        EventSort.SET_POINT: say("set point changed"), EventSort.WATER: say("water filled"),
        EventSort.VENTS: say("vents moved"), EventSort.LID: say("lid open"), EventSort.POWER_OFF: say("no power"),
        EventSort.TURNING_STOPPED: say("turning stopped"), EventSort.TURNING_MISSED: say("turning missed"),
        EventSort.MISTED: say("misted"), EventSort.COOLED: say("cooled on purpose"),
        EventSort.REMOVED: say("eggs taken out"), EventSort.MOVED: say("moved"),
    }  # fmt: skip


def happenings(a: Assessment, rows: Parts, say: Say) -> tuple[Happening, ...]:
    """Looks, weighings and events up to the moment of the assessment, in order of time; spells nobody noted too."""
    now = a.as_of
    looks = _sessions([(one.at, one.egg, one.count) for one in rows.candlings if one.at <= now])
    loads = _sessions([(one.at, name, 1) for one in rows.weighings for name in one.eggs.split() if one.at <= now])
    found = [Happening(sort="candled", word=say("candled"), at=at, eggs=eggs) for at, eggs in looks]
    whole = {one.at for one in rows.weighings if one.eggs.strip() == "all"}
    found += [
        Happening(
            sort="weighed", word=say("weighed"), at=at,
            eggs=None if any(at <= other <= at + _SESSION_S for other in whole) else eggs,
        )
        for at, eggs in loads
    ]  # fmt: skip
    events = _events(a, rows, say)
    return tuple(sorted((*found, *events, *_spells(a, events, say)), key=lambda one: (one.at, one.sort, one.word)))


def happened(a: Assessment) -> bool:
    """Whether the last young is out: late enough, and young were seen. What nobody saw is not told as having happened."""
    return a.as_of > a.clock.last_hatch.high and a.clock.seen > 0


def turning_stopped(a: Assessment, events: Iterable[Event]) -> int | None:
    """When turning was ended, if that was noted. [seconds UTC]"""
    return max(
        (one.at for one in events if one.sort is EventSort.TURNING_STOPPED and a.set_at <= one.at <= a.as_of),
        default=None,
    )


def young(a: Assessment, hatches: Iterable[Hatch]) -> tuple[Seen, ...]:
    """Looks at which young were newly seen, in order of time."""
    seen: dict[int, list[int]] = {}
    for one in hatches:
        if one.at <= a.as_of and one.count > 0:
            seen.setdefault(one.at, [0, 0])[one.stage is HatchStage.OUT] += one.count
    return tuple(Seen(at, pipped, out) for at, (pipped, out) in sorted(seen.items()))


def _sessions(rows: Sequence[tuple[int, str, int]]) -> list[tuple[int, int]]:
    """The start of each session and its number of eggs; an egg looked at twice in one session is one."""
    out: list[tuple[int, dict[str, dict[int, int]]]] = []
    for at, egg, count in sorted(rows):
        if not out or at - out[-1][0] > _SESSION_S:
            out.append((at, {}))
        at_once = out[-1][1].setdefault(egg, {})
        at_once[at] = at_once.get(at, 0) + count
    return [(at, sum(max(by.values()) for by in eggs.values())) for at, eggs in out]


def _events(a: Assessment, rows: Parts, say: Say) -> list[Happening]:
    words, found = event_words(say), []
    listed = [one for one in rows.events if one.sort is not EventSort.TURNING_STOPPED and _here(a, rows.stays, one)]
    counts = {sort: sum(one.sort is sort for one in listed) for sort in EventSort}
    for one in listed:
        found.append(
            Happening(sort="event", word=words[one.sort], at=one.at, until=one.until, often=counts[one.sort] > _OFTEN,
                      rank=_FIRST.index(one.sort))
        )  # fmt: skip
    moved = [
        one.start for one in sorted(rows.stays, key=lambda stay: stay.start)[1:] if a.set_at < one.start <= a.as_of
    ]
    noted = {one.at for one in listed if one.sort is EventSort.MOVED}
    found += [
        Happening(sort="event", word=words[EventSort.MOVED], at=at, rank=_FIRST.index(EventSort.MOVED))
        for at in moved
        if not any(abs(at - other) <= _SESSION_S for other in noted)
    ]
    return found


def _here(a: Assessment, stays: Sequence[Stay], one: Event) -> bool:
    """Whether an event befell this batch: in its time, and in the machine it was in."""
    end = one.until if one.until is not None else one.at
    if one.at > a.as_of or end < a.set_at:
        return False
    if one.machine is None or not stays:
        return True
    return any(
        stay.machine == one.machine and stay.start <= end and (stay.end is None or one.at < stay.end) for stay in stays
    )


def _spells(a: Assessment, events: Sequence[Happening], say: Say) -> list[Happening]:
    """Spells the eggs felt that no event explains."""
    words = {"cold": say("cold spell"), "warm": say("hot spell")}
    found = []
    for one in a.warmth.spells:
        start = int(one.start.value)
        end = start + int(one.length_h * 3_600)
        told = any(each.at - 3_600 <= end and (each.until or each.at) + 3_600 >= start for each in events)
        if one.sort in words and not told:
            found.append(Happening(sort="event", word=words[one.sort], at=start, until=end, rank=len(_FIRST)))
    return found
