"""The one thermal model of an egg. The exposure of a log, the twin and the live alarms all step this.

The shell follows the air with the time constant tau = heat capacity / conductance; the embryo's heat, less what
evaporation takes, lifts it above the air. The centre follows the shell with a second, shorter lag. Between two moments
the air is taken to go in a straight line; then every step is exact, whatever its length. It stands for the whole egg:
an early embryo that floats under a bare shell cools faster in the first minutes (kaplan-1978).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
from scipy.linalg.lapack import dgtsv

from chalaza.errors import BalanceError, ChalazaError
from chalaza.physics import embryo
from chalaza.physics._arrays import Array, like, within
from chalaza.physics.constants import SECONDS_PER_D, VAPORISATION_J_PER_G
from chalaza.physics.egg import FRESH_DENSITY_G_PER_ML, HIGH_G, LOW_G
from chalaza.units import Number

SPECIFIC_HEAT_J_PER_G_K = 3.25  # hatchery-notes: 3.18 seen, 3.3 in use (memory); ±0.08
REFERENCE_MASS_G = 60.0

# The inside taken as a sphere of still white and yolk: blood that circulates late in the term makes both effects smaller.
INNER_CONDUCTIVITY_W_PER_M_K = 0.55  # egg-white-conductivity (memory): 0.5-0.6
_LOW_TAU_S, _HIGH_TAU_S = 1.0, 1e7
_LONGEST_S = 1e9  # of a step: thirty years


@dataclass(frozen=True, slots=True)
class Flow:
    """How the air moves past eggs: conductance of a 60 g egg and how it grows with mass, source and standing."""

    conductance_w_per_k: float
    exponent: float
    source: str
    status: str


#: Conductance from a shell to air and walls. Fan of unknown speed (0.1-0.7 m/s): a fifth more or less.
AIRFLOWS: Mapping[str, Flow] = MappingProxyType(
    {
        "fan": Flow(0.115, 0.55, "renema-2006", "memory"),
        "still": Flow(0.078, 0.62, "tazawa-1985", "memory"),
    }
)


def _mass(mass_g: npt.ArrayLike) -> Array:
    return within("mass_g", mass_g, LOW_G, HIGH_G, "g")


def _flow(airflow: str) -> Flow:
    try:
        return AIRFLOWS[airflow]
    except KeyError:
        raise ChalazaError(f"no airflow {airflow!r}; allowed: {', '.join(AIRFLOWS)}") from None


def heat_capacity(mass_g: Number, *, specific_j_per_g_k: Number | float = SPECIFIC_HEAT_J_PER_G_K) -> Number:
    """Heat an egg takes up per kelvin. [J/K] `mass_g`: 0.5 to 2500; outside raises `OutOfRange`."""
    return like(mass_g, _mass(mass_g) * within("specific_j_per_g_k", specific_j_per_g_k, 2.5, 4.2, "J/(g K)"))


def heat_conductance(mass_g: Number, airflow: str) -> Number:
    """Heat that passes between shell and surroundings per kelvin. [W/K]

    `mass_g`: 0.5 to 2500, outside raises `OutOfRange`; `airflow`: a key of `AIRFLOWS`.
    """
    flow = _flow(airflow)
    return like(mass_g, np.asarray(flow.conductance_w_per_k * (_mass(mass_g) / REFERENCE_MASS_G) ** flow.exponent))


def time_constant(mass_g: Number, airflow: str) -> Number:
    """Lag of the shell behind the air: capacity / conductance. [s]"""
    capacity, conductance = np.asarray(heat_capacity(mass_g)), np.asarray(heat_conductance(mass_g, airflow))
    return like(mass_g, capacity / conductance)


def _radius_m(mass_g: npt.ArrayLike) -> Array:
    """Radius of the sphere with an egg's volume."""
    return np.asarray(np.cbrt(0.75 / np.pi * _mass(mass_g) / FRESH_DENSITY_G_PER_ML) / 100.0)


