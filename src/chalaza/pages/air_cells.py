"""The air cell of each egg, drawn against its outline; and the same at true size, as paper."""

from dataclasses import dataclass

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from chalaza import charts
from chalaza.charts import AirCell
from chalaza.errors import BalanceError, ChalazaError
from chalaza.pages import links
from chalaza.pages.batch import batch_or_404, refused, voice_of
from chalaza.pages.keeper import Asked
from chalaza.records import answers
from chalaza.records import models as m
from chalaza.records.answers import Understood
from chalaza.sheets import Paper, air_cell, apart
from chalaza.words import numbers
from chalaza.words.cautions import cautions
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Preference, Voice

#: Paper as it is asked for -> paper of a sheet, and its name.
PAPERS = {"a4": (Paper.A4, "A4"), "letter": (Paper.LETTER, "Letter")}
_CARE = ("wash_hands", "lamp_hot", "one_look")
_GROUPS = Plural(
    mark("{n} egg is kept as part of a group and has no picture of its own."),
    mark("{n} eggs are kept as a group and have no picture of their own."),
    by="n",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Egg:
    """One egg: its label, its picture, and its figures: depth expected and wanted today."""

    label: str
    svg: SafeString
    depth: str
    wanted: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet on one sort of paper."""

    href: str
    paper: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The air cells of a batch. `problem`: why there are none; `groups`: eggs that are counted and not named."""

    name: str
    back: str
    as_of: str
    eggs: tuple[Egg, ...]
    groups: str
    sheets: tuple[Sheet, ...]
    mark: str
    cautions: tuple[str, ...]
    problem: str


def sheets_of(voice: Voice, uid: str) -> tuple[Sheet, ...]:
    """The sheet on each sort of paper, the keeper's usual one first."""
    if not _left(uid):
        return ()
    order = ("letter", "a4") if voice.units is Preference.US else ("a4", "letter")
    stem = links.batch(uid, "air-cells.pdf")
    return tuple(Sheet(href=f"{stem}?paper={key}", paper=PAPERS[key][1]) for key in order)


def _left(uid: str) -> bool:
    """Whether any egg of the batch may still be in the box: neither taken out nor opened nor known to have hatched."""
    there = m.Egg.objects.filter(batch__uid=uid, removed_at=None)
    return there.exclude(hatches__stage="out").exclude(breakouts__isnull=False).exists()


@require_safe
def air_cells(request: Asked, uid: str) -> HttpResponse:
    """A picture for each egg that is kept as one and still in the box."""
    one = batch_or_404(uid)
    voice = voice_of(request, one)
    eggs: tuple[Egg, ...] = ()
    groups, as_of, problem = "", "", ""
    try:
        found = answers.understood(uid, request.now)
        eggs, as_of = _eggs(voice, found), numbers.moment(voice, found.assessment.as_of)
        n = sum(each.count for each in found.assessment.count.eggs if each.count > 1)
        groups = voice.say(_GROUPS, {"n": str(n)}, n) if n else ""
    except BalanceError:
        raise
    except ChalazaError as wrong:
        problem = refused(voice, wrong)
    page = Page(
        name=one.name or one.uid, back=links.batch(uid), as_of=as_of, eggs=eggs, groups=groups,
        sheets=sheets_of(voice, uid) if eggs or groups else (), mark=links.batch(uid, "mark/"),
        cautions=cautions(voice, _CARE), problem=problem,
    )  # fmt: skip
    return render(request, "air_cells.html", {"page": page, "voice": voice, "place": "batches"})


def _eggs(voice: Voice, found: Understood) -> tuple[Egg, ...]:
    u, a = found.understanding, found.assessment
    named = [one for one in a.count.eggs if one.count == 1]
    return tuple(
        Egg(
            label=one.label, svg=mark_safe(charts.air_cell(u, a, one.uid, say=voice.language.gettext)),
            depth=_depth(voice, cell), wanted=numbers.band(voice, *cell.wanted_mm, "length"),
        )
        for one in named
        for cell in [charts.air_cell_of(u, a, one.uid)]
    )  # fmt: skip


def _depth(voice: Voice, cell: AirCell) -> str:
    return numbers.ranged(voice, cell.depth_mm, cell.shallow_mm, cell.reach_mm, "length")


@require_safe
def air_cells_pdf(request: Asked, uid: str) -> HttpResponse:
    """The card at true size, `?paper=a4` or `letter`. Raises `Http404` for no such batch or paper, and for no eggs."""
    one = batch_or_404(uid)
    asked = request.GET.get("paper", "a4")
    if asked not in PAPERS:
        raise Http404(f"no paper {asked!r}; allowed: {', '.join(PAPERS)}")
    voice = voice_of(request, one)
    try:
        found = answers.understood(uid, request.now)
        content = apart.pdf(air_cell.laid(found.understanding, found.assessment, voice, paper=PAPERS[asked][0]))
    except BalanceError:
        raise
    except ChalazaError as wrong:
        raise Http404(str(wrong)) from wrong
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="air-cells-{asked}.pdf"'
    return response
