"""Opening the notebook: Django set up once, the tables brought up to date."""

import os

import django
from django.apps import apps


def open_records() -> None:
    """Set up Django for this process. The data folder is made if missing."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "chalaza.records.settings")
    if not apps.ready:
        django.setup()
