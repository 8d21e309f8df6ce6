"""The routes of all pages, a list for each subject."""

from django.urls import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = []

handler404 = "chalaza.pages.refused.not_found"
handler500 = "chalaza.pages.refused.fault"
