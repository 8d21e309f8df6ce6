"""Routes of log files and of slow work."""

from django.urls import URLPattern, path

from chalaza.pages import work
from chalaza.pages.logs import listing, source, waiting

urlpatterns: list[URLPattern] = [
    path("logs/", listing.listing, name="logs"),
    path("logs/waiting/<uid:uid>/", waiting.waiting, name="log-waiting"),
    path("logs/<uid:uid>/", source.source, name="log"),
    path("logs/<uid:uid>/file/", source.file, name="log-file"),
    path("logs/<uid:uid>/withdraw/", source.withdraw, name="log-withdraw"),
    path("logs/<uid:uid>/take-again/", source.take_again, name="log-take-again"),
    path("logs/<uid:uid>/read-otherwise/", source.read_otherwise, name="log-read-otherwise"),
    path("doing/<uid:uid>/", work.work, name="work"),
    path("doing/<uid:uid>/cancel/", work.cancel, name="work-cancel"),
]
