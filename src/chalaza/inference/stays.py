"""Where the eggs were and who read it: stays and mounts turned into stretches of one machine and one pair of probes."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot

import numpy as np

from chalaza.inference.exposure import HOUR_S, Segment
from chalaza.inference.felt import machine_key
from chalaza.inference.grid import Floats
from chalaza.inference.instruments import SideBySide, apart
from chalaza.inference.readings import Clean, binned
from chalaza.inference.unknowns import Prior
from chalaza.values.beliefs import Belief, Key
from chalaza.values.evidence import Airflow, Machine, Mount, Stay

#: A probe within this height of the egg tops reads at the level the still-air limits speak of. [mm]; judgement.
LEVEL_MM = 15.0
#: Breadth of the hen's egg that the still-air placement was told for. [mm]
_HEN_BREADTH_MM = 43.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What a stretch is planned to be where no reading says otherwise, and the spread of each probe's offset."""

    plan_degc: float
    plan_rh: float
    offset_mean: Mapping[str, float]
    offset_sd: Mapping[str, float]
    placement: Mapping[str, Prior]
    plan_sd: float


def placement(machine: Machine, mounts: Iterable[Mount], beliefs: Mapping[Key, Belief], breadth_mm: float) -> Prior:
    """What the air at the eggs is believed to differ from the air at the probe in one machine."""
    key = machine_key(machine.uid)
    if key in beliefs:
        return Prior(key, beliefs[key].mean, beliefs[key].sd)
    one = beliefs[f"air:{condition(machine, mounts)}", "placement"]
    scale = breadth_mm / _HEN_BREADTH_MM if machine.airflow is Airflow.STILL else 1.0
    return Prior(key, one.mean * scale, one.sd)


def condition(machine: Machine, mounts: Iterable[Mount]) -> str:
    """Which row of the placement beliefs holds: fan, mapped, still with the probe at egg tops, or height unknown."""
    if machine.airflow is Airflow.FAN:
        return "fan_mapped" if machine.mapped else "fan"
    heights = [one.height_mm for one in mounts if one.machine == machine.uid and one.height_mm is not None]
    return "still_egg_top" if heights and min(map(abs, heights)) <= LEVEL_MM else "still_unknown"


def segments(
    stays: Sequence[Stay],
    mounts: Sequence[Mount],
    machines: Mapping[str, Machine],
    cleaned: Mapping[str, Clean],
    choice: Choice,
    *,
    start: int,
    end: int,
    now: int,
) -> tuple[Segment, ...]:
    """Stretches from `start` to `end` in order. In each the best-known thermometer and hygrometer of the machine speak."""
    cuts = {start, end}
    moments = [moment for one in stays for moment in (one.start, one.end)]
    moments += [moment for one in mounts for moment in (one.start, one.end)]
    cuts |= {moment for moment in moments if moment is not None and start < moment < end}
    out: list[Segment] = []
    edges = sorted(cuts)
    for a, b in pairwise(edges):
        machine = machines[_machine_at(stays, a)]
        ahead = a >= now
        look = (a, b) if not ahead else (max(start, now - 2 * 86400), now + 1)
        temp = _best(machine, mounts, cleaned, choice, look, humidity=False)
        rh = _best(machine, mounts, cleaned, choice, look, humidity=True)
        segment = _segment(a, b, machine, temp, rh, choice)
        if out and _same(out[-1], segment):
            out[-1] = _segment(out[-1].start, b, machine, temp, rh, choice)
        else:
            out.append(segment)
    return tuple(out)


def _same(left: Segment, right: Segment) -> bool:
    return (left.machine, left.temp_probe, left.rh_probe) == (right.machine, right.temp_probe, right.rh_probe)


def _machine_at(stays: Sequence[Stay], moment: int) -> str:
    """The machine of the stay that holds at a moment; between stays the one before, before all the first."""
    ordered = sorted(stays, key=lambda one: (one.start, one.uid))
    last = [one for one in ordered if one.start <= moment]
    return (last[-1] if last else ordered[0]).machine


