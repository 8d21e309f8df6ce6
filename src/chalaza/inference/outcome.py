"""From the joint fit to what becomes of the eggs: the hour of the hatch with the looks at it, and the exact counts."""

from collections.abc import Sequence
from math import exp, hypot

from scipy.special import ndtr

from chalaza.facts import Kind
from chalaza.inference import clock, count
from chalaza.inference.exposure import Exposure
from chalaza.inference.felt import Course as Running
from chalaza.inference.felt import Felt
from chalaza.inference.fit import Posterior
from chalaza.inference.grid import Floats
from chalaza.inference.published import Rules, plain
from chalaza.inference.rows import Rows
from chalaza.inference.vector import Origins
from chalaza.inference.water import WaterModel
from chalaza.values.beliefs import Shape

#: Three nodes that integrate a Gaussian: weight, place in standard deviations.
_GAUSS = ((1.0 / 6.0, -(3.0**0.5)), (2.0 / 3.0, 0.0), (1.0 / 6.0, 3.0**0.5))


def ticking_of(
    tied: Felt, who: Origins, listed: Rows, beliefs: Rules, kind: Kind, exposure: Exposure
) -> clock.ClockModel:
    bird = f"kind:{kind.key}"
    airflow = exposure.segments[0].airflow.value
    slope_h = beliefs[bird, "hatch_hours"].mean * beliefs[bird, "rate_slope"].mean
    delay = beliefs[bird, "storage_delay"].mean * kind.term_d.typical / 21.0
    positions = slope_h * plain(beliefs[f"air:{airflow}", "position_spread"])
    spread = hypot(plain(beliefs[bird, "hatch_spread"]), positions, delay * who.laid_spread_d / 12.0**0.5)
    external, internal = beliefs[bird, "external_pip"], beliefs[bird, "internal_pip"]
    weighed = bool(listed.loads)
    size = (60.0 / kind.egg_mass_g.typical) * (kind.term_d.typical / 21.0)
    return clock.ClockModel(
        felt=tied,
        stored_d=max(0.0, who.stored_d - 1.0),
        extra_mass_g=(listed.mean_mass_g - kind.egg_mass_g.typical) * size if weighed else 0.0,
        spread_h=spread,
        spread_log_sd=beliefs[bird, "hatch_spread"].b,
        pip_h=external.mean,
        pip_sd_h=external.sd,
        internal_h=internal.mean,
    )


def share_now(age: Running, posterior: Posterior, ticking: clock.ClockModel) -> float:
    """How far on the embryos are, as a share of what they need."""
    lived, _ = age.at(ticking.felt.now_h())
    need, _ = ticking.need(posterior.mean)
    return min(max(lived / need, 0.0), 1.0)


def hatch_of(
    ticking: clock.ClockModel,
    posterior: Posterior,
    age: Running,
    looks: tuple[clock.Look, ...],
    watched_h: float | None,
    stages: count.Stages,
    share: float,
    groups: Sequence[tuple[str, count.Group]],
) -> tuple[clock.HatchHour, Floats, Posterior]:
    """The hour of half hatched before and after the looks, and the posterior that agrees with it."""
    hour, gradient = ticking.hour_at(posterior.mean, age)
    before = clock.HatchHour(hour, posterior.spread(gradient), ticking.spread_h, ticking.spread_log_sd)
    if not looks and watched_h is None:
        return before, gradient, posterior
    first = count.assess_counts(stages, [group for _, group in groups], share, nodes=(8, 5, 3, 3))
    out = sum(group.count for _, group in groups if group.hatched)
    pipped = sum(look.count for look in looks if look.pipped)
    rest = max(count.mean_of(first.young) - out - pipped, 0.0)
    after = clock.seen(ticking, before, looks, rest, watched_h)
    return after, gradient, clock.matched(posterior, gradient, before, after)


def stages_of(beliefs: Rules, who: Origins, kind: str) -> count.Stages:
    flock, bird = f"parents:{who.parents}", f"kind:{kind}:{who.origin.value}"

    def share(quantity: str) -> count.Share:
        one = beliefs.get((flock, quantity)) or beliefs[bird, quantity]
        return (one.a, one.b) if one.shape is Shape.BETA else one.mean

    return count.Stages(
        fertility=share("fertility"),
        early=share("survival_early"),
        middle=share("survival_middle"),
        late=share("survival_late"),
    )


def counts_of(
    groups: Sequence[tuple[str, count.Group]],
    stages: count.Stages,
    posterior: Posterior,
    model: WaterModel,
    drive: Running,
    half: clock.HatchHour,
    watched_h: float | None,
    share: float,
    kind: Kind,
    beliefs: Rules,
    ticking: clock.ClockModel,
) -> count.Counts:
    """Exact counts, with late survival averaged over nodes of the loss an egg will have: batch mean and its own shell."""
    due_h = kind.loss_target.day_d * 24.0
    loss, gradient = model.mean_loss(posterior.mean, *drive.at(due_h))
    sd = hypot(posterior.spread(gradient), model.spread * loss)
    width = plain(beliefs[f"kind:{kind.key}", "loss_penalty"])
    target = kind.loss_target.typical
    factors = [(w, exp(-0.5 * ((loss + z * sd - target) / width) ** 2)) for w, z in _GAUSS]
    silence = 1.0
    if watched_h is not None and ticking.felt.now_h() - watched_h < 24.0:
        z = (watched_h - half.hour) / hypot(half.sd, half.spread_h)
        silence = max(1.0 - float(ndtr(z)), 1e-6)
    return count.assess_counts(stages, [group for _, group in groups], share, late_factors=factors, silence=silence)
