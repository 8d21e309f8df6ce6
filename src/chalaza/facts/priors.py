"""What is believed before a batch has shown anything: one distribution for each quantity, kind and condition.

Offsets are true minus reading everywhere. A row for the kind itself goes before one for its group, that before one for
all kinds. Turning a printed figure into a distribution is judgement in every row; `status` is that of the figure.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import exp, log, pi, sqrt
from types import MappingProxyType

from chalaza.errors import TableError
from chalaza.facts.loader import Row, known, members, table
from chalaza.facts.schema import SHAPES
from chalaza.values.estimate import Z90

_FILE = "priors.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """One belief. `p` holds the parameters of `shape` in the order of `schema.SHAPES`, in `unit`."""

    quantity: str
    condition: str
    shape: str
    p: tuple[float, ...]
    unit: str
    source: str
    sources: tuple[str, ...]
    status: str
    note: str
    level: str
    table_sd: float | None = None

    @property
    def mean(self) -> float:
        """Mean, in `unit`; of a band what is typical. Raises `TableError` for a dirichlet (see `shares`)."""
        match self.shape, self.p:
            case ("normal", (mean, _)) | ("student_t", (mean, _, _)) | ("fixed", (mean,)) | ("band", (mean, _, _)):
                return mean
            case "lognormal", (median, sigma):
                return median * exp(sigma * sigma / 2)
            case "beta", (a, b):
                return a / (a + b)
            case "halfnormal", (scale,):
                return scale * sqrt(2 / pi)
            case "uniform", (low, high):
                return (low + high) / 2
            case _:
                raise self._cannot("mean")

    @property
    def sd(self) -> float:
        """Standard deviation, in `unit`. Raises `TableError` for a band (a target) and a dirichlet."""
        match self.shape, self.p:
            case "normal", (_, sd):
                return sd
            case "student_t", (_, scale, freedom) if freedom > 2:
                return scale * sqrt(freedom / (freedom - 2))
            case "fixed", _:
                return 0.0
            case "lognormal", (_, sigma):
                return self.mean * sqrt(exp(sigma * sigma) - 1)
            case "beta", (a, b):
                return sqrt(a * b / (a + b + 1)) / (a + b)
            case "halfnormal", (scale,):
                return scale * sqrt(1 - 2 / pi)
            case "uniform", (low, high):
                return (high - low) / sqrt(12)
            case _:
                raise self._cannot("sd")

    @property
    def gaussian_sd(self) -> float:
        """The sd a Gaussian core uses instead: for a student_t the narrower one of the table, otherwise `sd`."""
        return self.sd if self.table_sd is None else self.table_sd

    @property
    def log_mean(self) -> float:
        """Mean of the logarithm of a lognormal. Raises `TableError` for other shapes."""
        if self.shape != "lognormal":
            raise self._cannot("log_mean")
        return log(self.p[0])

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm of a lognormal. Raises `TableError` for other shapes."""
        if self.shape != "lognormal":
            raise self._cannot("log_sd")
        return self.p[1]

    @property
    def shares(self) -> tuple[float, ...]:
        """Mean shares of a dirichlet, in the order live, unsure, clear, dead. Raises `TableError` for other shapes."""
        if self.shape != "dirichlet":
            raise self._cannot("shares")
        return tuple(each / sum(self.p) for each in self.p)

    @property
    def interval90(self) -> tuple[float, float]:
        """The 5 and 95 % points, in `unit`; of a band its edges. Raises `TableError` for a dirichlet."""
        match self.shape, self.p:
            case "normal", (mean, sd):
                return mean - Z90 * sd, mean + Z90 * sd
            case "lognormal", (median, sigma):
                return median * exp(-Z90 * sigma), median * exp(Z90 * sigma)
            case "fixed", (value,):
                return value, value
            case "band", (_, low, high):
                return low, high
            case "uniform", (low, high):
                return low + 0.05 * (high - low), high - 0.05 * (high - low)
            case (("beta" | "student_t" | "halfnormal"), _):
                return self._quantile(0.05), self._quantile(0.95)
            case _:
                raise self._cannot("interval90")

    def _quantile(self, share: float) -> float:
        from scipy import special  # here, because the facts are read without it

        match self.shape, self.p:
            case "beta", (a, b):
                return float(special.betaincinv(a, b, share))
            case "student_t", (location, scale, freedom):
                return location + scale * float(special.stdtrit(freedom, share))
            case "halfnormal", (scale,):
                return scale * sqrt(2) * float(special.erfinv(share))
            case _:
                raise self._cannot("quantile")

    def _cannot(self, what: str) -> TableError:
        return TableError(_FILE, None, f"a {self.shape} has no {what}: {self.quantity} {self.condition}".rstrip())


