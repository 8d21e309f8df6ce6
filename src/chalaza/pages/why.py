"""Where a number comes from: how it was made, which records it rests on, its sources and how far each was checked.

A figure is asked for by its path in the answers (`water.loss_now`); the figures of a sentence by the code of the advice or
the job of the day it is said for (`said.water.raise`).
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from chalaza.pages import links
from chalaza.pages.batch import batch_or_404, voice_of
from chalaza.pages.home import Seen, jobs_of, seen_of, ticks_since
from chalaza.pages.keeper import Asked
from chalaza.pages.rested import Records, records
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Band, Estimate
from chalaza.words import advice as advice_words
from chalaza.words import basis as basis_words
from chalaza.words import figure_names, numbers
from chalaza.words import jobs as job_words
from chalaza.words.basis import Cited, Explained
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure and what it was made from. `wanted` and `by`: what was wanted of it, and who says so."""

    name: str
    figure: str
    wanted: str
    by: tuple[Cited, ...]
    basis: Explained


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """Where one figure, or those of one sentence, come from."""

    title: str
    batch: str
    back: str
    as_of: str
    said: tuple[str, ...]
    figures: tuple[Figure, ...]
    limits: tuple[Cited, ...]
    records: tuple[Records, ...]
    history: str
    carried: bool
    means: tuple[str, ...]
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What is asked about: its title, its sentences, its figures by name, and the source of its limits."""

    title: str
    said: tuple[str, ...]
    figures: tuple[tuple[str, Estimate], ...]
    source: str = ""


@require_safe
def why(request: Asked, uid: str, figure: str) -> HttpResponse:
    """Where a figure of a batch comes from. Raises `Http404` for no such batch, figure or sentence."""
    one = batch_or_404(uid)
    voice = voice_of(request, one)
    seen = seen_of(request, one)
    a = seen.a
    page = _unknown(voice, seen) if a is None else _page(voice, seen, a, _asked(request, voice, seen, a, figure))
    return render(request, "why.html", {"page": page, "voice": voice, "place": "batches"})


def _asked(request: Asked, voice: Voice, seen: Seen, a: Assessment, figure: str) -> _Asked:
    every = figure_names.every(a)
    if figure in every:
        name = voice.say(figure_names.name_of(figure).words)
        return _Asked(title=name, said=(), figures=((figure, every[figure]),))
    if not figure.startswith(links.SAID):
        raise Http404(f"no figure {figure!r}")
    code = figure.removeprefix(links.SAID)
    advice = next((one for one in a.advice if one.code == code), None)
    if advice is not None:
        said = advice_words.say(voice, advice)
        return _sentence(a, said, advice.figures.values(), advice.source)
    jobs = jobs_of(seen, ticks_since(a.set_at), request.now, request.voice.zone)
    job = next((one for one in jobs if one.code == code), None)
    if job is None:
        raise Http404(f"nothing is said for {code!r}")
    return _sentence(a, job_words.say(voice, job), job.advice.figures.values(), job.advice.source)


def _sentence(a: Assessment, said: advice_words.Said, figures: Iterable[object], source: str) -> _Asked:
    found = {figure_names.path_of(a, one): one for one in figures if isinstance(one, Estimate)}
    named = tuple((path, one) for path, one in found.items() if path)
    return _Asked(title=said.do, said=(said.what, said.because), figures=named, source=source)


def _page(voice: Voice, seen: Seen, a: Assessment, asked: _Asked) -> Page:
    inputs = dict.fromkeys(name for _, one in asked.figures for name in one.basis.inputs)
    return Page(
        title=asked.title, batch=seen.batch.name or seen.batch.uid, back=links.batch(seen.batch.uid),
        as_of=numbers.moment(voice, a.as_of), said=asked.said,
        figures=tuple(_figure(voice, a, path, one) for path, one in asked.figures),
        limits=_cited(voice, (asked.source,)), records=records(voice, seen.book, a, tuple(inputs)),
        history=links.history(seen.batch.uid), carried=bool(seen.batch.carried),
        means=tuple(voice.say(text) for text in basis_words.STATUS_MEANS.values()),
    )  # fmt: skip


def _unknown(voice: Voice, seen: Seen) -> Page:
    """Of a batch that cannot be assessed there is no figure."""
    return Page(
        title=voice.say(mark("This batch cannot be assessed yet.")), batch=seen.batch.name or seen.batch.uid,
        back=links.batch(seen.batch.uid), as_of="", said=(), figures=(), limits=(), records=(), history="", carried=False,
        means=(), problem=seen.problem,
    )  # fmt: skip


def _figure(voice: Voice, a: Assessment, path: str, one: Estimate) -> Figure:
    band = _band(a, path)
    return Figure(
        name=voice.say(figure_names.name_of(path).words), figure=figure_names.said(voice, path, one),
        wanted="" if band is None else _wanted(voice, band, figure_names.name_of(path).style),
        by=() if band is None else _cited(voice, band.sources or (band.source,)),
        basis=basis_words.explain(voice, one.basis),
    )  # fmt: skip


def _band(a: Assessment, path: str) -> Band | None:
    """What was wanted of a figure, where something is."""
    bands = {
        "warmth.shell": a.warmth.wanted, "warmth.shell_now": a.warmth.wanted_now,
        "water.loss_at_lockdown": a.water.wanted, "clock.half_hatched": a.clock.usual,
    }  # fmt: skip
    return bands.get(path)


def _wanted(voice: Voice, band: Band, style: str) -> str:
    if style == "moment":
        low, high = (numbers.moment(voice, one, step_s=numbers.HOUR_S) for one in (band.low, band.high))
        return voice.say(mark("usual {low} to {high}"), {"low": low, "high": high})
    return voice.say(mark("{band} wanted"), {"band": numbers.band_of(voice, band, style)})


def _cited(voice: Voice, keys: Iterable[str]) -> tuple[Cited, ...]:
    return tuple(basis_words.cited(voice, key) for key in dict.fromkeys(keys) if key)
