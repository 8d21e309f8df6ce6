"""Routes of setting up."""

from django.urls import URLPattern, path
from django.views.generic import RedirectView

from chalaza.pages import (
    facts,
    uids,  # noqa: F401  # registers the converter of names of rows
)
from chalaza.pages.setup import begin, checks, edit, eggs, lots, machines, parents, places, probes, reading, stays

urlpatterns: list[URLPattern] = [
    path("begin/", begin.begin),
    path("begin/usual/", begin.usual),
    path("batches/new/", begin.following),
    path("batches/<uid:uid>/edit/", edit.edit),
    path("batches/<uid:uid>/lots/new/", lots.new),
    path("batches/<uid:uid>/move/", stays.move),
    path("batches/<uid:uid>/eggs/", eggs.eggs),
    path("lots/<uid:uid>/", lots.edit),
    path("stays/<uid:uid>/", stays.stay),
    path("machines/", machines.listing),
    path("machines/new/", machines.new),
    path("machines/<uid:uid>/", machines.machine),
    path("machines/<uid:uid>/edit/", machines.edit),
    path("places/new/", places.new),
    path("places/<uid:uid>/", places.edit),
    path("probes/", RedirectView.as_view(url="/machines/", query_string=True)),
    path("probes/new/", probes.new),
    path("probes/<uid:uid>/", probes.probe),
    path("probes/<uid:uid>/edit/", probes.edit),
    path("probes/<uid:uid>/hang/", probes.hang),
    path("probes/<uid:uid>/check/", checks.check),
    path("mounts/<uid:uid>/", probes.mount),
    path("checks/<uid:uid>/away/", probes.check_away),
    path("parents/", parents.listing),
    path("parents/new/", parents.new),
    path("parents/<uid:uid>/", parents.edit),
    path("reading/", reading.reading),
    path("facts/", facts.kinds),
    path("facts/<str:name>/", facts.kind),
    path("sources/", facts.sources),
]
