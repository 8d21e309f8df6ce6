"""What a column of the open folder is: one declaration beside the type, read by reader, writer, schema and manual."""

from dataclasses import dataclass, fields
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from chalaza.quantities import Quantity


@dataclass(frozen=True, slots=True)
class Field:
    """Help for people; the quantity a number is of; whether it names a row (`key`) or points to one (`ref`: a table)."""

    help: str
    quantity: Quantity | None = None
    key: bool = False
    ref: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """One column as found on a row type: `kind` is str, int, float, bool or an enum; `optional` allows an empty cell."""

    name: str
    kind: type
    optional: bool
    field: Field


@cache
def columns(row: type) -> tuple[Column, ...]:
    """The columns of a row type, in order. Raises `TypeError` if a field carries no `Field` (our bug)."""
    hints = get_type_hints(row, include_extras=True)
    return tuple(_column(f.name, hints[f.name]) for f in fields(row))


def _column(name: str, hint: Any) -> Column:
    if get_origin(hint) is not Annotated:
        raise TypeError(f"{name} carries no Field")
    inner, *extras = get_args(hint)
    about = next((extra for extra in extras if isinstance(extra, Field)), None)
    if about is None:
        raise TypeError(f"{name} carries no Field")
    optional = False
    if get_origin(inner) in (Union, UnionType):
        options = [option for option in get_args(inner) if option is not NoneType]
        optional, inner = len(options) < len(get_args(inner)), options[0]
    return Column(name, inner, optional, about)
