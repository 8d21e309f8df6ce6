"""A small invented batch that many tests share, and random ones: `make_evidence(...)`, `evidences()`, `beliefs()`.

The scenario is ours: twelve chicken eggs in a 40 L fan box, ten days in, a display and a digital probe logging.
"""

from dataclasses import fields, replace
from typing import Any

import numpy as np
from hypothesis import strategies as st

from chalaza.exchange.schema import TABLES, Sort, Spec, Table, specs
from chalaza.values.beliefs import Belief, Beliefs, Shape
from chalaza.values.evidence import (
    Airflow,
    Batch,
    Candling,
    CheckSort,
    Egg,
    Event,
    EventSort,
    Evidence,
    Finding,
    Lot,
    Machine,
    Mount,
    Place,
    Probe,
    ProbeCheck,
    ProbeSort,
    Series,
    Setting,
    Stay,
    Weighing,
)

HOUR_S, DAY_S = 3_600, 86_400
#: 2026-03-01 08:00 UTC.
SET_AT = 1_772_352_000
NOW = SET_AT + 10 * DAY_S
_START_G = (58.2, 60.1, 61.4, 59.0, 62.7, 57.5, 63.3, 60.8, 59.9, 61.0, 58.8, 62.1)


def make_series(days: float = 10.0, *, step_s: int = 600, temp_degc: float = 37.6, rh: float = 0.45) -> Series:
    """Readings from setting on, with the small daily swing of a warm room."""
    t = np.arange(SET_AT, SET_AT + int(days * DAY_S), step_s, dtype=np.int64)
    swing = np.sin(2.0 * np.pi * (t - SET_AT) / DAY_S)
    temp = np.round(temp_degc + 0.1 * swing, 1).astype(np.float32)
    return Series(t, temp, np.round(rh - 0.02 * swing, 2).astype(np.float32))


def _setting() -> Setting:
    return Setting(
        place=Place(uid="shed", name="Shed", altitude_m=120.0, zone="Europe/Berlin"),
        machines=(Machine(uid="box", name="Box", airflow=Airflow.FAN, volume_l=40.0, troughs_cm2="60 60", vents=2),),
        probes=(
            Probe(uid="display", name="Display", sort=ProbeSort.DISPLAY, controls=True),
            Probe(uid="p1", name="Grey probe", sort=ProbeSort.DIGITAL),
        ),
        mounts=(
            Mount(uid="m1", probe="display", machine="box", start=SET_AT - DAY_S),
            Mount(uid="m2", probe="p1", machine="box", start=SET_AT - DAY_S, height_mm=5.0, position="middle"),
        ),
        checks=(
            ProbeCheck(
                uid="k1", probe="p1", at=SET_AT - 2 * DAY_S, sort=CheckSort.ICE, reading_degc=0.2, reference_degc=0.0
            ),
        ),
        events=(
            Event(uid="v1", at=SET_AT + 3 * DAY_S, sort=EventSort.WATER, machine="box"),
            Event(
                uid="v2",
                at=SET_AT + 5 * DAY_S,
                sort=EventSort.POWER_OFF,
                machine="box",
                until=SET_AT + 5 * DAY_S + HOUR_S,
            ),
        ),
        series={"display": make_series(temp_degc=37.7), "p1": make_series()},
    )


def _weighings(session: str, at: int, share_lost: float) -> tuple[Weighing, ...]:
    return tuple(
        Weighing(
            uid=f"{session}-{number}",
            at=at,
            eggs=f"e{number}",
            gross_g=round(start_g * (1.0 - share_lost), 1),
            session=session,
        )
        for number, start_g in enumerate(_START_G, start=1)
    )


