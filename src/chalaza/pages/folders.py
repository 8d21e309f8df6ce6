"""Batches between notebooks: one out as an open folder, one in; rows that clash are shown before anything is stored."""

import re
import tempfile
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.conf import settings
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import URLPattern, path
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from chalaza.errors import ChalazaError
from chalaza.pages.forms import Form
from chalaza.pages.gate import here_only
from chalaza.pages.keeper import Asked
from chalaza.pages.see import see, sent_uid
from chalaza.pages.work import address
from chalaza.records import files, folder
from chalaza.records import models as m
from chalaza.records import work as queue
from chalaza.records.fields import new_uid
from chalaza.words.language import mark

KIND = "bring_folder"
_NEEDED = mark("Choose the zip file of a batch first.")


class BringForm(Form):
    """A zipped folder of another notebook."""

    file = forms.FileField(
        label=mark("Batch folder, zipped"),
        help_text=mark("What another notebook gave out, or the files of a folder written by hand in one zip."),
        error_messages={"required": _NEEDED, "empty": mark("This file is empty."), "invalid": _NEEDED},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clashing:
    """What clashes: the batch, and for each row what it is and its name here."""

    work: str
    batch: str
    rows: tuple[tuple[str, str, str], ...]
    uid: str


@require_safe
def out(request: Asked, uid: str) -> HttpResponseBase:
    """A batch as an attachment: its open folder, zipped."""
    batch = get_object_or_404(m.Batch, uid=uid)
    file = tempfile.TemporaryFile(prefix="give-", dir=settings.HOME)  # noqa: SIM115  # closed by the response
    try:
        folder.out(batch.uid, file)
    except ChalazaError as wrong:
        file.close()
        page = {"page": str(wrong), "batch": batch, "place": "batches"}
        return render(request, "folders/not_given.html", page, status=409)
    file.seek(0)
    plain = re.sub(r"[^A-Za-z0-9]+", "-", batch.name).strip("-").lower() or "batch"
    return FileResponse(file, as_attachment=True, filename=f"{plain}.zip", content_type="application/zip")


@require_http_methods(["GET", "HEAD", "POST"])
@here_only
def bring(request: Asked) -> HttpResponse:
    """The form, and what was sent with it: kept whole, then read by the worker."""
    if request.method != "POST":
        return _form(request, BringForm(voice=request.voice, initial={"uid": new_uid()}))
    form = BringForm(request.POST, request.FILES, voice=request.voice)
    if not form.ready:
        return _form(request, form, status=422)
    sent = form.cleaned_data["file"]
    try:
        files.check_size(sent.size)
        files.check_room(sent.size)
        kept = files.keep(sent.chunks())
    except ChalazaError as wrong:
        form.add_error("file", str(wrong))
        return _form(request, form, status=422)
    return _asked(request, {"sha256": kept.sha256, "name": str(sent.name)[:200], "rename": False}, sent_uid(request))


def _form(request: Asked, form: BringForm, status: int = 200) -> HttpResponse:
    return render(request, "folders/bring.html", {"form": form, "place": "batches"}, status=status)


def _asked(request: Asked, arguments: dict[str, Any], uid: str | None) -> HttpResponse:
    work = queue.ask(KIND, arguments, request.keeper, uid)
    return see(address(work.uid))


@require_safe
@here_only
def clash(request: Asked, uid: str) -> HttpResponse:
    """What clashes with rows of this notebook, and the two ways out."""
    row = _clashed(uid)
    result = cast(dict[str, Any], row.result)
    rows = tuple((str(what), str(name), _called(what, name)) for what, name in result["clash"])
    page = Clashing(work=row.uid, batch=str(result["batch_name"]), rows=rows, uid=new_uid())
    return render(request, "folders/clash.html", {"page": page, "place": "batches"})


@require_POST
@here_only
def renamed(request: Asked, uid: str) -> HttpResponse:
    """Bring it in with new names for what clashes."""
    row = _clashed(uid)
    return _asked(request, {**row.arguments, "rename": True}, sent_uid(request))


def _clashed(uid: str) -> "m.Work":
    row = get_object_or_404(m.Work, uid=uid, kind=KIND)
    if "clash" not in (row.result or {}):
        raise Http404
    return row


#: Row of the folder -> model, for what may clash and has a name of its own.
_NAMED = {"machine": m.Machine, "place": m.Place, "probe": m.Probe}


def _called(what: str, uid: str) -> str:
    """What the keeper calls the row here; its uid where it has no other name."""
    model = _NAMED.get(what)
    found = None if model is None else model._default_manager.filter(uid=uid).first()
    return uid if found is None else str(found)


urlpatterns: list[URLPattern] = [
    path("batches/<uid:uid>/folder.zip", out, name="folder"),
    path("bring/", bring, name="bring"),
    path("bring/<uid:uid>/clash/", clash, name="bring_clash"),
    path("bring/<uid:uid>/renamed/", renamed, name="bring_renamed"),
]
