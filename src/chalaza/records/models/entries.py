"""What was weighed, seen and done, as it was entered."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q

from chalaza import quantities as q
from chalaza.records.fields import ChoiceField, MomentField, QuantityField, Row, WholeField, free, to, words
from chalaza.values import evidence as rows


class Event(Row):
    """Something done or suffered, by a machine or by a batch: one of the two."""

    machine = to("records.Machine", "events", null=True, blank=True)
    batch = to("records.Batch", "events", null=True, blank=True)
    at = MomentField()
    sort = ChoiceField(rows.EventSort)
    until = MomentField(null=True, blank=True)
    set_point_degc = QuantityField(q.SET_POINT, null=True, blank=True)
    note = free()

    ROW = rows.Event

    class Meta(Row.Meta):
        constraints: ClassVar[Any] = (
            models.CheckConstraint(
                name="event_of_machine_or_batch",
                condition=Q(machine=None, batch__isnull=False) | Q(machine__isnull=False, batch=None),
            ),
            models.CheckConstraint(name="event_ends_after_start", condition=Q(until=None) | Q(until__gte=F("at"))),
        )


class Weighing(Row):
    """One reading of a scale. `eggs` names those on it by uid, or says "all"."""

    batch = to("records.Batch", "weighings")
    at = MomentField()
    eggs = models.TextField()
    gross_g = QuantityField(q.LOAD_G)
    tare_g = QuantityField(q.LOAD_G, default=0.0)
    resolution_g = QuantityField(q.RESOLUTION_G, default=0.1)
    session = words(120, blank=True, default="")

    ROW = rows.Weighing


class AirCellMark(Row):
    """The edge of the air cell as marked or measured."""

    egg = to("records.Egg", "air_cells")
    at = MomentField()
    depth_mm = QuantityField(q.DEPTH_MM)

    ROW = rows.AirCellMark


class Candling(Row):
    """What one look under the lamp showed."""

    egg = to("records.Egg", "candlings")
    at = MomentField()
    finding = ChoiceField(rows.Finding)
    count = WholeField(q.EGGS, default=1)

    ROW = rows.Candling


class Hatch(Row):
    """Young newly seen pipping or out at one look."""

    batch = to("records.Batch", "hatches")
    egg = to("records.Egg", "hatches", null=True, blank=True)
    at = MomentField()
    stage = ChoiceField(rows.HatchStage)
    count = WholeField(q.YOUNG, default=1)
    looked_before = MomentField(null=True, blank=True)

    ROW = rows.Hatch


class Breakout(Row):
    """What opened eggs showed."""

    batch = to("records.Batch", "breakouts")
    egg = to("records.Egg", "breakouts", null=True, blank=True)
    at = MomentField()
    stage = ChoiceField(rows.DeathStage)
    count = WholeField(q.EGGS, default=1)
    note = free()

    ROW = rows.Breakout


class Note(Row):
    """Free words with a date."""

    batch = to("records.Batch", "notes")
    at = MomentField()
    text = models.TextField(max_length=10_000)

    ROW = rows.Note
