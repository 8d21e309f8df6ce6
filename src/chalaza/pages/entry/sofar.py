"""What a session says so far: the figure it is about, what the rest would add, and which egg stands out."""

from collections.abc import Mapping
from dataclasses import dataclass

from chalaza.inference import on_scale
from chalaza.pages.entry import expected
from chalaza.pages.entry.session import is_name
from chalaza.records import models as m
from chalaza.records.answers import Understood
from chalaza.records.codec import built
from chalaza.values.answers import EggLoss
from chalaza.values.estimate import Estimate
from chalaza.values.evidence import Finding
from chalaza.words import numbers
from chalaza.words.events import FINDINGS
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

_FROM = Plural(mark("from {n} egg"), mark("from {n} eggs"), by="n")
_FIRST = Plural(
    mark("by the kind alone: {n} egg is weighed for the first time, and a second weighing tells what it lost"),
    mark("by the kind alone: {n} eggs are weighed for the first time, and a second weighing tells what they lost"),
    by="n",
)
_REST = Plural(
    mark("The other egg would narrow it from {before} to {after}."),
    mark("The other {n} would narrow it from {before} to {after}."),
    by="n",
)
_FAST = mark("{egg} lost {loss}: look for a hairline crack.")
_SLOW = mark("{egg} lost {loss}, less than its mates: weigh it again.")
_UNKNOWN = mark("Not to be told yet: the batch has no machine, or its records do not fit together.")
_FINDING_COUNT: Mapping[Finding, Plural] = {
    Finding.LIVE: Plural(mark("{n} alive"), mark("{n} alive"), by="n"),
    Finding.UNSURE: Plural(mark("{n} unsure"), mark("{n} unsure"), by="n"),
    Finding.DEAD: Plural(mark("{n} stopped"), mark("{n} stopped"), by="n"),
    Finding.CLEAR: Plural(mark("{n} clear"), mark("{n} clear"), by="n"),
}
#: Less than this share off the range is not worth a sentence.
_WORTH = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class SoFar:
    """A figure with its name and what it rests on, then sentences. `figure` is empty where there is none."""

    name: str = ""
    figure: str = ""
    of: str = ""
    sentences: tuple[str, ...] = ()


def weighed(voice: Voice, batch: "m.Batch", session: str, now: int) -> SoFar:
    """The loss so far by the weighings of a session; nothing before its first."""
    rows = list(m.Weighing.objects.filter(batch=batch, session=session)) if is_name(session) else []
    if not rows:
        return SoFar()
    found = expected.understood(batch.uid, now)
    if found is None:
        return SoFar(sentences=(voice.say(_UNKNOWN),))
    done = {one.eggs for one in rows}
    water, n = found.assessment.water, len(done)
    of = _FIRST if water.weighings < 2 and not water.marks else _FROM
    sentences = [*_rest(voice, found, done, rows[0]), *(_odd(voice, one) for one in water.eggs if one.odd)]
    return SoFar(
        name=voice.say(mark("Lost so far")), figure=numbers.quantity(voice, water.loss_now, "loss"),
        of=voice.say(of, {"n": str(n)}, n), sentences=tuple(sentences),
    )  # fmt: skip


def _rest(voice: Voice, found: Understood, done: set[str], row: "m.Weighing") -> list[str]:
    u = found.understanding
    rest = [uid for uid, unit in u.rows.units.items() if uid not in done and unit.deviates]
    if not rest:
        return []
    before, after = on_scale.narrowed(u, rest, session=row.session, resolution_g=row.resolution_g)
    said = [numbers.half_width(voice, each, "loss") for each in (before, after)]
    if after > (1.0 - _WORTH) * before or said[0] == said[1]:
        return []
    return [voice.say(_REST, {"n": str(len(rest)), "before": said[0], "after": said[1]}, len(rest))]


def _odd(voice: Voice, egg: EggLoss) -> str:
    loss = numbers.quantity(voice, egg.loss_now.value, "loss")
    return voice.say(_FAST if egg.robust_z > 0 else _SLOW, {"egg": egg.label, "loss": loss})


def candled(voice: Voice, batch: "m.Batch", session: str, now: int) -> SoFar:
    """Findings of a look so far, and the young expected by it; nothing before its first mark."""
    rows = list(m.Candling.objects.filter(egg__batch=batch, uid__startswith=f"{session}-")) if is_name(session) else []
    if not rows:
        return SoFar()
    counts = {one: sum(row.count for row in rows if row.finding == one) for one in FINDINGS}
    said = [voice.say(_FINDING_COUNT[one], {"n": str(n)}, n) for one, n in counts.items() if n]
    listed = voice.say(mark("So far: {findings}."), {"findings": ", ".join(said)})
    found = expected.understood(batch.uid, now)
    if found is None:
        return SoFar(sentences=(listed, voice.say(_UNKNOWN)))
    young = found.assessment.count.expected_young
    before = _young_before(batch.uid, min(one.at for one in rows))
    return SoFar(
        name=voice.say(mark("Young expected")), figure=numbers.quantity(voice, young, "count"),
        of=voice.say(mark("it was {before} before"), {"before": _range(voice, before)}) if before is not None else "",
        sentences=(listed,),
    )  # fmt: skip


def _range(voice: Voice, one: Estimate) -> str:
    return numbers.band(voice, one.low, one.high, "count")


def _young_before(batch: str, at: int) -> Estimate | None:
    """What was forecast last before this look."""
    kept = m.Forecast.objects.filter(batch=batch, as_of__lt=at).order_by("-as_of", "-id").first()
    return built(Estimate, kept.figures["expected_young"]) if kept is not None else None
