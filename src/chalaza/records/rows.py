"""From a model to the row of the open folder that it stands for, and back."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from django.db import models

from chalaza.errors import BalanceError
from chalaza.records import models as m
from chalaza.values.fields import columns

#: Row type -> its model.
MODELS: Mapping[type, type[models.Model]] = MappingProxyType(
    {
        model.ROW: model
        for model in (
            m.Batch, m.Place, m.Machine, m.Stay, m.Probe, m.Mount, m.ProbeCheck, m.Event, m.Lot, m.Egg, m.Weighing,
            m.AirCellMark, m.Candling, m.Hatch, m.Breakout, m.Note,
        )
    }
)  # fmt: skip


def row_of(record: models.Model) -> Any:
    """The row of the open folder for a record. Raises `BalanceError` for a model that has none (our bug)."""
    kind = getattr(record, "ROW", None)
    if kind is None:
        raise BalanceError(f"{type(record).__name__} has no row in the open folder")
    return kind(**{one.name: _value(record, one.name, one.kind) for one in columns(kind)})


def _value(record: models.Model, name: str, kind: type) -> Any:
    if isinstance(record, m.Lot) and name == "parents":
        return record.parents.name
    field = record._meta.get_field(name)
    value = getattr(record, field.attname if isinstance(field, models.ForeignKey) else name)
    return kind(value) if value is not None and issubclass(kind, StrEnum) else value


def record_of(row: Any, **extra: Any) -> Any:
    """A record for a row of the open folder, not saved; `extra` gives what the row does not have (batch, place)."""
    kind: type = type(row)
    model = MODELS[kind]
    values: dict[str, Any] = {}
    for one in columns(kind):
        if model is m.Lot and one.name == "parents":
            continue
        field = model._meta.get_field(one.name)
        value = getattr(row, one.name)
        values[field.attname if isinstance(field, models.ForeignKey) else one.name] = (
            str(value) if isinstance(value, StrEnum) else value
        )
    return model(**values, **extra)


__all__ = ["MODELS", "record_of", "row_of"]
