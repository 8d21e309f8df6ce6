"""Opened eggs that nobody can tell apart: how many ended at each stage."""

from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza.pages import links
from chalaza.pages.entry import common, plain
from chalaza.pages.entry.common import EntryForm
from chalaza.pages.entry.opened import CAUTIONS
from chalaza.pages.forms import Whole, Words
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.values.evidence import DeathStage, HatchStage
from chalaza.words.events import DEATH_STAGES
from chalaza.words.language import Plural, mark

_TITLE = mark("Opened eggs, counted")
_LEAD = Plural(mark("{n} egg did not hatch."), mark("{n} eggs did not hatch."), by="n")
_NONE = mark("Every egg hatched or was opened.")
_NOTHING = mark("Write at least one number.")
_MANY = mark("{given} are more than the {n} that did not hatch.")


class CountedForm(EntryForm):
    """A number for each stage."""

    note = Words(lines=3, required=False, label=mark("Note"))

    def __init__(self, *args: Any, left: int, **extra: Any) -> None:
        self.left = left
        super().__init__(*args, **extra)
        for one, word in DEATH_STAGES.items():
            self.fields[one.value] = Whole(q.EGGS, required=False, label=word)

    @property
    def counts(self) -> dict[DeathStage, int]:
        """The stages of which any egg was found."""
        found = {one: int(self.cleaned_data.get(one.value) or 0) for one in DEATH_STAGES}
        return {one: n for one, n in found.items() if n}

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        total = sum(self.counts.values())
        if not total and not self.errors:
            self.add_error(None, _NOTHING)
        if total > self.left:
            self.add_error(None, self.voice.say(_MANY, {"given": str(total), "n": str(self.left)}))
        return said


def _left(batch: "m.Batch") -> int:
    """Eggs that neither hatched nor were opened before."""
    total = sum(m.Egg.objects.filter(batch=batch).values_list("count", flat=True))
    hatched = sum(m.Hatch.objects.filter(batch=batch, stage=HatchStage.OUT.value).values_list("count", flat=True))
    return max(0, total - hatched - sum(m.Breakout.objects.filter(batch=batch).values_list("count", flat=True)))


@require_http_methods(["GET", "HEAD", "POST"])
def counted(request: Asked, uid: str) -> HttpResponse:
    """The form of opened eggs by number."""
    batch = common.batch_or_404(uid)
    left = _left(batch)

    def store(form: CountedForm) -> "m.Act | None":
        note = form.cleaned_data.get("note") or ""
        rows = [
            m.Breakout(uid=f"{form.act_uid}-{stage.value}", batch_id=batch.uid, at=form.at_done, stage=stage.value, count=n,
                       note=note)
            for stage, n in form.counts.items()
        ]  # fmt: skip
        return common.do(request, form, "open", save=rows, subject=batch.name)

    def page(form: CountedForm) -> plain.Page:
        voice = form.voice
        return plain.Page(
            head=common.head(voice, batch, _TITLE, request.now), form=form,
            lead=(voice.say(_LEAD, {"n": str(left)}, left) if left else voice.say(_NONE),),
            pairs=tuple(form[one.value] for one in DEATH_STAGES), fields=(form["note"], form["at"]),
            key=voice.say(mark("Store the numbers")), cautions=plain.warned(voice, CAUTIONS),
            send=links.batch(batch.uid, "open/counted/"), label=voice.say(_TITLE),
        )  # fmt: skip

    form = CountedForm(**plain.arguments(request, batch), left=left)
    return plain.serve(request, form, page, store, to=common.to_batch(batch))
