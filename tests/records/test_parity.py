"""Models and the rows of the open folder are held in step: name, span, whether it may be empty."""

from collections.abc import Iterator
from enum import StrEnum
from typing import Any

import pytest
from django.db import models

from chalaza.records.fields import ChoiceField, QuantityField, WholeField
from chalaza.records.rows import MODELS
from chalaza.values.evidence import Lot
from chalaza.values.fields import Column, columns

#: Fields of models that no row has, with the reason.
ONLY_HERE = {
    "id": "the order of entry",
    "batch": "a folder holds one batch; a notebook holds many",
    "place": "a folder has one place; a notebook may have several",
    "carried": "the beliefs lie in a file of their own",
    "revision": "technical: the newest act that reached the batch",
}


def _pairs() -> "Iterator[tuple[type, Column, models.Field[Any, Any]]]":
    for row, model in MODELS.items():
        for column in columns(row):
            yield row, column, model._meta.get_field(column.name)


@pytest.mark.parametrize(("row", "column", "field"), list(_pairs()), ids=lambda one: getattr(one, "name", str(one)))
def test_each_column_of_a_row_has_its_field(row: type, column: Column, field: "models.Field[Any, Any]") -> None:
    if isinstance(field, models.ForeignKey):
        assert column.field.ref or (row is Lot and column.name == "parents")
        assert field.null == column.optional
        return
    text = column.kind is str
    assert field.null == (column.optional and not text)
    if column.field.quantity is not None:
        assert isinstance(field, (QuantityField, WholeField))
        assert (field.of.low, field.of.high) == (column.field.quantity.low, column.field.quantity.high)
        assert isinstance(field, WholeField) == (column.kind is int)
    elif issubclass(column.kind, StrEnum):
        assert isinstance(field, ChoiceField)
        assert [value for value, _ in field.flatchoices] == [str(one) for one in column.kind]
    elif column.kind is bool:
        assert isinstance(field, models.BooleanField)
    else:
        assert isinstance(field, (models.CharField, models.TextField))


@pytest.mark.parametrize("row", list(MODELS), ids=lambda row: row.__name__)
def test_each_field_of_a_model_is_a_column_or_says_why_not(row: type) -> None:
    named = {column.name for column in columns(row)}
    extra = {field.name for field in MODELS[row]._meta.concrete_fields} - named
    assert extra <= set(ONLY_HERE)


@pytest.mark.parametrize(("row", "column", "field"), list(_pairs()), ids=lambda one: getattr(one, "name", str(one)))
def test_what_is_left_out_is_the_same_in_both(row: type, column: Column, field: "models.Field[Any, Any]") -> None:
    default = row.__dataclass_fields__[column.name].default  # type: ignore[attr-defined]
    if field.has_default() and not callable(field.default) and column.name != "uid":
        assert field.get_default() == default
