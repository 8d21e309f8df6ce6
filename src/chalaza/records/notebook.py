"""Opening the notebook: Django set up once, the tables brought up to date."""

import os
import time

import django
from django.apps import apps


def open_records() -> None:
    """Set up Django for this process. The data folder is made if missing."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "chalaza.records.settings")
    if not apps.ready:
        zone = os.environ.get("TZ")
        django.setup()
        _give_back(zone)


def _give_back(zone: str | None) -> None:
    """Put the clock's zone back, which Django sets to its own: a keeper without a place is asked whether it is theirs."""
    if zone is None:
        os.environ.pop("TZ", None)
    else:
        os.environ["TZ"] = zone
    if hasattr(time, "tzset"):
        time.tzset()
