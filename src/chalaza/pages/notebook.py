"""The notebook as a whole: where it lies, how large it is, its backup, restoring, and the copies that are kept."""

import sqlite3
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO
from zoneinfo import ZoneInfo

import django
from django import forms
from django.conf import settings
from django.db import connection
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import URLPattern, path
from django.views.decorators.http import require_POST, require_safe

from chalaza import __version__
from chalaza.errors import NotebookError
from chalaza.pages.forms import Form
from chalaza.pages.gate import here_only
from chalaza.pages.keeper import Asked
from chalaza.records import backup, copies, restore, upkeep
from chalaza.records import models as m
from chalaza.words.language import mark
from chalaza.words.numbers import NB, number

_NEEDED = mark("Choose the backup first.")
_TICK = mark("Tick this first: what is in the notebook now makes way.")
_BROKEN = mark(
    "The notebook could not be read or written ({why}). Nothing was changed; look at the disk, then try again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """A kept copy, as its line shows it."""

    name: str
    at: int
    before: str
    size: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What the page of the notebook shows. `file` is empty on a database server."""

    folder: str
    file: str
    size: str
    room: str
    low: bool
    version: str
    kept_by: str
    django: str
    database: str
    batches: int
    acts: int
    copies: tuple[Copied, ...]
    kept_d: int
    form: "RestoreForm"
    refused: str = ""
    restored: bool = False


class RestoreForm(Form):
    """A backup to put in place of the notebook."""

    file = forms.FileField(
        label=mark("Backup"), help_text=mark("The zip file that Download a backup or chalaza backup wrote."),
        error_messages={"required": _NEEDED, "empty": mark("This file is empty."), "invalid": _NEEDED},
    )  # fmt: skip
    sure = forms.BooleanField(
        label=mark("Put it in the place of the present notebook"), error_messages={"required": _TICK}
    )  # fmt: skip


@require_safe
@here_only
def notebook(request: Asked) -> HttpResponse:
    """The page of the notebook."""
    return _page(request, RestoreForm(voice=request.voice), restored="restored" in request.GET)


def _page(
    request: Asked, form: RestoreForm, refused: str = "", restored: bool = False, status: int = 200
) -> HttpResponse:
    folder, database = Path(settings.HOME), upkeep.database_file()
    beside = (database.parent / f"{database.name}{end}" for end in ("", "-wal")) if database else ()
    free = upkeep.room_b(folder)
    page = Page(
        folder=str(folder), file=database.name if database else "", room=_size(free),
        size=_size(sum(one.stat().st_size for one in beside if one.exists())), low=free < upkeep.LOW_B,
        version=__version__, kept_by=upkeep.last_version(), django=django.get_version(), database=_engine(),
        batches=m.Batch.objects.count(), acts=m.Act.objects.count(), kept_d=copies.KEPT_D, form=form, refused=refused,
        restored=restored, copies=tuple(
            Copied(name=one.path.name, at=one.at, before=one.before, size=_size(one.size_b))
            for one in copies.kept(folder)
        ),
    )  # fmt: skip
    return render(request, "notebook/notebook.html", {"page": page}, status=status)


def _engine() -> str:
    with connection.cursor():  # opens the connection, so that its version is known
        version = connection.get_database_version()
    return f"{connection.display_name} {'.'.join(map(str, version))}"


def _size(size_b: int) -> str:
    """A size in MB or GB, three figures of it."""
    for unit, one in (("GB", 1e9), ("MB", 1e6)):
        if size_b >= one or unit == "MB":
            break
    return f"{number(size_b / one, 1 if size_b < 100 * one else 0)}{NB}{unit}"


@require_POST
@here_only
def download(request: Asked) -> HttpResponseBase:
    """A backup, verified, as an attachment."""
    database = upkeep.database_file()
    if database is None:
        return _page(request, RestoreForm(voice=request.voice), request.voice.say(_ON_A_SERVER), status=409)
    file = tempfile.TemporaryFile(prefix="backup-", dir=settings.HOME)  # noqa: SIM115  # closed by the response
    try:
        backup.write(file, database, Path(settings.HOME), request.now)
    except (NotebookError, OSError, sqlite3.Error) as fault:
        file.close()
        return _page(request, RestoreForm(voice=request.voice), _said(request, fault), status=409)
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename=_name(request), content_type="application/zip")


def _name(request: Asked) -> str:
    local = datetime.fromtimestamp(request.now, ZoneInfo(request.voice.zone))
    return f"chalaza-{local:%Y-%m-%d-%H%M}.zip"


@require_POST
@here_only
def put_in_place(request: Asked) -> HttpResponse:
    """Put an uploaded backup in the place of the notebook."""
    form = RestoreForm(request.POST, request.FILES, voice=request.voice)
    if upkeep.database_file() is None:
        return _page(request, form, request.voice.say(_ON_A_SERVER), status=409)
    if not form.is_valid():
        return _page(request, form, status=422)
    file: BinaryIO = form.cleaned_data["file"].file
    return _restored(request, form, lambda database: _restore(file, database, request.now))


@require_POST
@here_only
def put_back(request: Asked, name: str) -> HttpResponse:
    """Put a kept copy in the place of the notebook: this undoes restoring."""
    kept = next((one for one in copies.kept(Path(settings.HOME)) if one.path.name == name), None)
    if kept is None:
        raise Http404

    def do(database: Path) -> None:
        with kept.path.open("rb") as file:
            _restore(file, database, request.now)

    return _restored(request, RestoreForm(voice=request.voice), do)


def _restore(file: BinaryIO, database: Path, now: int) -> None:
    restore.restore(file, database, Path(settings.HOME), now)


def _restored(request: Asked, form: RestoreForm, do: Callable[[Path], None]) -> HttpResponse:
    database = upkeep.database_file()
    if database is None:
        return _page(request, form, request.voice.say(_ON_A_SERVER), status=409)
    try:
        do(database)
    except (NotebookError, OSError, sqlite3.Error) as fault:
        return _page(request, form, _said(request, fault), status=422)
    return HttpResponse(status=303, headers={"Location": "/notebook/?restored"})


_ON_A_SERVER = mark("This notebook lies on a database server: use chalaza backup, or its own pg_dump and pg_restore.")


def _said(request: Asked, fault: Exception) -> str:
    if isinstance(fault, NotebookError):
        return request.voice.say(fault.text, fault.holes)
    return request.voice.say(_BROKEN, {"why": str(fault)})


urlpatterns: list[URLPattern] = [
    path("notebook/", notebook, name="notebook"),
    path("notebook/backup/", download, name="notebook-backup"),
    path("notebook/restore/", put_in_place, name="notebook-restore"),
    path("notebook/copies/<str:name>/put-back/", put_back, name="notebook-put-back"),
]
