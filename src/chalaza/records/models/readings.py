"""Readings: day chunks per source, the live ones that are not packed yet, and files that wait for an answer."""

from typing import Any, ClassVar

from django.core.exceptions import ValidationError
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
    #: Its readings and its file are gone for good, some time after it was withdrawn.
    purged = models.BooleanField(default=False)

    def clean(self) -> None:
        """What was purged stays withdrawn."""
        if not self.withdrawn and type(self).objects.filter(uid=self.uid, purged=True).exists():
            raise ValidationError(
                {"withdrawn": "its readings are gone, 30 days after it was withdrawn: upload the file anew"}
            )


class Upload(Row):
    """A log file that lies in the data folder and waits: nothing of it is stored until it is answered."""

    name = words(255)
    sha256 = words(64)
    size = models.BigIntegerField()
    at = MomentField()
    work = words(120, blank=True, default="")


class Recipe(Row):
    """Answers kept for files of one look: those of the reader, the clock, and which probe of a file is which of ours."""

    look = words(64, unique=True)
    name = words(255)
    at = MomentField()
    answers = models.JSONField(default=dict, blank=True)
    zone = words(64, blank=True, default="")
    probes = models.JSONField(default=dict, blank=True)


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
