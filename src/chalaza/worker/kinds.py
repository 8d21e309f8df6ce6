"""Every kind of slow work once: the function that does it, and how long and how large it may get.

A function takes the arguments of the row (with `uid` and `keeper` in them) and `progress(share, message)`, and gives an
`Outcome`. It is named, not imported: what it needs is loaded only in the interpreter that does it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from types import MappingProxyType
from typing import Any

from chalaza.errors import BalanceError
from chalaza.records.work import Outcome

Progress = Callable[[float, str], None]
Run = Callable[[Mapping[str, Any], Progress], Outcome]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of work: `function` as "module:name", the time and the memory it is given."""

    function: str
    wall_s: float
    memory_mb: float


#: A log of a million rows takes a second and 300 MB; four millions are the most that 1 GB holds.
KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "import_log": Kind(function="chalaza.worker.logs:import_log", wall_s=300.0, memory_mb=1000.0),
        "bring_folder": Kind(function="chalaza.worker.folders:bring_folder", wall_s=300.0, memory_mb=1000.0),
        "learn": Kind(function="chalaza.worker.learning:learn", wall_s=900.0, memory_mb=500.0),
        "pack": Kind(function="chalaza.worker.housekeeping:pack", wall_s=300.0, memory_mb=300.0),
        "purge": Kind(function="chalaza.worker.housekeeping:purge", wall_s=300.0, memory_mb=300.0),
    }
)


def resolved(function: str) -> Run:
    """The function of that name. Raises `BalanceError` if there is none (our bug)."""
    module, _, name = function.partition(":")
    try:
        found: Run = getattr(import_module(module), name)
    except (ImportError, AttributeError) as missing:
        raise BalanceError(f"no function {function!r} for work: {missing}") from missing
    return found