def make_evidence(**changes: Any) -> Evidence:
    """The batch, with fields of `Evidence` or `Setting` replaced; `machine_events` are the events of the setting."""
    at = SET_AT + 7 * DAY_S
    findings = [Finding.LIVE] * 10 + [Finding.UNSURE, Finding.CLEAR]
    evidence = Evidence(
        setting=_setting(),
        batch=Batch(
            uid="spring",
            name="Spring",
            kind="chicken",
            set_at=SET_AT,
            zone="Europe/Berlin",
            planned_rh=0.45,
            planned_temp_degc=37.6,
            wanted_young=8,
            turns_per_d=5.0,
        ),
        stays=(Stay(uid="s1", batch="spring", machine="box", start=SET_AT),),
        lots=(
            Lot(
                uid="l1",
                parents="yard flock",
                laid_first=SET_AT - 6 * DAY_S,
                laid_last=SET_AT - 2 * DAY_S,
                store_temp_degc=14.0,
                parents_weeks=45.0,
            ),
        ),
        eggs=tuple(
            Egg(uid=f"e{number}", label=str(number), lot="l1", length_mm=56.5, breadth_mm=43.0)
            for number in range(1, 13)
        ),
        weighings=(*_weighings("w1", SET_AT, 0.0), *_weighings("w2", at, 0.042)),
        candlings=tuple(
            Candling(uid=f"c{number}", at=at, egg=f"e{number}", finding=finding)
            for number, finding in enumerate(findings, start=1)
        ),
        events=(Event(uid="v3", at=SET_AT + 4 * DAY_S, sort=EventSort.TURNING_MISSED),),
    )
    of_setting = {f.name for f in fields(Setting)} - {"events"}
    inner = {name: value for name, value in changes.items() if name in of_setting}
    if "machine_events" in changes:
        inner["events"] = changes["machine_events"]
    outer = {name: value for name, value in changes.items() if name not in of_setting and name != "machine_events"}
    return replace(evidence, setting=replace(outer.pop("setting", evidence.setting), **inner), **outer)


# Random batches -------------------------------------------------------------------------------------------------

_START = st.sampled_from(
    ["", "=1+1", "+", "-", "@x", "'", "''a", "\t", "\r", "\n", '"', ",", " ", ";", "\ufeff", "NaN"]
)
_WORDS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
_AWKWARD = st.builds("{}{}".format, _START, _WORDS)
_UIDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zs", "Zl", "Zp"]), min_size=1, max_size=8)
_ZONES = st.sampled_from(["UTC", "Europe/Berlin", "America/Argentina/Ushuaia", "Asia/Kathmandu", "Etc/GMT+5"])
_FLOAT32S = st.floats(width=32, allow_nan=True, allow_infinity=False)


def _cell(spec: Spec, known: dict[str, list[str]]) -> st.SearchStrategy[Any]:
    """Any value a column may hold; references point to rows drawn before."""
    if spec.optional:
        return st.none() | _filled(spec, known) if _possible(spec, known) else st.none()
    return _filled(spec, known)


def _possible(spec: Spec, known: dict[str, list[str]]) -> bool:
    return not spec.field.ref or bool(known.get(spec.field.ref))


def _filled(spec: Spec, known: dict[str, list[str]]) -> st.SearchStrategy[Any]:
    low, high = (spec.span.low, spec.span.high) if spec.span else (-1e300, 1e300)
    if spec.field.ref:
        names = st.sampled_from(known[spec.field.ref])
        return st.lists(names, min_size=1, max_size=3).map(" ".join) | st.just("all") if spec.many else names
    match spec.sort:
        case Sort.UID:
            return _UIDS.filter(lambda uid: uid != "all" and not any(mark.isspace() for mark in uid))
        case Sort.TEXT:
            return _AWKWARD if spec.default == "" else _AWKWARD.filter(bool)
        case Sort.CHOICE:
            return st.sampled_from([spec.kind(choice) for choice in spec.choices])
        case Sort.ZONE:
            return _ZONES
        case Sort.NUMBER:
            return st.floats(low, high)
        case Sort.WHOLE | Sort.MOMENT:
            return st.integers(int(low), int(high))
        case Sort.TRUTH:
            return st.booleans()
        case _:
            raise ValueError(spec.sort)


def _rows(table: Table, known: dict[str, list[str]], most: int = 4) -> st.SearchStrategy[list[Any]]:
    columns = {spec.name: _cell(spec, known) for spec in specs(table) if spec.sort is not Sort.UID}
    if any(not spec.optional and not _possible(spec, known) for spec in specs(table)):
        return st.just([])
    uid = next(spec for spec in specs(table) if spec.sort is Sort.UID)
    row = st.builds(table.row, uid=_filled(uid, known), **columns)
    size = (1, 1) if table.single else (0, most)
    return st.lists(row, min_size=size[0], max_size=size[1], unique_by=lambda row: row.uid)