def inner_time_constant(mass_g: Number) -> Number:
    """Lag of the centre behind the shell. [s]

    R²/(6 a), the lag at the centre of a sphere whose surface warms steadily, with diffusivity a = conductivity /
    (density * specific heat). 60 g: 10 min. Derived (heat conduction in a sphere, carslaw-jaeger-1959).
    """
    diffusivity = INNER_CONDUCTIVITY_W_PER_M_K / (FRESH_DENSITY_G_PER_ML * 1e6 * SPECIFIC_HEAT_J_PER_G_K)
    return like(mass_g, _radius_m(mass_g) ** 2 / (6.0 * diffusivity))


def centre_above_shell(heat_w: Number, mass_g: Number | float) -> Number:
    """Centre above shell at rest, from heat made evenly inside: H / (8 pi k R). [K]

    `heat_w`: 0 to 20 W; `mass_g`: 0.5 to 2500. Outside raises `OutOfRange`. 60 g and 0.127 W: 0.4 K, an upper end.
    Derived (heat conduction in a sphere, carslaw-jaeger-1959).
    """
    made = within("heat_w", heat_w, 0.0, 20.0, "W")
    return like(heat_w, made / (8.0 * np.pi * INNER_CONDUCTIVITY_W_PER_M_K * _radius_m(mass_g)))


def evaporation_heat(loss_g_per_d: Number) -> Number:
    """Heat that the water leaving an egg takes with it. [W] `loss_g_per_d`: 0 to 100; outside raises `OutOfRange`."""
    return like(
        loss_g_per_d, within("loss_g_per_d", loss_g_per_d, 0.0, 100.0, "g/d") * (VAPORISATION_J_PER_G / SECONDS_PER_D)
    )


# --- One lag --------------------------------------------------------------------------------------------------------


def _weights(step_s: Array, tau_s: Array) -> tuple[Array, Array, Array]:
    """What a lagged value keeps over a step, and what it takes from the driver at the step's two ends (sum 1)."""
    ratio = step_s / tau_s
    keep = np.exp(-ratio)
    # Mean of the decaying memory over the step; at a step of nothing it is 1.
    mean = np.divide(-np.expm1(-ratio), ratio, out=np.ones_like(ratio), where=ratio > 0.0)
    return keep, mean - keep, 1.0 - mean


def step(
    value: Number, before: Number | float, after: Number | float, *, step_s: Number | float, tau_s: Number | float
) -> Number:
    """A lagged value one step on, exact for a driver that goes straight from `before` to `after`.

    d(value)/dt = (driver - value) / tau. `step_s`: 0 or more; `tau_s`: 1 to 1e7 s. Outside raises `OutOfRange`.
    """
    length = within("step_s", step_s, 0.0, _LONGEST_S, "s")
    keep, first, last = _weights(length, within("tau_s", tau_s, _LOW_TAU_S, _HIGH_TAU_S, "s"))
    return like(value, np.asarray(keep * value + first * before + last * after))


def _run(keep: Array, right: Array) -> Array:
    """value[k] = keep[k-1] * value[k-1] + right[k], value[0] = right[0], solved at once.

    The diagonal is the larger, so the solver never exchanges rows and does exactly the sums of the loop.
    """
    if right.size < 2:
        return right
    _, _, _, values, info = dgtsv(-keep, np.ones_like(right), np.zeros_like(keep), right, overwrite_b=True)
    if info != 0:
        raise BalanceError(f"the lag could not be solved: LAPACK says {info}")
    return np.asarray(values, dtype=np.float64).reshape(-1)


def _steps(time_s: npt.ArrayLike) -> Array:
    return within("step_s", np.diff(np.asarray(time_s, dtype=np.float64)), 0.0, _LONGEST_S, "s")


