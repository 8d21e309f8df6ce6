"""The demonstration: an invented keeper with three boxes and three batches, made from a seed and a moment.

A fan-driven 40-litre box with a chicken batch in its third week (a dry first week, a cold night, a power cut, a display
nobody checked); a small still-air box in which quail were set that have hatched in the hatching box, and in which ducks
were set yesterday. Everything in it is invented and says so.
"""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np

from chalaza.assess import prior_beliefs
from chalaza.errors import FolderError
from chalaza.exchange import write_folder
from chalaza.inference.grid import Floats
from chalaza.scenario.simulate import DAY_S, HOUR_S, Plan, Truth, simulate
from chalaza.values.evidence import (
    Airflow,
    Breakout,
    DeathStage,
    Event,
    EventSort,
    Evidence,
    Lot,
    Machine,
    Mount,
    Note,
    Origin,
    Place,
    Probe,
    ProbeSort,
    Series,
    Setting,
    Shell,
    Stay,
)

INVENTED = "Invented for demonstration; no bird, box or keeper like this exists."
ZONE = "Europe/Berlin"
_PLACE = Place(uid="shed", name="Shed by the orchard", altitude_m=140.0, zone=ZONE)
_LARDER = Machine(
    uid="larder-box",
    name="Larder box",
    airflow=Airflow.FAN,
    volume_l=40.0,
    troughs_cm2="80 230",
    vents=4,
    note=INVENTED,
)
_SMALL = Machine(uid="small-box", name="Small box", airflow=Airflow.STILL, volume_l=18.0, troughs_cm2="110", vents=2)
_HATCHING = Machine(
    uid="hatching-box", name="Hatching box", airflow=Airflow.STILL, volume_l=25.0, troughs_cm2="300", vents=4
)


def batches(now: int, seed: int = 20, ahead_h: float = 0.0) -> dict[str, Evidence]:
    """The three batches as of `now` (seconds UTC), by folder name. The same arguments give the same evidence.

    `ahead_h`: hours after `now` for which the probes go on telling, so that a notebook of the demonstration stays alive.
    """
    rng = np.random.default_rng(seed)
    return {
        "speckled-hens": _chickens(now, np.random.default_rng(rng.integers(2**32)), ahead_h),
        "orchard-quail": _quail(now, np.random.default_rng(rng.integers(2**32))),
        "pond-ducks": _ducks(now, np.random.default_rng(rng.integers(2**32)), ahead_h),
    }


def make(folder: Path, now: int, seed: int = 20) -> list[Path]:
    """Write the batches as open folders below `folder` and give their paths; folders of an earlier demo are replaced.

    Raises `FolderError` if a folder of that name holds anything but an open batch folder.
    """
    out: list[Path] = []
    for name, evidence in batches(now, seed).items():
        target = folder / name
        _clear(target)
        folder.mkdir(parents=True, exist_ok=True)
        write_folder(target, evidence, prior_beliefs(evidence.batch.kind))
        out.append(target)
    return out


def _clear(target: Path) -> None:
    if not target.exists():
        return
    kept = [one for one in target.iterdir() if one.suffix != ".csv" and one.name != "datapackage.json"]
    if kept or not (target / "datapackage.json").is_file():
        raise FolderError(
            "not an earlier demonstration, so it is left as it is", file=str(target), allowed="another folder"
        )
    shutil.rmtree(target)


