"""What is known about each kind of bird, figure by figure, and all sources: where every default comes from."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_safe

from chalaza import facts as tables
from chalaza.facts import Kind
from chalaza.pages.keeper import Asked
from chalaza.pages.setup.kinds import exact, found, name_of
from chalaza.words.basis import STATUS_MEANS, STATUSES
from chalaza.words.fact_names import PUBLISHED
from chalaza.words.facts import GROUPS, Fact, known, span_words, spans
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

#: Groups of the table of kinds, in words.
FAMILIES = {
    "landfowl": mark("Fowl, turkeys, guinea fowl, peafowl"),
    "waterfowl": mark("Ducks, geese, swans"),
    "gamebird": mark("Quail, pheasants, partridges"),
    "ratite": mark("Ostriches and their like"),
    "altricial": mark("Pigeons and parrots"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A kind in the list."""

    href: str
    name: str
    scientific_name: str
    term: str
    also: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """Kinds that belong together."""

    name: str
    kinds: tuple[Listed, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinds:
    """All kinds, or those that were looked for."""

    typed: str
    families: tuple[Family, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ref:
    """A source named on a page: its number there."""

    number: int
    key: str
    cite: str
    standing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure."""

    anchor: str
    words: str
    figure: str
    standing: str
    note: str
    refs: tuple[Ref, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """What several sources say about one thing: the whole range, then each voice. Without a range it is one figure."""

    words: str
    span: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A group of figures; `folded` until asked for."""

    key: str
    heading: str
    matters: tuple[Matter, ...]
    folded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class KindPage:
    """A kind with all its figures."""

    name: str
    scientific_name: str
    also: str
    groups: tuple[Group, ...]
    refs: tuple[Ref, ...]
    meanings: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cited:
    """A source in the list of sources."""

    key: str
    cite: str
    url: str
    standing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """All of them, and what is meant by how far each was checked."""

    sources: tuple[Cited, ...]
    meanings: tuple[str, ...]


@require_safe
def kinds(request: Asked) -> HttpResponse:
    """All kinds; with `?q=` those of that name."""
    voice, typed = request.voice, str(request.GET.get("q", "")).strip()[:200]
    wanted = found(voice, typed) if typed else tuple(tables.kinds().values())
    page = Kinds(typed=typed, families=_families(voice, wanted))
    return render(request, "facts/kinds.html", {"page": page, "place": "facts"})


def _families(voice: Voice, wanted: Iterable[Kind]) -> tuple[Family, ...]:
    by_group: dict[str, list[Listed]] = {}
    for one in wanted:
        days = voice.language.ngettext("{n} day", "{n} days", round(one.term_d.typical)).format(
            n=f"{one.term_d.typical:g}"
        )
        by_group.setdefault(one.group, []).append(
            Listed(href=f"/facts/{one.key}/", name=name_of(voice, one), scientific_name=one.scientific_name, term=days,
                   also=", ".join(one.aliases))
        )  # fmt: skip
    return tuple(Family(name=voice.say(FAMILIES[group]), kinds=tuple(rows)) for group, rows in by_group.items())


@require_safe
def kind(request: Asked, name: str) -> HttpResponse:
    """One kind: every figure with its span, its sources and how far it was checked."""
    voice, one = request.voice, exact(request.voice, name)
    if one is None:
        raise Http404(name)
    if one.key != name:
        return HttpResponseRedirect(f"/facts/{one.key}/")
    return render(request, "facts/kind.html", {"page": _kind(voice, one), "place": "facts"})


class _Numbers:
    """Sources in the order they are met, each with its number."""

    def __init__(self) -> None:
        self.refs: dict[str, Ref] = {}

    def of(self, row: Fact) -> tuple[Ref, ...]:
        for one in row.sources:
            number = len(self.refs) + 1
            self.refs.setdefault(one.key, Ref(number=number, key=one.key, cite=one.cite, standing=one.status))
        return tuple(self.refs[one.key] for one in row.sources)


def _kind(voice: Voice, one: Kind) -> KindPage:
    numbers, rows = _Numbers(), known(voice, one.key)
    groups = tuple(
        Group(key=group, heading=voice.say(GROUPS[group]), folded=group == "believed",
              matters=_matters(voice, group, tuple(members), numbers))
        for group, members in groupby(rows, key=lambda row: row.group)
    )  # fmt: skip
    return KindPage(
        name=name_of(voice, one), scientific_name=one.scientific_name, also=", ".join(one.aliases), groups=groups,
        refs=tuple(numbers.refs.values()), meanings=_meanings(voice),
    )  # fmt: skip


def _meanings(voice: Voice) -> tuple[str, ...]:
    return tuple(voice.say(text) for text in STATUS_MEANS.values())


def _matters(voice: Voice, group: str, rows: tuple[Fact, ...], numbers: _Numbers) -> tuple[Matter, ...]:
    if group != "published":
        return tuple(Matter(words="", span="", rows=(_row(voice, row, numbers),)) for row in rows)
    whole = spans(rows)
    return tuple(
        Matter(words=voice.say(PUBLISHED[quantity].words), span=_span(voice, quantity, whole[quantity]),
               rows=tuple(_row(voice, row, numbers) for row in members))
        for quantity, members in groupby(rows, key=lambda row: row.quantity)
    )  # fmt: skip


def _span(voice: Voice, quantity: str, whole: tuple[float, float, int]) -> str:
    low, high, n = whole
    text = voice.language.ngettext("{span}, by {n} voice", "{span}, by {n} voices", n)
    return text.format(span=span_words(voice, quantity, low, high), n=n)


def _row(voice: Voice, row: Fact, numbers: _Numbers) -> Row:
    anchor = row.quantity if row.group == "wanted" else f"{row.group}-{row.quantity}"
    return Row(
        anchor=anchor, words=row.words, figure=row.figure, standing=voice.say(STATUSES[row.status]), note=row.note,
        refs=numbers.of(row),
    )  # fmt: skip


@require_safe
def sources(request: Asked) -> HttpResponse:
    """All sources by their citation, each under its key."""
    voice = request.voice
    rows = sorted(tables.sources().values(), key=lambda one: one.cite.casefold())
    page = Sources(
        sources=tuple(
            Cited(key=one.key, cite=one.cite, url=one.url, standing=voice.say(STATUSES[one.status])) for one in rows
        ),
        meanings=_meanings(voice),
    )
    return render(request, "facts/sources.html", {"page": page, "place": "facts"})