def prior(quantity: str, kind: str, condition: str = "") -> Prior:
    """The belief about `quantity` for `kind` (a key) under `condition` (a short key; "" where there is none).

    Raises `TableError` naming what is allowed.
    """
    found = _by_quantity()
    if (quantity, condition, kind) in found:
        return found[quantity, condition, kind]
    conditions = sorted({key[1] for key in found if key[0] == quantity})
    if not conditions:
        raise TableError(_FILE, None, f"no quantity {quantity!r}; allowed: {', '.join(quantities())}")
    if condition not in conditions:
        allowed = ", ".join(each or "none" for each in conditions)
        raise TableError(_FILE, None, f"{quantity!r} has no condition {condition!r}; allowed: {allowed}")
    raise TableError(_FILE, None, f"no kind {kind!r}; allowed: {', '.join(sorted(known().kinds))}")


def quantities() -> tuple[str, ...]:
    """The quantities that have a belief, in the order of the table."""
    return tuple(dict.fromkeys(row["quantity"] for row in table("priors")))


def conditions(quantity: str) -> tuple[str, ...]:
    """The conditions of `quantity`, in the order of the table; ("",) where it has none."""
    return tuple(dict.fromkeys(row["condition"] for row in table("priors") if row["quantity"] == quantity))


@cache
def _by_quantity() -> Mapping[tuple[str, str, str], Prior]:
    return MappingProxyType(expand(table("priors"), known().kinds))


def expand(rows: tuple[Row, ...], kinds: frozenset[str]) -> dict[tuple[str, str, str], Prior]:
    """(quantity, condition, kind) -> belief, groups expanded and the most particular row taken.

    Raises `TableError` if two rows are equally particular or a kind has no row.
    """
    best: dict[tuple[str, str, str], tuple[int, Prior]] = {}
    for number, row in enumerate(rows, start=2):
        belief = read(number, row)
        for kind, rank in members(row["subject"]).items():
            key = (belief.quantity, belief.condition, kind)
            if key in best and best[key][0] == rank:
                raise TableError(_FILE, number, f"two rows for {kind!r}: {belief.quantity} {belief.condition}".rstrip())
            if key not in best or rank < best[key][0]:
                best[key] = (rank, belief)
    for quantity, condition in dict.fromkeys(key[:2] for key in best):
        for kind in sorted(kinds):
            if (quantity, condition, kind) not in best:
                raise TableError(_FILE, None, f"no row of {quantity} {condition}".rstrip() + f" for kind {kind!r}")
    return {key: belief for key, (_, belief) in best.items()}


def read(number: int, row: Row) -> Prior:
    """One row as a `Prior`. Raises `TableError` if its parameters do not fit its shape."""
    shape = row["shape"]
    cells = [row[name] for name in ("p1", "p2", "p3", "p4")]
    p = tuple(float(cell) for cell in cells if cell)
    wanted = SHAPES[shape]
    if len(p) != len(wanted) or any(cells[len(wanted) :]):
        raise TableError(_FILE, number, f"a {shape} takes {len(wanted)} parameters ({', '.join(wanted)})")
    scales = {"normal": p[1:], "student_t": p[1:], "uniform": (), "fixed": (), "band": ()}.get(shape, p)
    if any(each <= 0 for each in scales):
        raise TableError(_FILE, number, f"a {shape} with a parameter that is not above zero")
    if shape == "uniform" and p[0] >= p[1]:
        raise TableError(_FILE, number, f"impossible span: {p[0]:g} to {p[1]:g}")
    if shape == "band" and not p[1] <= p[0] <= p[2]:
        raise TableError(_FILE, number, f"impossible span: {p[1]:g} <= {p[0]:g} <= {p[2]:g}")
    named = tuple(row["source"].split())
    return Prior(
        quantity=row["quantity"],
        condition=row["condition"],
        shape=shape,
        p=p,
        unit=row["unit"],
        source=named[0],
        sources=named,
        status=row["status"],
        note=row["note"],
        level=row["level"],
        table_sd=float(row["gaussian_sd"]) if row["gaussian_sd"] else None,
    )
