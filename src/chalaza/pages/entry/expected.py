"""What is known of each egg before it is entered: from the assessment where there is one, else from its kind."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from chalaza import charts, facts
from chalaza.charts import AirCell
from chalaza.decide.slips import OnScale, Span
from chalaza.errors import BalanceError, ChalazaError
from chalaza.inference import on_scale
from chalaza.pages.entry.scale import Scale
from chalaza.records import answers
from chalaza.records import models as m
from chalaza.records.answers import Understood
from chalaza.values.estimate import Band

#: The tray itself with what stands in it weighs no more than this many times its eggs. Judgement.
_TRAY_TIMES = 2.0


@dataclass(frozen=True, slots=True)
class Known:
    """An egg before it is weighed, in grams: what the scale is held against, and its mass when first and last weighed."""

    on: OnScale
    first_g: float = 0.0
    last_g: float = 0.0


def understood(batch: str, now: int) -> Understood | None:
    """What is understood of a batch; None where it cannot be assessed."""
    try:
        return answers.understood(batch, now)
    except BalanceError:
        raise  # our fault, to be seen as one
    except ChalazaError:
        return None


def masses(batch: "m.Batch", eggs: Sequence["m.Egg"], now: int, leave_out: str = "") -> dict[str, Known]:
    """Each egg by uid. Weighings of the session `leave_out` do not count as earlier ones."""
    band = egg_band(batch)
    if band is None:
        return {}
    found = understood(batch.uid, now)
    hopes: Mapping[str, on_scale.OnScale] = {} if found is None else on_scale.expected(found.understanding)
    first, last = _weighed(batch.uid, leave_out)
    return {
        one.uid: _known(one, hopes.get(one.uid), band, first.get(one.uid, 0.0), last.get(one.uid, 0.0)) for one in eggs
    }


def egg_band(batch: "m.Batch") -> Band | None:
    """What an egg of this kind weighs; None for an unknown kind."""
    try:
        return facts.kind(batch.kind).egg_mass_g
    except ChalazaError:
        return None


def _known(egg: "m.Egg", hope: on_scale.OnScale | None, band: Band, first: float, last: float) -> Known:
    n = egg.count
    if hope is None:
        return Known(OnScale(expected=Span(n * band.low, n * band.high), last=last), first, last)
    start = hope.first_g if hope.weighed else 0.0
    on = OnScale(expected=Span(hope.now.low, hope.now.high), first=start, loss=hope.loss, last=last)
    return Known(on, first, last)


def _weighed(batch: str, leave_out: str) -> tuple[dict[str, float], dict[str, float]]:
    """The first and the last net mass of each egg that stood alone on the scale. [g]"""
    rows = m.Weighing.objects.filter(batch__uid=batch).order_by("at", "id")
    first: dict[str, float] = {}
    last: dict[str, float] = {}
    for eggs, gross, tare, session in rows.values_list("eggs", "gross_g", "tare_g", "session"):
        if eggs != "all" and " " not in eggs and not (leave_out and session == leave_out):
            first.setdefault(eggs, gross - tare)
            last[eggs] = gross - tare
    return first, last


def whole(known: Mapping[str, Known], uids: Sequence[str]) -> OnScale:
    """Those eggs together, in one figure. [g]"""
    ones = [known[uid].on for uid in uids if uid in known]
    middle = sum(0.5 * (one.expected.low + one.expected.high) for one in ones)
    # Errors of single eggs are added as if they went together: a scale's zero and the hygrometer are shared.
    half = sum(0.5 * (one.expected.high - one.expected.low) for one in ones)
    start = sum(one.first for one in ones) if all(one.first for one in ones) else 0.0
    loss = 1.0 - middle / start if start else 0.0
    return OnScale(expected=Span(middle - half, middle + half), first=start, loss=max(loss, 0.0))


def with_tray(one: OnScale, whole_g: OnScale, n: int) -> OnScale:
    """The same egg, with what the whole tray of `n` eggs may show: an egg's mass is never taken for it."""
    if n < 3 or not whole_g.expected.high:
        return one
    tray = Span(0.97 * whole_g.expected.low, _TRAY_TIMES * whole_g.expected.high)
    return OnScale(expected=one.expected, first=one.first, loss=one.loss, last=one.last, tray=tray)


def in_unit(one: OnScale, scale: Scale) -> OnScale:
    """The same in the unit of the scale."""
    s = scale.shown
    return OnScale(
        expected=Span(s(one.expected.low), s(one.expected.high)), first=s(one.first), loss=one.loss, last=s(one.last),
        tray=Span(s(one.tray.low), s(one.tray.high)),
    )  # fmt: skip


def cells(batch: "m.Batch", eggs: Sequence["m.Egg"], now: int) -> dict[str, AirCell]:
    """The air cell expected of each egg today; of a batch that cannot be assessed that of its kind."""
    found = understood(batch.uid, now)
    if found is not None:
        u, a = found.understanding, found.assessment
        return {one.uid: charts.air_cell_of(u, a, one.uid) for one in eggs if one.uid in u.rows.units}
    try:
        usual = charts.air_cell_usual(batch.kind, max(0.0, (now - batch.set_at) / 86_400))
    except ChalazaError:
        return {}
    return {one.uid: usual for one in eggs}
