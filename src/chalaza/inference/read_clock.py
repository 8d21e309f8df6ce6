"""Clock, read off the posterior: developmental age, the hatch window, when to stop turning."""

from chalaza.inference import clock
from chalaza.inference.clock import HATCH_HOURS, Quantiles
from chalaza.inference.count import mean_of
from chalaza.inference.felt import probe_key
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Clock
from chalaza.values.estimate import Z90, Band, Estimate


def read(u: Understanding) -> Clock:
    """The answer to "how far on are they, and when will they hatch?"."""
    basis = u.basis("clock", "hatch_hours", "rate_slope", "storage_delay", "temp_offset", "placement")
    lived, gradient = u.age.at(u.now_h)
    sd = u.posterior.spread(gradient)
    young = max(mean_of(u.counts.young), 1.0)
    half = u.half
    seen = sum(look.count for look in u.looks)
    stop, stop_sd = _stop(u)
    middle_sd = (half.sd**2 + among_h(u) ** 2) ** 0.5
    pipped = first_seen(u)
    term = u.kind.term_d
    return Clock(
        age_d=Estimate.normal(lived / 24.0, sd / 24.0, "d", basis),
        behind_h=Estimate.normal(u.now_h - lived, sd, "h", basis),
        stop_turning=u.moment_of(stop - Z90 * stop_sd, stop, stop + Z90 * stop_sd, basis),
        internal_pip=_internal(u, young),
        first_pip=_moments(u, pipped if pipped is not None else first_pip(u, young)),
        half_hatched=u.moment_of(half.hour - Z90 * middle_sd, half.hour, half.hour + Z90 * middle_sd, basis),
        last_hatch=_moments(u, last_hatch(u, young)),
        usual=Band(
            low=u.moment(term.low * 24.0), typical=u.moment(term.typical * 24.0), high=u.moment(term.high * 24.0),
            unit="epoch_s", source=term.source, status=term.status, sources=term.sources,
        ),
        day=u.now_h / 24.0,
        term_d=term.typical,
        seen=seen,
        watched=u.watched_h is not None,
        probe_share_h=_probe_share(u),
    )  # fmt: skip


def among_h(u: Understanding) -> float:
    """How far half of this many young may be out before or after half of very many would be: no check narrows that. [h]"""
    return float((1.57 / max(mean_of(u.counts.young), 1.0)) ** 0.5 * u.half.spread_h)


def first_pip(u: Understanding, young: float) -> Quantiles:
    """The first young seen through the shell, before any is seen."""
    silent = u.watched_h if u.watched_h is not None and not u.looks else None
    return clock.first_of(u.half, young, lead_h=u.clock.pip_h, lead_sd_h=u.clock.pip_sd_h, not_before=silent)


def last_hatch(u: Understanding, young: float) -> Quantiles:
    """The last young out of the shell."""
    out_h = max((look.until_h for look in u.looks if not look.pipped), default=None)
    return clock.last_of(u.half, young, not_before=out_h)


def first_seen(u: Understanding) -> Quantiles | None:
    """The first pip as it was seen (between two looks), or as the first young out tells it."""
    if not u.looks:
        return None
    first = min(u.looks, key=lambda look: look.until_h)
    if first.pipped:
        middle = 0.5 * (first.after_h + first.until_h)
        return Quantiles(first.after_h, middle, first.until_h)
    lead, spread = u.clock.pip_h, Z90 * u.clock.pip_sd_h
    middle = 0.5 * (first.after_h + first.until_h) - lead
    return Quantiles(middle - spread, middle, min(middle + spread, first.until_h))


def _stop(u: Understanding) -> tuple[float, float]:
    """The hour at which the embryos reach the age at which this kind's turning ends."""
    share = u.kind.stop_turning_d.typical / u.kind.term_d.typical
    hour, gradient = u.clock.hour_at(u.posterior.mean, u.age, share)
    return hour, u.posterior.spread(gradient)


def _internal(u: Understanding, young: float) -> Estimate:
    """The first beak in an air cell: turning later than this is what to avoid."""
    q = clock.first_of(u.half, young, lead_h=u.clock.internal_h, lead_sd_h=u.clock.pip_sd_h, not_before=None)
    return u.moment_of(q.low, q.middle, q.high, u.basis("clock", "internal_pip", "hatch_hours"))


def _moments(u: Understanding, q: Quantiles) -> Estimate:
    basis = u.basis("clock", "hatch_hours", "external_pip", "hatch_spread", "rate_slope")
    return u.moment_of(q.low, q.middle, q.high, basis)


def _probe_share(u: Understanding) -> float:
    """Hours of the 90 % half-width of the forecast that a perfect thermometer would take away."""
    keys = {probe_key(one.temp_probe) for one in u.exposure.segments}
    after = u.posterior
    for key in keys:
        after = after.narrowed(u.felt.unknowns.gradient({key: 1.0}), 1e-6)
    before = u.posterior.spread(u.half_gradient)
    return Z90 * (before - after.spread(u.half_gradient)) if HATCH_HOURS in u.felt.unknowns else 0.0
