"""What was done to the records, what was learnt and answered, and what waits to be done."""

from typing import Any, ClassVar

from django.db import models

from chalaza.records.fields import ChoiceField, MomentField, Row, free, to, words


class Act(Row):
    """One act of a keeper: rows changed together, and undone together. `subject` is what it was done to, in words."""

    at = MomentField()
    keeper = to("records.Keeper", "acts")
    verb = words(60)
    subject = words(200, blank=True, default="")
    batch = words(120, blank=True, default="")
    undoes = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="undone_by")


class Change(models.Model):
    """One row before and after an act."""

    id = models.BigAutoField(primary_key=True)
    act = models.ForeignKey(Act, on_delete=models.CASCADE, related_name="changes")
    model = words(40)
    row = words(120)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)

    class Meta:
        ordering = ("id",)
        indexes: ClassVar[Any] = (models.Index(name="change_of_row", fields=["model", "row"]),)


class Done(Row):
    """A job of the day that was ticked; `key` is the job's own and stays when its hour moves."""

    key = words(200, unique=True)
    at = MomentField()


class Lesson(Row):
    """What a finished batch taught. A cache of its records but for `forgotten`, which is the keeper's word."""

    batch = words(120, unique=True)
    at = MomentField()
    revision = models.BigIntegerField()
    engine = words(80)
    content = models.JSONField()
    forgotten = models.BooleanField(default=False)


class Answer(models.Model):
    """The newest answer to one question about one subject. The whole table may be dropped; it costs time only."""

    id = models.BigAutoField(primary_key=True)
    question = words(40)
    subject = words(120)
    key = words(200)
    as_of = MomentField()
    made = MomentField()
    value = models.JSONField()

    class Meta:
        ordering = ("id",)
        constraints: ClassVar[Any] = (models.UniqueConstraint(name="answer_once", fields=["question", "subject"]),)


class Forecast(models.Model):
    """What was forecast on one day, kept for good: whether ranges hold is measured on this, never computed anew."""

    id = models.BigAutoField(primary_key=True)
    batch = words(120)
    day = words(10)
    as_of = MomentField()
    engine = words(80)
    figures = models.JSONField()

    class Meta:
        ordering = ("as_of", "id")
        constraints: ClassVar[Any] = (models.UniqueConstraint(name="forecast_a_day", fields=["batch", "day"]),)


class WorkState(models.TextChoices):
    """How far slow work is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"


class Work(Row):
    """Slow work, and the queue it waits in."""

    kind = words(40)
    arguments = models.JSONField(default=dict)
    state = ChoiceField(choices=WorkState.choices, default=WorkState.WAITING)
    progress = models.FloatField(default=0.0)
    message = free()
    cancel = models.BooleanField(default=False)
    tries = models.BigIntegerField(default=0)
    asked = MomentField()
    started = MomentField(null=True, blank=True)
    ended = MomentField(null=True, blank=True)
    result = models.JSONField(null=True, blank=True)
    asked_by = words(120, blank=True, default="")

    class Meta(Row.Meta):
        indexes: ClassVar[Any] = (models.Index(name="work_waiting", fields=["state", "id"]),)
