"""Readings: day chunks per source, and the live ones that are not packed yet."""

from typing import Any, ClassVar

from django.db import models

from chalaza import quantities as q
from chalaza.records.fields import ChoiceField, MomentField, QuantityField, Row, loosely_to, to, words


class SourceSort(models.TextChoices):
    """Where readings came from."""

    FILE = "file"
    LIVE = "live"
    FOLDER = "folder"


class Source(Row):
    """One log file, one imported folder or the live stream. Undo withdraws it; nothing is picked out of it."""

    sort = ChoiceField(choices=SourceSort.choices)
    name = words(255)
    sha256 = words(64, blank=True, default="")
    size = models.BigIntegerField(default=0)
    at = MomentField()
    report = models.JSONField(default=dict, blank=True)
    withdrawn = models.BooleanField(default=False)


class Chunk(models.Model):
    """The readings of one probe, source and UTC day: packed columns, and what a long chart needs of them."""

    id = models.BigAutoField(primary_key=True)
    probe = loosely_to("records.Probe", "chunks")
    source = to("records.Source", "chunks")
    day = models.BigIntegerField()
    n = models.BigIntegerField()
    first = MomentField()
    last = MomentField()
    temp_min = models.FloatField(null=True)
    temp_max = models.FloatField(null=True)
    temp_mean = models.FloatField(null=True)
    rh_min = models.FloatField(null=True)
    rh_max = models.FloatField(null=True)
    rh_mean = models.FloatField(null=True)
    data = models.BinaryField()

    class Meta:
        ordering = ("day", "id")
        constraints: ClassVar[Any] = (models.UniqueConstraint(name="chunk_once", fields=["probe", "source", "day"]),)
        indexes: ClassVar[Any] = (models.Index(name="chunk_probe_day", fields=["probe", "day"]),)


class Reading(models.Model):
    """A live reading, before its day is packed."""

    id = models.BigAutoField(primary_key=True)
    probe = to("records.Probe", "readings")
    at = MomentField()
    temp_degc = QuantityField(q.TEMP_DEGC, null=True)
    rh = QuantityField(q.RH, null=True)

    class Meta:
        ordering = ("at", "id")
        constraints: ClassVar[Any] = (models.UniqueConstraint(name="reading_once", fields=["probe", "at"]),)