def _in_order(row: Any, first: str, last: str) -> Any:
    begin, end = getattr(row, first), getattr(row, last)
    if begin is not None and end is not None and end < begin:
        return replace(row, **{first: end, last: begin})
    return row


def _apart(rows: list[Any]) -> list[Any]:
    """Stays or mounts made not to overlap: one after the other on a day of its own."""
    return [replace(row, start=number * DAY_S, end=(number + 1) * DAY_S) for number, row in enumerate(rows)]


@st.composite
def serieses(draw: st.DrawFn) -> Series:
    """Readings with any single precision figures, missing ones among them."""
    t = sorted(draw(st.sets(st.integers(0, 4_102_444_800), max_size=6)))
    temp, rh = (draw(st.lists(_FLOAT32S, min_size=len(t), max_size=len(t))) for _ in range(2))
    return Series(np.array(t, np.int64), np.array(temp, np.float32), np.array(rh, np.float32))


@st.composite
def evidences(draw: st.DrawFn) -> Evidence:
    """Any evidence a folder can hold: every table, awkward text, figures at the ends of their spans."""
    known: dict[str, list[str]] = {}
    rows: dict[str, list[Any]] = {}
    for name in ("batch", "place", "machines", "probes", "lots", "eggs"):
        rows[name] = draw(_rows(TABLES[name], known))
        known[name] = [row.uid for row in rows[name]]
    for name in TABLES.keys() - rows.keys():
        known.setdefault(name, [])
    for name in TABLES:
        if name not in rows:
            rows[name] = draw(_rows(TABLES[name], known))
    rows["stays"], rows["mounts"] = _apart(rows["stays"]), _apart(rows["mounts"])
    orders = {"events": ("at", "until"), "lots": ("laid_first", "laid_last"), "hatches": ("looked_before", "at")}
    for name, (first, last) in orders.items():
        rows[name] = [_in_order(row, first, last) for row in rows[name]]
    probes = draw(st.sets(st.sampled_from(known["probes"]))) if known["probes"] else set()
    events = rows.pop("events")
    setting = Setting(
        place=rows.pop("place")[0],
        machines=tuple(rows.pop("machines")),
        probes=tuple(rows.pop("probes")),
        mounts=tuple(rows.pop("mounts")),
        checks=tuple(rows.pop("probe_checks")),
        events=tuple(event for event in events if event.machine is not None),
        series={probe: draw(serieses()) for probe in sorted(probes)},
    )
    batch = rows.pop("batch")[0]
    mine = tuple(event for event in events if event.machine is None)
    return Evidence(setting=setting, batch=batch, events=mine, **{name: tuple(found) for name, found in rows.items()})


@st.composite
def beliefses(draw: st.DrawFn) -> Beliefs:
    """Any beliefs, with some correlations between them."""
    texts = _AWKWARD.filter(bool)
    keys = draw(st.lists(st.tuples(texts, texts), max_size=4, unique=True))
    rows = {key: draw(_belief()) for key in keys}
    pairs = draw(st.sets(st.sampled_from([(a, b) for a in keys for b in keys if a < b]))) if len(keys) > 1 else set()
    return Beliefs(rows, {pair: draw(st.floats(-1.0, 1.0)) for pair in sorted(pairs)})


@st.composite
def _belief(draw: st.DrawFn) -> Belief:
    shape = draw(st.sampled_from(Shape))
    low = 0.0 if shape is Shape.NORMAL else -1e300
    numbers = st.floats(5e-324, 1e300) if shape is Shape.BETA else st.floats(-1e300, 1e300)
    sources = st.lists(st.from_regex(r"[a-z0-9-]+", fullmatch=True), max_size=3).map(tuple)
    return Belief(
        shape=shape,
        a=draw(numbers),
        b=draw(numbers if shape is Shape.BETA else st.floats(low, 1e300)),
        unit=draw(st.sampled_from(["°C", "1", "ln g"])),
        scale=draw(st.sampled_from(["plain", "log"])),
        origin=draw(_AWKWARD.filter(bool)),
        sources=draw(sources),
    )
