"""The first question, composed: evidence and beliefs in, the four answers out.

`understand` makes exposure and posterior; `assess` reads the answers off them. Pure and deterministic: the moment is an
argument, and nothing after it is seen.
"""

from collections.abc import Iterable

from chalaza import facts
from chalaza.decide import advise, measure
from chalaza.errors import EvidenceError
from chalaza.inference import learning, model, read_clock, read_count, read_warmth, read_water
from chalaza.inference.published import published
from chalaza.inference.readings import clean
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment
from chalaza.values.beliefs import Beliefs
from chalaza.values.evidence import Evidence

DAY_S = 86400


def prior_beliefs(kind: str) -> Beliefs:
    """Published beliefs about one kind of bird (key or alias). Raises `EvidenceError` for no such kind."""
    return Beliefs(published(facts.kind(kind).key))


def learn(batches: Iterable[tuple[Evidence, int]], kind: str, *, as_of: int, without: str | None = None) -> Beliefs:
    """Beliefs about the next batch of `kind` from finished ones: each with the moment (seconds UTC) its records end.

    Every batch is assessed without its own lesson, so their order does not matter; the batch `without` (a uid) teaches
    nothing. What lasts (probes, places, parents) goes over to the next, and no more of it than batches are alike.
    """
    bird = facts.kind(kind).key
    lessons = [
        learning.lesson(
            understand(prior_beliefs(one.batch.kind), one, end), uid=one.batch.uid, of=one.batch.uid, at=end
        )
        for one, end in batches
    ]
    return learning.fold(lessons, published(bird), as_of=as_of, without=without)


def understand(beliefs: Beliefs, evidence: Evidence, now: int) -> Understanding:
    """Exposure and joint posterior of a batch as of `now` (seconds UTC). Raises `EvidenceError` for unusable evidence."""
    batch, setting = evidence.batch, evidence.setting
    if now < batch.set_at:
        raise EvidenceError("the moment asked for lies before the eggs were set: give a later one")
    if not evidence.stays:
        raise EvidenceError("no stay says which machine the eggs are in: add a row to stays")
    eggs = tuple(one for one in evidence.eggs if one.count > 0)
    if not eggs:
        raise EvidenceError("no eggs: add them one by one or as a counted group")
    kind = facts.kind(batch.kind)
    rows = {**published(kind.key), **beliefs.rows}
    cleaned = {uid: clean(one.window(batch.set_at - DAY_S, now + 1)) for uid, one in setting.series.items()}
    return model.understanding(
        batch=batch, place=setting.place, machines=setting.machines, probes=setting.probes, mounts=setting.mounts,
        checks=setting.checks, events=(*setting.events, *evidence.events), stays=evidence.stays, lots=evidence.lots,
        eggs=eggs, weighings=evidence.weighings, marks=evidence.air_cells, candlings=evidence.candlings,
        hatches=evidence.hatches, breakouts=evidence.breakouts, cleaned=cleaned, beliefs=rows,
        correlations=beliefs.correlations, kind=kind, now=now,
    )  # fmt: skip


def assess(beliefs: Beliefs, evidence: Evidence, now: int) -> Assessment:
    """The four answers of a running batch as of `now` (seconds UTC), with advice and what to measure next.

    Raises `EvidenceError` when the evidence cannot be assessed; the text says what to add.
    """
    return read(understand(beliefs, evidence, now), evidence)


def read(u: Understanding, evidence: Evidence) -> Assessment:
    """The answers, read off what is understood."""
    batch = evidence.batch
    warmth, water, clock = read_warmth.read(u), read_water.read(u), read_clock.read(u)
    count = read_count.read(u, evidence.candlings, batch.wanted_young)
    over = u.as_of > clock.last_hatch.high
    offers = () if over else measure.measure_next(u, dict(u.beliefs), last_look_d=count.last_look_d)
    advice = advise.advise(
        warmth, water, clock, count, u.kind, now=u.as_of, set_at=batch.set_at,
        turning_stopped=advise.turning_stopped(evidence.events, u.as_of),
    )  # fmt: skip
    return Assessment(
        batch=batch.uid, name=batch.name, kind=u.kind.key, kind_name=u.kind.name, zone=batch.zone, set_at=batch.set_at,
        as_of=u.as_of, warmth=warmth, water=water, clock=clock, count=count, advice=advice, measure_next=offers,
    )  # fmt: skip
