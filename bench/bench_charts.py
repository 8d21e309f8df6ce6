"""What a drawing costs: definition and SVG of each chart against the compiler's own call for a trivial chart.

    PYTHONPATH=src python bench bench_charts

The batch is invented: 24 eggs on their sixteenth day, a reading a minute, three weighings. The peer is a bare call of
the compiler for two points and a line, in the same process and warm; it has no panels, words or range. Bounds: five such
calls for a chart, 100 ms for a fragment of a page (a window with its readings), and 10 ms for what is drawn by hand.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import vl_convert

from chalaza.assess import prior_beliefs, read, understand
from chalaza.charts import (
    CLOSE,
    air_cell,
    calendar,
    charts,
    clock,
    count,
    draw,
    reach,
    tally,
    term,
    warmth,
    water,
    window_of,
)
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment
from chalaza.values.evidence import (
    Airflow,
    Batch,
    Egg,
    Evidence,
    Machine,
    Mount,
    Place,
    Probe,
    ProbeSort,
    Series,
    Setting,
    Stay,
    Weighing,
)
from row import Row, best

DAY_S, SET_AT, DAYS = 86_400, 1_772_352_000, 16
#: Of one drawing made by hand, and of ten.
TIMES_TRIVIAL, FRAGMENT_MS, BY_HAND_MS = 5.0, 100.0, (10.0, 30.0)

TRIVIAL: dict[str, Any] = {
    "data": {"values": [{"x": 0, "y": 0}, {"x": 1, "y": 1}]},
    "mark": "line",
    "encoding": {"x": {"field": "x", "type": "quantitative"}, "y": {"field": "y", "type": "quantitative"}},
}


def _batch() -> Evidence:
    rng = np.random.default_rng(3)
    t = SET_AT + np.arange(0, DAYS * DAY_S, 60, dtype=np.int64)
    temp = (37.5 + 0.15 * np.sin(t / DAY_S * 6.28) + rng.normal(0.0, 0.06, len(t))).astype(np.float32)
    temp[(t > SET_AT + 9 * DAY_S) & (t < SET_AT + 9.2 * DAY_S)] = 32.0
    series = Series(t, temp, (0.44 + rng.normal(0.0, 0.01, len(t))).astype(np.float32))
    setting = Setting(
        place=Place(uid="p", name="Shed"),
        machines=(Machine(uid="m", name="Box", airflow=Airflow.FAN, volume_l=40.0),),
        probes=(Probe(uid="d", name="Display", sort=ProbeSort.DISPLAY),),
        mounts=(Mount(uid="o", probe="d", machine="m", start=SET_AT - DAY_S),),
        series={"d": series},
    )
    eggs = tuple(Egg(uid=f"e{i}", label=f"A{i}", length_mm=57.0, breadth_mm=43.0) for i in range(24))
    masses = rng.normal(60.0, 4.0, 24)
    weighings = tuple(
        Weighing(uid=f"w{day}-{i}", at=SET_AT + day * DAY_S, eggs=f"e{i}", session=f"d{day}",
                 gross_g=round(float(mass) * (1.0 - 0.0065 * day), 1))
        for day in (0, 7, 14)
        for i, mass in enumerate(masses)
    )  # fmt: skip
    batch = Batch(uid="b", name="Bench", kind="chicken", set_at=SET_AT, wanted_young=18)
    stay = Stay(uid="s", batch="b", machine="m", start=SET_AT)
    return Evidence(setting=setting, batch=batch, stays=(stay,), eggs=eggs, weighings=weighings)


def rows() -> list[Row]:
    """A row a drawing: times the bare call, or milliseconds for what is drawn by hand."""
    evidence = _batch()
    u = understand(prior_beliefs("chicken"), evidence, SET_AT + DAYS * DAY_S)
    a = read(u, evidence)
    peer = best(lambda: vl_convert.vegalite_to_svg(TRIVIAL))
    found = []
    for module in (warmth, water, clock, count):
        name = module.__name__.rsplit(".", 1)[1]

        def drawn(module: Any = module) -> str:
            draw.kept.clear()
            return draw.to_svg(module.definition(u, a))

        taken, told = best(drawn), best(lambda module=module: module.definition(u, a))  # type: ignore[misc]
        found.append(
            Row(
                f"{name}, {1e3 * taken:.0f} ms of it definition {1e3 * told:.0f}",
                taken / peer,
                TIMES_TRIVIAL,
                "x bare call",
            )
        )
    found += [Row(f"{name}, three days", taken, FRAGMENT_MS, "ms") for name, taken in _close(u, a, evidence)]
    rows_ = term.parts(evidence)
    by_hands: dict[str, Callable[[], object]] = {
        "tally": lambda: tally.drawing(u, a),
        "air cell": lambda: air_cell(u, a, "e1"),
        "term": lambda: term.term(a, rows_).svg(),
        "calendar of ten": lambda: calendar.calendar([calendar.strip(a)] * 10, u.as_of),
        "reach": lambda: reach.reach(a.water.loss_at_lockdown, a.water.wanted),
    }
    for name, by_hand in by_hands.items():
        found.append(Row(f"{name}, by hand", 1e3 * best(by_hand), BY_HAND_MS[name == "calendar of ten"], "ms"))
    return found


def _close(u: Understanding, a: Assessment, evidence: Evidence) -> list[tuple[str, float]]:
    """What a page asks for when a window is changed: label, table and drawing of one chart, with its readings. [ms]"""
    found = []
    for name in CLOSE:

        def fragment(name: str = name) -> str:
            draw.kept.clear()
            window, readings = window_of(u, "three_days"), evidence.setting.series
            one = charts(u, a, window=window, readings=readings, only=(name,))[name]
            return one.label + str(one.table.text()) + one.svg()

        found.append((name, 1e3 * best(fragment)))
    return found


if __name__ == "__main__":
    for row in rows():
        print(f"{row.name:<44} {row.ratio:>8.2f} {row.unit:<12} {row.bound:>6.3g}  {'ok' if row.ok else 'TOO SLOW'}")
