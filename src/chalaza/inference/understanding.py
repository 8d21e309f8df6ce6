"""What is understood of a batch: its exposure, the joint posterior, and the models that read answers off them.

Answers and charts both start from this value; nothing in it is a reading.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza.facts import Kind
from chalaza.inference.clock import ClockModel, HatchHour, Look
from chalaza.inference.count import Counts, Group
from chalaza.inference.course import Course
from chalaza.inference.exposure import HOUR_S, Exposure
from chalaza.inference.felt import Course as Running
from chalaza.inference.felt import Felt
from chalaza.inference.fit import Posterior
from chalaza.inference.grid import Floats
from chalaza.inference.rows import Rows
from chalaza.inference.vector import Origins
from chalaza.inference.water import WaterModel
from chalaza.values.beliefs import Belief, Key
from chalaza.values.estimate import Basis, Estimate

_PROBES = ("readings", "probe_checks")
#: Which sorts of records a method of making figures rests on; others rest on all there are (the one joint fit).
RESTS_ON: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "reading": ("readings",),
        "drift": ("readings",),
        "swing": ("readings",),
        "chill": _PROBES,
        "heat": _PROBES,
        "count": ("candlings", "hatches", "weighings"),
        "plan": (),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Understanding:
    """The middle of the program: everything between evidence and answers."""

    kind: Kind
    as_of: int
    course: Course
    exposure: Exposure
    felt: Felt
    posterior: Posterior
    water: WaterModel
    clock: ClockModel
    half: HatchHour
    half_gradient: Floats
    drive: Running
    age: Running
    looks: tuple[Look, ...]
    watched_h: float | None
    rows: Rows
    groups: tuple[tuple[str, Group], ...]
    counts: Counts
    who: Origins
    sources: Mapping[str, tuple[str, ...]]
    inputs: tuple[str, ...]
    checked: frozenset[Key]
    beliefs: Mapping[Key, Belief]
    base: Mapping[Key, Belief]

    @property
    def now_h(self) -> float:
        """Hours since setting."""
        return self.felt.now_h()

    def moment(self, hour: float) -> float:
        """An hour since setting as seconds since 1970."""
        return self.exposure.t0 + hour * HOUR_S

    def basis(self, method: str, *quantities: str) -> Basis:
        """The basis of a figure: its method, the records it came from, and the sources of the beliefs it rests on."""
        sources = dict.fromkeys(key for name in quantities for key in self.sources.get(name, ()))
        inputs = tuple(name for name in self.inputs if name in RESTS_ON.get(method, self.inputs))
        return Basis(method, inputs, tuple(sources))

    def moment_of(self, low: float, middle: float, high: float, basis: Basis) -> Estimate:
        """Three hours since setting as an estimate of a moment."""
        a, b, c = (self.moment(hour) for hour in (low, middle, high))
        return Estimate(b, min(a, b), max(b, c), "epoch_s", basis)
