"""Ticking a job of the day, and taking the tick back."""

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_POST

from chalaza.pages.keeper import Asked
from chalaza.pages.see import see, sent_uid
from chalaza.records import acts
from chalaza.records import models as m

_LONGEST = 200


@require_POST
def done(request: Asked) -> HttpResponse:
    """Tick the job of that key, or with `untick` take the tick back. Raises `Http404` for a key of no running batch.

    Ticking what is ticked, and taking back what is not, changes nothing.
    """
    key = request.POST.get("key", "")
    batch = _batch_of(key)
    there = m.Done.objects.filter(key=key).first()
    if "untick" in request.POST:
        if there is not None:
            _take_back(request, there)
        return see("/")
    if there is not None:
        return see("/")
    tick = m.Done(key=key, at=request.now)
    made = acts.act(request.keeper, "tick", save=[tick], uid=sent_uid(request), subject=batch.name)
    return see("/", made)


def _batch_of(key: str) -> "m.Batch":
    """The running batch a key belongs to."""
    if "\x00" in key or len(key) > _LONGEST:
        raise Http404("no such job")
    uid, *rest = key.rsplit("/", 2)
    found = m.Batch.objects.filter(uid=uid, finished_at=None).first()
    if found is None or len(rest) != 2 or not rest[0] or not rest[1].isdecimal():
        raise Http404("no such job")
    return found


def _take_back(request: Asked, there: "m.Done") -> None:
    """Undo the act that made the tick."""
    made = m.Change.objects.filter(model="Done", row=there.uid, before__isnull=True).order_by("-id").first()
    if made is None:
        acts.act(request.keeper, "untick", delete=[there])
    else:
        acts.undo(request.keeper, made.act)
