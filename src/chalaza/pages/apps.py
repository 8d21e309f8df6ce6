"""The application of the pages."""

from django.apps import AppConfig


class PagesConfig(AppConfig):
    """Templates, static files and the tags of sentences."""

    name = "chalaza.pages"
    label = "pages"
