"""The application of the notebook."""

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """Models of the notebook."""

    name = "chalaza.records"
    label = "records"
    default_auto_field = "django.db.models.BigAutoField"
