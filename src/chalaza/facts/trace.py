"""Where every figure about a kind comes from: what `chalaza facts` shows."""

from dataclasses import dataclass

from chalaza.facts.kinds import BANDS, kind
from chalaza.facts.loader import members, sources, table
from chalaza.facts.priors import Prior, conditions, prior, quantities


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """One figure: quantity, value as text, unit, citation and how far it was checked."""

    quantity: str
    value: str
    unit: str
    source: str
    status: str


def trace(name: str) -> list[Traced]:
    """Every figure held about a kind (key or other name), with citation and status, values first and beliefs last.

    Raises `EvidenceError` for no such kind.
    """
    key = kind(name).key
    values = [row for row in table("kind_values") if row["kind"] == key]
    rows = [
        _row(row["quantity"], _span(row["low"], row["typical"], row["high"]), row["unit"], row["source"], row["status"])
        for row in sorted(values, key=lambda row: _order(row["quantity"]))
    ]
    for row in table("loss_targets"):
        if row["kind"] == key:
            value = f"{_span(row['low'], row['typical'], row['high'])} at day {row['day_d']}"
            rows.append(_row("loss_target", value, row["unit"], row["source"], row["status"]))
    for row in table("loss_literature"):
        if key in members(row["subject"]):
            day = f" at day {row['day_d']}" if row["day_d"] else " over the whole term"
            value = f"{_span(row['low'], row['best'], row['high'])}{day}"
            rows.append(_row("loss_literature", value, row["unit"], row["source"], row["status"]))
    for quantity in quantities():
        for condition in conditions(quantity):
            belief = prior(quantity, key, condition)
            label = f"{quantity} ({condition})" if condition else quantity
            rows.append(_row(label, _belief(belief), belief.unit, " ".join(belief.sources), belief.status))
    return rows


def _order(quantity: str) -> int:
    known = list(BANDS.values())
    return known.index(quantity) if quantity in known else len(known)


def _row(quantity: str, value: str, unit: str, keys: str, status: str) -> Traced:
    cited = "; ".join(sources()[key].cite for key in keys.split())
    return Traced(quantity=quantity, value=value, unit="" if unit == "1" else unit, source=cited, status=status)


def _span(low: str, middle: str, high: str) -> str:
    if low and high and low != high:
        return f"{middle} ({low} to {high})".strip()
    return middle or (f"at most {high}" if high else f"at least {low}")


def _belief(belief: Prior) -> str:
    if belief.shape == "dirichlet":
        return ", ".join(f"{share:.3g}" for share in belief.shares)
    low, high = belief.interval90
    middle = belief.p[0] if belief.shape == "lognormal" else belief.mean
    return f"{middle:.4g}" if low == high else f"{middle:.4g} ({low:.4g} to {high:.4g})"
