"""Parents, lot, batch, stay, egg."""

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q

from chalaza import quantities as q
from chalaza.records.fields import ChoiceField, MomentField, QuantityField, Row, WholeField, free, to, words
from chalaza.values import evidence as rows


class Parents(Row):
    """A flock or pair. Batches of the same name share what is learnt."""

    name = words(80, unique=True)
    kind = words(40, blank=True, default="")
    note = free()


class Batch(Row):
    """A batch. `revision` is the newest act that changed anything it rests on; `carried` are beliefs it came with."""

    name = words(80)
    kind = words(40)
    set_at = MomentField()
    zone = words(64, default="UTC")
    planned_rh = QuantityField(q.RH, null=True, blank=True)
    planned_temp_degc = QuantityField(q.TEMP_DEGC, null=True, blank=True)
    wanted_young = WholeField(q.YOUNG, null=True, blank=True)
    turns_per_d = QuantityField(q.TURNS_PER_D, null=True, blank=True)
    note = free()
    finished_at = MomentField(null=True, blank=True)
    carried = models.JSONField(default=list, blank=True)
    revision = models.BigIntegerField(default=0, editable=False)

    ROW = rows.Batch


class Lot(Row):
    """Eggs of the same parents gathered and stored together; without a batch while they are in store."""

    batch = to("records.Batch", "lots", null=True, blank=True)
    parents = to("records.Parents", "lots")
    origin = ChoiceField(rows.Origin, default=rows.Origin.OWN)
    laid_first = MomentField(null=True, blank=True)
    laid_last = MomentField(null=True, blank=True)
    store_temp_degc = QuantityField(q.TEMP_ROOM_DEGC, null=True, blank=True)
    laid_at = ChoiceField(rows.LaidAt, default=rows.LaidAt.HERE)
    parents_weeks = QuantityField(q.WEEKS, null=True, blank=True)
    one_hen = models.BooleanField(default=False)

    ROW = rows.Lot

    class Meta(Row.Meta):
        constraints: ClassVar[Any] = (
            models.CheckConstraint(
                name="lot_laid_in_order",
                condition=Q(laid_first=None) | Q(laid_last=None) | Q(laid_last__gte=F("laid_first")),
            ),
        )


class Stay(Row):
    """A batch in a machine for a time; the stays of one batch do not overlap."""

    batch = to("records.Batch", "stays")
    machine = to("records.Machine", "stays")
    start = MomentField()
    end = MomentField(null=True, blank=True)

    ROW = rows.Stay

    class Meta(Row.Meta):
        constraints: ClassVar[Any] = (
            models.CheckConstraint(name="stay_ends_after_start", condition=Q(end=None) | Q(end__gt=F("start"))),
            models.UniqueConstraint(name="stay_one_open", fields=["batch"], condition=Q(end=None)),
        )


class Egg(Row):
    """One egg, or a counted group that is handled as one."""

    batch = to("records.Batch", "eggs")
    label = words(40)
    lot = to("records.Lot", "eggs", null=True, blank=True)
    count = WholeField(q.EGGS, default=1)
    length_mm = QuantityField(q.LENGTH_MM, null=True, blank=True)
    breadth_mm = QuantityField(q.BREADTH_MM, null=True, blank=True)
    shell = ChoiceField(rows.Shell, default=rows.Shell.LIGHT)
    position = words(40, blank=True, default="")
    removed_at = MomentField(null=True, blank=True)
    note = free()

    ROW = rows.Egg
