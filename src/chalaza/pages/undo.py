"""Undo: the bar that offers it after an act, and the act that takes another back."""

from dataclasses import dataclass
from typing import Any, cast
from urllib.parse import parse_qsl, quote, unquote, urlencode, urlsplit

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from chalaza.pages.entry.common import wants_word
from chalaza.pages.keeper import Asked
from chalaza.pages.see import see, sent_uid
from chalaza.pages.told import sentence, why
from chalaza.pages.uids import Uid
from chalaza.records import acts
from chalaza.records import models as m
from chalaza.records.acts import ActError, Entangled
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

_UNDO, _REDO = mark("Undo"), mark("Do it after all")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """The bar at the thumb: what was done, where it is undone, what the key says, and the page to come back to."""

    href: str
    said: str
    word: str
    back: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """An act that cannot be undone as it is: why, and where the later act that stands on it is undone (empty: nowhere)."""

    said: str
    why: str
    later: str
    later_said: str
    back: str


def address(uid: str) -> str:
    """Where an act is undone."""
    return f"/undo/{quote(Uid().to_url(uid), safe='~')}/"


def of(request: Asked) -> Bar | None:
    """The bar for the act this page was led to by (`?done=`); None without one, or where it was undone since."""
    uid = request.GET.get("done", "").replace("\x00", "")
    act = m.Act.objects.filter(uid=uid, undone_by=None).select_related("undoes").first() if uid else None
    if act is None:
        return None
    parts = [(name, value) for name, value in request.GET.items() if name != "done"]
    back = request.path + (f"?{urlencode(parts)}" if parts else "")
    voice = request.voice
    word = _REDO if act.undoes is not None else _UNDO
    return Bar(href=address(act.uid), said=sentence(voice, act), word=voice.say(word), back=back)


def context(request: HttpRequest) -> dict[str, Any]:
    """`done` in every template: the bar, where the page was led to by an act."""
    return {"done": of(cast(Asked, request))} if "done" in request.GET and hasattr(request, "voice") else {}


def _back(request: Asked) -> str:
    """The page to come back to: one of ours, without an act to undo."""
    to = request.POST.get("back", "")
    if not (to.startswith("/") and url_has_allowed_host_and_scheme(to, allowed_hosts=None)):
        return "/history/"
    parts = urlsplit(to)
    query = urlencode([one for one in parse_qsl(parts.query) if one[0] != "done"])
    return parts.path + (f"?{query}" if query else "")


@require_POST
def undo(request: Asked, uid: str) -> HttpResponse:
    """Undo an act. Where a later one rests on it, that is named and offered first. Raises `Http404` for no such act."""
    act = m.Act.objects.filter(uid=uid).first()
    if act is None:
        raise Http404(f"no act {uid!r}")
    try:
        done = acts.undo(request.keeper, act, uid=sent_uid(request))
    except ActError as wrong:
        return _held(request, act, wrong)
    return JsonResponse({"done": done.uid}) if wants_word(request) else see(_there(_back(request), act), done)


def _there(back: str, act: "m.Act") -> str:
    """The page to come back to, or the list it was led to from where undoing took away what the page was of."""
    made = {Uid().to_url(uid) for uid in act.changes.filter(before__isnull=True).values_list("row", flat=True)}
    _, what, *names = urlsplit(back).path.split("/")
    return f"/{what}/" if made & {unquote(name) for name in names} else back


def _held(request: Asked, act: "m.Act", wrong: ActError) -> HttpResponse:
    voice: Voice = request.voice
    later = wrong.later if isinstance(wrong, Entangled) else None
    held = Held(
        said=sentence(voice, act), why=why(voice, wrong), later=address(later.uid) if later else "",
        later_said=sentence(voice, later) if later else "", back=_back(request),
    )  # fmt: skip
    if wants_word(request):
        return JsonResponse(
            {"refused": [text for text in (held.said, held.why, held.later_said) if text], "ways": []}, status=422
        )
    return render(request, "undo_held.html", {"held": held}, status=409)
