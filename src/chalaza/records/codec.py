"""Answers as plain JSON and back, driven by the types themselves: a new field needs no line here."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from math import isfinite
from types import MappingProxyType, NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from chalaza.errors import BalanceError
from chalaza.values.estimate import Estimate

_HOLE = "~"


def plain(value: Any) -> Any:
    """`value` (a frozen answer) as what JSON can hold. Raises `BalanceError` for what it cannot."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _figure(one) if isinstance(one, Estimate) else plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not isfinite(value):
        return {_HOLE: repr(value)}
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    raise BalanceError(f"{type(value).__name__} has no form in JSON")


def _figure(value: Estimate) -> dict[str, Any]:
    return plain(value)  # type: ignore[no-any-return]  # a dataclass in, a dict out


def built(kind: Any, data: Any) -> Any:
    """The value of type `kind` that `plain` made `data` of. Raises `BalanceError` where they do not fit."""
    try:
        return _built(kind, data)
    except (TypeError, KeyError, ValueError, AttributeError, StopIteration) as misfit:
        raise BalanceError(f"{getattr(kind, '__name__', kind)} is not made of this: {misfit}") from misfit


def _built(kind: Any, data: Any) -> Any:
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        return _one_of(get_args(kind), data)
    if origin is tuple:
        inner = get_args(kind)
        kinds = [inner[0]] * len(data) if len(inner) == 2 and inner[1] is Ellipsis else inner
        return tuple(_built(one, each) for one, each in zip(kinds, data, strict=True))
    if origin is not None and issubclass(origin, Mapping):
        return MappingProxyType({key: _built(get_args(kind)[1], one) for key, one in data.items()})
    if isinstance(kind, type) and is_dataclass(kind):
        hints = _hints(kind)
        return kind(**{name: _built(hints[name], one) for name, one in data.items()})
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind(data)
    return _scalar(kind, data)


def _scalar(kind: Any, data: Any) -> Any:
    if isinstance(data, dict) and set(data) == {_HOLE}:
        return float(data[_HOLE])
    return float(data) if kind is float else data


def _one_of(kinds: tuple[Any, ...], data: Any) -> Any:
    if data is None:
        return None
    rest = [one for one in kinds if one is not NoneType]
    if isinstance(data, dict) and _HOLE not in data:
        return _built(next(one for one in rest if is_dataclass(one)), data)
    simple = [one for one in rest if not is_dataclass(one)]
    return _built(simple[0], data) if len(simple) == 1 else data


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)
