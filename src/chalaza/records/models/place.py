"""Place, machine, probe: where eggs lie, and what tells about it."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from chalaza import quantities as q
from chalaza.records.fields import ChoiceField, MomentField, QuantityField, Row, WholeField, free, to, words
from chalaza.values import evidence as rows


class Place(Row):
    """Where machines stand."""

    name = words(80)
    altitude_m = QuantityField(q.ALTITUDE_M, default=0.0)
    pressure_pa = QuantityField(q.PRESSURE_PA, null=True, blank=True)
    zone = words(64, default="UTC")

    ROW = rows.Place


class Machine(Row):
    """An incubator or hatching box."""

    place = to("records.Place", "machines")
    name = words(80)
    airflow = ChoiceField(rows.Airflow)
    volume_l = QuantityField(q.VOLUME_L, null=True, blank=True)
    troughs_cm2 = words(200, blank=True, default="")
    vents = WholeField(q.EGGS, null=True, blank=True)
    tray = words(20, blank=True, default="")
    mapped = models.BooleanField(default=False)
    note = free()

    ROW = rows.Machine


class Probe(Row):
    """A thermometer, hygrometer or display."""

    name = words(80)
    sort = ChoiceField(rows.ProbeSort)
    controls = models.BooleanField(default=False)

    ROW = rows.Probe


class Mount(Row):
    """A probe at a place for a time. In a room it has the place and no machine."""

    probe = to("records.Probe", "mounts")
    machine = to("records.Machine", "mounts", null=True, blank=True)
    place = to("records.Place", "mounts", null=True, blank=True)
    start = MomentField()
    end = MomentField(null=True, blank=True)
    height_mm = QuantityField(q.HEIGHT_MM, null=True, blank=True)
    position = words(120, blank=True, default="")

    ROW = rows.Mount

    class Meta(Row.Meta):
        constraints: ClassVar[Any] = (
            models.CheckConstraint(name="mount_ends_after_start", condition=Q(end=None) | Q(end__gt=models.F("start"))),
            models.CheckConstraint(
                name="mount_in_machine_or_room",
                condition=Q(machine=None, place__isnull=False) | Q(machine__isnull=False, place=None),
            ),
            models.UniqueConstraint(name="mount_one_open", fields=["probe"], condition=Q(end=None)),
        )


class ProbeCheck(Row):
    """A check of a probe against something known."""

    probe = to("records.Probe", "checks")
    at = MomentField()
    sort = ChoiceField(rows.CheckSort)
    reading_degc = QuantityField(q.TEMP_BATH_DEGC, null=True, blank=True)
    reference_degc = QuantityField(q.TEMP_BATH_DEGC, null=True, blank=True)
    reading_rh = QuantityField(q.RH, null=True, blank=True)
    reference_rh = QuantityField(q.RH, null=True, blank=True)
    note = free()

    ROW = rows.ProbeCheck
