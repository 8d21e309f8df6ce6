"""The routes of all pages, a list for each subject."""

from django.urls import URLPattern, URLResolver, path

from chalaza.pages import batch_routes, folders, notebook, patterns, phones
from chalaza.pages.entry import urls as entry
from chalaza.pages.logs import urls as logs
from chalaza.pages.setup import urls as setup

urlpatterns: list[URLPattern | URLResolver] = [
    *setup.urlpatterns,
    *batch_routes.urlpatterns,
    *entry.urlpatterns,
    *logs.urlpatterns,
    *folders.urlpatterns,
    *notebook.urlpatterns,
    *phones.urlpatterns,
    path("patterns/", patterns.patterns),
]

handler404 = "chalaza.pages.refused.not_found"
handler500 = "chalaza.pages.refused.fault"