def _evening(now: int, days_ago: float, hour: float = 17.0) -> int:
    """A moment some days ago at a full hour (UTC), so that set times look like set times."""
    day = int((now - days_ago * DAY_S) // DAY_S) * DAY_S
    return int(day + hour * HOUR_S)


def _swing(hours: Floats, level: float, reach: float) -> Floats:
    return np.asarray(level + reach * np.sin(2.0 * np.pi * (hours - 9.0) / 24.0))


def _dip(hours: Floats, start: float, length: float, depth: float, tau: float) -> Floats:
    """A fall that begins at `start`, lasts `length` hours and is made good within an hour."""
    falling = depth * (1.0 - np.exp(-np.clip(hours - start, 0.0, length) / tau))
    back = np.exp(-np.clip(hours - start - length, 0.0, None) / 0.6)
    return np.asarray(np.where(hours < start, 0.0, falling * back))


def _chickens(now: int, rng: np.random.Generator, ahead_h: float = 0.0) -> Evidence:
    set_at = _evening(now, 16)
    days = (now - set_at) / DAY_S + ahead_h / 24.0

    def display(h: Floats) -> Floats:
        warm_up = -14.0 * np.exp(-h / 0.5)
        return np.asarray(
            _swing(h, 37.45, 0.12) + warm_up - _dip(h, 104.0, 6.5, 3.2, 4.0) - _dip(h, 227.5, 2.6, 19.0, 3.4)
        )

    def humidity(h: Floats) -> Floats:
        base = np.where(h < 150.0, 0.37, 0.46)
        return np.asarray(
            np.clip(base + 0.02 * np.sin(2.0 * np.pi * h / 24.0) + 0.08 * (_dip(h, 227.5, 2.6, 1.0, 1.0)), 0, 1)
        )

    truth = Truth(temp_offset_k=-0.25, rh_offset=0.03, placement_k=0.1, conductance=0.30, fertility=0.88)
    plan = Plan(
        set_at=set_at, days=days, kind="chicken", name="Speckled hens", prefix="hens", eggs=28, mass_g=58.0,
        display=display, rh=humidity, log_step_s=60, shell=Shell.DARK, weigh_days=(0.0, 5.0, 10.0, 15.0),
        candle_days=(7.0,), stored_d=9.0, parents="Speckled hens", wanted_young=18, zone=ZONE,
        gaps=((301.0, 307.5),), noise_k=0.06,
    )  # fmt: skip
    evidence, _ = simulate(truth, plan, rng)
    cut = set_at + int(227.5 * HOUR_S)
    night = set_at + int(104.0 * HOUR_S)
    events = (
        Event(uid="hens-cut", at=cut, until=cut + int(2.6 * HOUR_S), sort=EventSort.POWER_OFF, machine="larder-box",
              note="fuse of the yard"),
        Event(uid="hens-lid", at=night, until=night + int(6.5 * HOUR_S), sort=EventSort.LID, machine="larder-box",
              note="lid not closed after turning, a frosty night"),
        Event(uid="hens-water", at=set_at + 150 * HOUR_S, sort=EventSort.WATER, machine="larder-box",
              note="trough A filled; it had stood dry"),
    )  # fmt: skip
    return _dress(
        evidence, machines=(_LARDER,), events=events, probe=Probe(uid="p1", name="Display P1", sort=ProbeSort.DISPLAY),
        room=_room_series(set_at, now + int(ahead_h * HOUR_S), rng), notes=(_note("hens", set_at, INVENTED),), moves=(),
    )  # fmt: skip


def _quail(now: int, rng: np.random.Generator) -> Evidence:
    set_at = _evening(now, 20)
    moved = set_at + int(14.5 * DAY_S)

    def display(h: Floats) -> Floats:
        level = np.where(h < 14.5 * 24.0, 38.2, 37.9)
        return np.asarray(_swing(h, 0.0, 0.35) + level - 12.0 * np.exp(-h / 0.6))

    def humidity(h: Floats) -> Floats:
        return np.asarray(np.where(h < 14.5 * 24.0, 0.47, 0.68) + 0.02 * np.sin(2.0 * np.pi * h / 24.0))

    truth = Truth(
        temp_offset_k=0.1, placement_k=-0.6, conductance=0.25, hatch_hours=419.0, hatch_spread_h=9.0, fertility=0.85,
        survival=(0.92, 0.97, 0.9), pip_h=(9.0, 4.0),
    )  # fmt: skip
    plan = Plan(
        set_at=set_at, days=(now - set_at) / DAY_S, kind="coturnix", name="Orchard quail", prefix="quail", eggs=24,
        mass_g=11.5, mass_sd_g=0.8, display=display, rh=humidity, log_step_s=300, airflow=Airflow.STILL, height_mm=0.0,
        probe=ProbeSort.DIGITAL, weigh_days=(0.0, 6.0, 12.0), weigh_tray=True, resolution_g=0.1, candle_days=(7.0, 13.0),
        hatch_look_h=6.0, stored_d=4.0, shell=Shell.DARK, parents="Orchard quail", zone=ZONE, noise_k=0.08,
    )  # fmt: skip
    evidence, lived = simulate(truth, plan, rng)
    evidence = replace(evidence, hatches=tuple(one for one in evidence.hatches if one.at < now - 12 * HOUR_S))
    stopped = Event(uid="quail-turning", at=moved, sort=EventSort.TURNING_STOPPED)
    evidence = replace(evidence, events=(stopped,), breakouts=_opened(evidence, lived.death_h, now))
    return _dress(
        evidence, machines=(_SMALL, _HATCHING), events=(), room=None, notes=(_note("quail", set_at, INVENTED),),
        probe=Probe(uid="p2", name="Probe P2", sort=ProbeSort.DIGITAL), moves=((moved, "hatching-box"),),
    )  # fmt: skip


def _opened(evidence: Evidence, death_h: Floats, now: int) -> tuple[Breakout, ...]:
    """The eggs that did not hatch, opened two days after the last young; what each showed."""
    out_of = {one.egg for one in evidence.hatches}
    term_h = 17.5 * 24.0
    rows: list[Breakout] = []
    for egg, hour in zip(evidence.eggs, death_h.tolist(), strict=True):
        if egg.uid in out_of:
            continue
        stage = (
            DeathStage.INFERTILE if hour < 0
            else DeathStage.EARLY if hour < term_h / 3
            else DeathStage.MIDDLE if hour < 2 * term_h / 3
            else DeathStage.LATE
        )  # fmt: skip
        rows.append(Breakout(uid=f"{egg.uid}-opened", at=now - 6 * HOUR_S, egg=egg.uid, stage=stage))
    return tuple(rows)


def _ducks(now: int, rng: np.random.Generator, ahead_h: float = 0.0) -> Evidence:
    set_at = _evening(now, 1)

    def display(h: Floats) -> Floats:
        return np.asarray(_swing(h, 38.6, 0.3) - 15.0 * np.exp(-h / 0.9))

    def humidity(h: Floats) -> Floats:
        return np.asarray(0.5 + 0.02 * np.sin(2.0 * np.pi * h / 24.0))

    plan = Plan(
        set_at=set_at, days=(now - set_at) / DAY_S + ahead_h / 24.0, kind="duck", name="Pond ducks", prefix="ducks",
        eggs=9, mass_g=76.0, mass_sd_g=5.0, display=display, rh=humidity, log_step_s=300, airflow=Airflow.STILL, height_mm=5.0,
        probe=ProbeSort.DIGITAL, weigh_days=(0.0,), stored_d=6.0, parents="Pond ducks", wanted_young=6, zone=ZONE,
    )  # fmt: skip
    evidence, _ = simulate(Truth(placement_k=-1.0, conductance=0.2, hatch_hours=668.0), plan, rng)
    return _dress(
        evidence, machines=(_SMALL,), events=(), room=None, notes=(_note("ducks", set_at, INVENTED),),
        probe=Probe(uid="p3", name="Probe P3", sort=ProbeSort.DIGITAL), moves=(),
    )  # fmt: skip


def _note(prefix: str, at: int, text: str) -> Note:
    return Note(uid=f"{prefix}-note", at=at, text=text)


def _room_series(start: int, now: int, rng: np.random.Generator) -> Series:
    t = np.arange(start, now + 1, 600, dtype=np.int64)
    temp = 16.5 + 2.5 * np.sin(2.0 * np.pi * ((t - start) / HOUR_S - 9.0) / 24.0) + rng.normal(0.0, 0.15, len(t))
    rh = 0.55 + rng.normal(0.0, 0.01, len(t))
    return Series(t, temp.round(1).astype(np.float32), rh.round(3).astype(np.float32))


def _dress(
    evidence: Evidence,
    *,
    machines: tuple[Machine, ...],
    events: tuple[Event, ...],
    probe: Probe,
    room: Series | None,
    notes: tuple[Note, ...],
    moves: tuple[tuple[int, str], ...],
) -> Evidence:
    """The simulated rows in this keeper's boxes: names, moves with the eggs, a probe in the room."""
    batch, first = evidence.batch, machines[0].uid
    starts = [(batch.set_at, first), *moves]
    ends: list[int | None] = [moment for moment, _ in moves]
    ends.append(None)
    stays = tuple(
        Stay(uid=f"{batch.uid}-stay{i}", batch=batch.uid, machine=machine, start=start, end=end)
        for i, ((start, machine), end) in enumerate(zip(starts, ends, strict=True))
    )
    height = evidence.setting.mounts[0].height_mm
    mounts = [
        Mount(uid=f"{probe.uid}-mount{i}", probe=probe.uid, machine=one.machine, start=one.start, end=one.end,
              height_mm=height, position="among the eggs")
        for i, one in enumerate(stays)
    ]  # fmt: skip
    series = {probe.uid: next(iter(evidence.setting.series.values()))}
    probes = [probe]
    if room is not None:
        probes.append(Probe(uid="room", name="Room probe", sort=ProbeSort.DIGITAL))
        mounts.append(Mount(uid="room-mount", probe="room", machine=None, start=batch.set_at, position="shelf"))
        series["room"] = room
    lots = tuple(_lot(one) for one in evidence.lots)
    setting = Setting(
        place=_PLACE, machines=machines, probes=tuple(probes), mounts=tuple(mounts), events=events, series=series
    )
    return replace(evidence, setting=setting, stays=stays, notes=notes, lots=lots, batch=replace(batch, note=INVENTED))


def _lot(one: Lot) -> Lot:
    laid = one.laid_last
    spread = 3 * DAY_S if laid is not None else 0
    return replace(one, laid_first=None if laid is None else laid - spread, origin=Origin.OWN, store_temp_degc=15.0)