def lagged(time_s: npt.ArrayLike, temp_degc: npt.ArrayLike, tau_s: npt.ArrayLike, start: float | None = None) -> Array:
    """The whole course of a lagged value: `step` from moment to moment, as one bidiagonal solve. (n,)

    `time_s`: (n,), never falling; `temp_degc`: (n,) the driver, straight between moments; `tau_s`: one, or (n,) where
    the k-th holds for the step that ends at moment k; `start`: the value at the first moment (the driver's, if None).
    NaN, a step back in time (`step_s`) or a lag outside 1 to 1e7 s raise `OutOfRange` with the position.
    """
    driver = within("temp_degc", temp_degc, -1e6, 1e6, "°C")
    tau = within("tau_s", tau_s, _LOW_TAU_S, _HIGH_TAU_S, "s")
    if driver.size == 0:
        return np.empty(0)
    keep, first, last = _weights(_steps(time_s), tau[1:] if tau.ndim else tau)
    right = np.empty_like(driver)
    right[0] = driver[0] if start is None else within("start", start, -1e6, 1e6, "°C")
    right[1:] = first * driver[:-1] + last * driver[1:]
    return _run(keep, right)


def cooling(time_s: Number, start_degc: Number | float, around_degc: Number | float, tau_s: Number | float) -> Number:
    """Temperature of a body left in constant surroundings for a time. [°C]

    `time_s`: 0 or more; `tau_s`: 1 to 1e7 s; temperatures -40 to 60. Outside raises `OutOfRange`. Heat made inside
    counts as warmer surroundings: around + heat / conductance. Newton's law, seen to hold for eggs: tazawa-1985.
    """
    t, tau = within("time_s", time_s, 0.0, _LONGEST_S, "s"), within("tau_s", tau_s, _LOW_TAU_S, _HIGH_TAU_S, "s")
    start, around = (
        within("start_degc", start_degc, -40.0, 60.0, "°C"),
        within("around_degc", around_degc, -40.0, 60.0, "°C"),
    )
    return like(time_s, np.asarray(around + (start - around) * np.exp(-t / tau)))


def time_to(
    level_degc: Number, start_degc: Number | float, around_degc: Number | float, tau_s: Number | float
) -> Number:
    """Inverse of `cooling`: when a body reaches a level. [s]

    A level that is not between start (included) and surroundings (excluded) is never reached: raises `OutOfRange`
    (`share_left`).
    """
    level, start = (
        within("level_degc", level_degc, -40.0, 60.0, "°C"),
        within("start_degc", start_degc, -40.0, 60.0, "°C"),
    )
    around, tau = (
        within("around_degc", around_degc, -40.0, 60.0, "°C"),
        within("tau_s", tau_s, _LOW_TAU_S, _HIGH_TAU_S, "s"),
    )
    gap = np.asarray(start - around)
    left = np.divide(level - around, gap, out=np.ones(np.broadcast_shapes(level.shape, gap.shape)), where=gap != 0.0)
    return like(level_degc, np.asarray(-tau * np.log(within("share_left", left, 1e-12, 1.0, "1"))))


# --- The egg: two lags ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """What heat knows of one egg: `conductance_w_per_k` to its surroundings, capacity, and its inside."""

    mass_g: float
    capacity_j_per_k: float
    conductance_w_per_k: float
    inner_tau_s: float

    @property
    def tau_s(self) -> float:
        """Lag of the shell behind the air. [s]"""
        return self.capacity_j_per_k / self.conductance_w_per_k