def _best(
    machine: Machine,
    mounts: Sequence[Mount],
    cleaned: Mapping[str, Clean],
    choice: Choice,
    look: tuple[int, int],
    *,
    humidity: bool,
) -> str | None:
    """The probe with the least doubt among those that hung in the machine then and read something."""
    found: list[tuple[float, int, str]] = []
    for mount in mounts:
        a, b = max(look[0], mount.start), min(look[1], mount.end if mount.end is not None else look[1])
        if mount.machine != machine.uid or b <= a or mount.probe not in cleaned:
            continue
        one = cleaned[mount.probe]
        i, j = np.searchsorted(one.t, (a, b))
        n = int(np.count_nonzero(~np.isnan((one.vapour_pa if humidity else one.temp_degc)[i:j])))
        if n > 1:
            found.append((round(choice.offset_sd.get(mount.probe, 9.9), 6), -n, mount.probe))
    return min(found)[2] if found else None


def _segment(a: int, b: int, machine: Machine, temp: str | None, rh: str | None, choice: Choice) -> Segment:
    place = choice.placement[machine.uid]
    sd = choice.plan_sd if temp is None else choice.offset_sd[temp]
    own = rh if rh is not None else temp
    rh_sd = choice.plan_sd if own is None else choice.offset_sd[own]
    mean = 0.0 if temp is None else choice.offset_mean[temp]
    return Segment(
        start=a,
        end=b,
        machine=machine.uid,
        airflow=machine.airflow,
        temp_probe=temp,
        rh_probe=rh,
        center_k=mean + place.mean,
        step_k=hypot(sd, place.sd),
        rh_center_k=0.0 if own is None else choice.offset_mean[own],
        rh_step_k=max(rh_sd, 0.05),
        plan_degc=choice.plan_degc,
        plan_rh=choice.plan_rh,
    )


def side_by_side(
    mounts: Sequence[Mount], machines: Mapping[str, Machine], cleaned: Mapping[str, Clean], start: int, end: int
) -> tuple[SideBySide, ...]:
    """Pairs of probes that hung in one machine at the same time for at least six hours: how far their means differ.

    Of m probes in one box each hangs at a place of its own: m (m - 1)/2 pairs say no more than m places, so each of them
    is believed with m/2 times the variance of a single pair (then their sum is exact).
    """
    out: list[SideBySide] = []
    for machine in machines.values():
        hung = [one for one in mounts if one.machine == machine.uid and one.probe in cleaned]
        spans: dict[tuple[str, str], list[tuple[int, int]]] = {}
        for i, left in enumerate(hung):
            for right in hung[i + 1 :]:
                a = max(start, left.start, right.start)
                b = min(end, *(one.end for one in (left, right) if one.end is not None), end)
                if left.probe != right.probe and b - a >= 6 * HOUR_S:
                    first, second = sorted((left.probe, right.probe))
                    spans.setdefault((first, second), []).append((a, b))
        for humidity in (False, True):
            found = [_pair(*pair, machine.airflow, cleaned, span, humidity=humidity) for pair, span in spans.items()]
            pairs = [one for one in found if one is not None]
            probes = {key for one in pairs for key in (one.left, one.right)}
            out += [replace(one, sd=one.sd * (len(probes) / 2.0) ** 0.5) for one in pairs]
    return tuple(out)


def _pair(
    left: str,
    right: str,
    airflow: Airflow,
    cleaned: Mapping[str, Clean],
    spans: Sequence[tuple[int, int]],
    *,
    humidity: bool,
) -> SideBySide | None:
    """Two probes over all the hours they hung together; None for fewer than six that both read."""
    gaps: list[Floats] = []
    for a, b in spans:
        edges = np.arange(a, b + 1, HOUR_S, dtype=np.int64)
        means = []
        for uid in (left, right):
            one = cleaned[uid]
            mean, cover = binned(one.t, one.rh if humidity else one.temp_degc, edges, max(1800.0, 3 * one.step_s))
            means.append(np.where(cover > 0.5, mean, np.nan))
        gaps.append(means[0] - means[1])
    gap = np.concatenate(gaps)
    both = ~np.isnan(gap)
    if np.count_nonzero(both) < 6:
        return None
    quantity = "rh_offset" if humidity else "temp_offset"
    return SideBySide(
        left=(f"probe:{left}", quantity),
        right=(f"probe:{right}", quantity),
        difference=float(np.mean(gap[both])),
        sd=apart(airflow, humidity=humidity),
    )
