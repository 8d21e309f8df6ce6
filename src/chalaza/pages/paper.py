"""The sheets there are to print, and how they come out at their true size."""

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from chalaza.pages import links
from chalaza.pages.air_cells import Sheet, sheets_of
from chalaza.pages.keeper import Asked
from chalaza.records import models as m


@dataclass(frozen=True, slots=True, kw_only=True)
class OfBatch:
    """What can be printed of a batch: its card at true size, and its pages."""

    name: str
    href: str
    air_cells: str
    sheets: tuple[Sheet, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The sheets of all running batches."""

    batches: tuple[OfBatch, ...]


@require_safe
def paper(request: Asked) -> HttpResponse:
    """The sheets there are."""
    running = m.Batch.objects.filter(finished_at=None).order_by("set_at", "id")
    page = Page(
        batches=tuple(
            OfBatch(
                name=one.name or one.uid, href=links.batch(one.uid), air_cells=links.batch(one.uid, "air-cells/"),
                sheets=sheets_of(request.voice, one.uid),
            )
            for one in running
        )
    )  # fmt: skip
    return render(request, "paper.html", {"page": page, "place": "paper"})