def body(mass_g: float, airflow: str, *, conductance_factor: float = 1.0) -> Body:
    """The body of an egg of `mass_g` in an `airflow`; `conductance_factor`: a belief about this machine, 0.2 to 5."""
    factor = float(within("conductance_factor", conductance_factor, 0.2, 5.0, "1"))
    return Body(
        mass_g=mass_g,
        capacity_j_per_k=heat_capacity(mass_g),
        conductance_w_per_k=factor * heat_conductance(mass_g, airflow),
        inner_tau_s=inner_time_constant(mass_g),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Warmth:
    """State of one egg: temperature of shell and centre. [°C]"""

    shell_degc: float
    centre_degc: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What acts on an egg at a moment: air around it, the embryo's heat and the heat of evaporation."""

    air_degc: float
    heat_w: float = 0.0
    evaporation_w: float = 0.0


def rest(egg: Body, drive: Drive) -> Warmth:
    """The state an egg settles to under a constant drive."""
    shell = drive.air_degc + embryo.shell_above_air(drive.heat_w, drive.evaporation_w, egg.conductance_w_per_k)
    return Warmth(shell_degc=shell, centre_degc=shell + centre_above_shell(drive.heat_w, egg.mass_g))


def _centre_step(
    egg: Body, step_s: Array, shell: Array, targets: tuple[Array, Array], rises: tuple[Array, Array]
) -> tuple[Array, Array]:
    """What the centre keeps over a step and what it takes up, exact for two lags behind a straight driver.

    `shell`: at the step's beginning; `targets`: where the shell is drawn to, at both ends; `rises`: centre over shell.
    The shell is a straight line, one lag behind its target, and a decaying rest; the centre follows each by itself.
    """
    outer, inner = egg.tau_s, egg.inner_tau_s
    pace = np.divide(targets[1] - targets[0], step_s, out=np.zeros_like(step_s), where=step_s > 0.0)
    line = targets[0] - outer * pace, targets[1] - outer * pace
    keep, first, last = _weights(step_s, np.asarray(inner))
    # (exp(-h/outer) - exp(-h/inner)) * outer/(outer - inner), in a form that holds where the two lags are equal.
    gap = step_s * abs(1.0 / inner - 1.0 / outer)
    share = np.divide(-np.expm1(-gap), gap, out=np.ones_like(gap), where=gap > 0.0)
    rest_share = np.exp(-step_s / max(outer, inner)) * (step_s / inner) * share
    taken = first * (line[0] + rises[0]) + last * (line[1] + rises[1]) + rest_share * (shell - line[0])
    return keep, taken


def advance(egg: Body, now: Warmth, before: Drive, after: Drive, step_s: float) -> Warmth:
    """State one step on, exact while the drive goes straight from `before` to `after`. `step_s`: 0 or more."""
    ends = rest(egg, before), rest(egg, after)
    length = within("step_s", step_s, 0.0, _LONGEST_S, "s")
    shell = step(now.shell_degc, ends[0].shell_degc, ends[1].shell_degc, step_s=step_s, tau_s=egg.tau_s)
    targets = np.asarray(ends[0].shell_degc), np.asarray(ends[1].shell_degc)
    rises = np.asarray(ends[0].centre_degc) - targets[0], np.asarray(ends[1].centre_degc) - targets[1]
    keep, taken = _centre_step(egg, length, np.asarray(now.shell_degc), targets, rises)
    return Warmth(shell_degc=shell, centre_degc=float(keep * now.centre_degc + taken))


def course(
    egg: Body,
    time_s: npt.ArrayLike,
    air_degc: npt.ArrayLike,
    *,
    heat_w: npt.ArrayLike = 0.0,
    evaporation_w: npt.ArrayLike = 0.0,
    start: Warmth | None = None,
) -> tuple[Array, Array]:
    """Shell and centre at each moment of a log: `advance` from moment to moment, as two solves. (n,), (n,) [°C]

    `time_s`: (n,) never falling; `air_degc`: (n,); `heat_w`, `evaporation_w`: one or (n,); `start`: the state at the
    first moment (at rest, if None). Raises `OutOfRange` as `lagged`.
    """
    air = np.asarray(air_degc, dtype=np.float64)
    made = np.broadcast_to(np.asarray(heat_w, dtype=np.float64), air.shape)
    spent = np.broadcast_to(np.asarray(evaporation_w, dtype=np.float64), air.shape)
    target = air + embryo.shell_above_air(made, spent, egg.conductance_w_per_k)
    rise = np.asarray(centre_above_shell(made, egg.mass_g))
    shell = lagged(time_s, target, egg.tau_s, None if start is None else start.shell_degc)
    keep, taken = _centre_step(egg, _steps(time_s), shell[:-1], (target[:-1], target[1:]), (rise[:-1], rise[1:]))
    first = shell[:1] + rise[:1] if start is None else np.array([start.centre_degc])
    return shell, _run(keep, np.concatenate((first[: shell.size], taken)))
