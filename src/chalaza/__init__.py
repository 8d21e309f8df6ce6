"""Chalaza: bring a batch of fertile eggs through a bench-top incubator, reasoning from the keeper's own evidence.

    import chalaza

    evidence, beliefs = chalaza.read_folder("spring-hens")
    answer = chalaza.assess(beliefs or chalaza.prior_beliefs(evidence.batch.kind), evidence, now)
    print(answer.water.loss_at_lockdown)

Names are imported when they are first used, so that `import chalaza` costs nothing.
"""

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from chalaza import facts
    from chalaza.assess import assess, learn, prior_beliefs, understand
    from chalaza.errors import ChalazaError, EvidenceError, FolderError, OutOfRange, ReadingError
    from chalaza.exchange import read as read_folder
    from chalaza.exchange import write_folder, write_zip
    from chalaza.intake import read as read_log
    from chalaza.values.advice import Advice, Level
    from chalaza.values.answers import Assessment
    from chalaza.values.beliefs import Beliefs
    from chalaza.values.estimate import Band, Basis, Estimate
    from chalaza.values.evidence import Evidence, Series, Setting

__version__ = "0.1.0"

#: Exported name -> module and name there ("" for the module itself).
_HOMES = {
    "assess": ("chalaza.assess", "assess"),
    "learn": ("chalaza.assess", "learn"),
    "understand": ("chalaza.assess", "understand"),
    "prior_beliefs": ("chalaza.assess", "prior_beliefs"),
    "read_folder": ("chalaza.exchange", "read"),
    "write_folder": ("chalaza.exchange", "write_folder"),
    "write_zip": ("chalaza.exchange", "write_zip"),
    "read_log": ("chalaza.intake", "read"),
    "facts": ("chalaza.facts", ""),
    "Advice": ("chalaza.values.advice", "Advice"),
    "Level": ("chalaza.values.advice", "Level"),
    "Assessment": ("chalaza.values.answers", "Assessment"),
    "Beliefs": ("chalaza.values.beliefs", "Beliefs"),
    "Band": ("chalaza.values.estimate", "Band"),
    "Basis": ("chalaza.values.estimate", "Basis"),
    "Estimate": ("chalaza.values.estimate", "Estimate"),
    "Evidence": ("chalaza.values.evidence", "Evidence"),
    "Series": ("chalaza.values.evidence", "Series"),
    "Setting": ("chalaza.values.evidence", "Setting"),
    "ChalazaError": ("chalaza.errors", "ChalazaError"),
    "EvidenceError": ("chalaza.errors", "EvidenceError"),
    "FolderError": ("chalaza.errors", "FolderError"),
    "OutOfRange": ("chalaza.errors", "OutOfRange"),
    "ReadingError": ("chalaza.errors", "ReadingError"),
}

__all__ = [
    "Advice",
    "Assessment",
    "Band",
    "Basis",
    "Beliefs",
    "ChalazaError",
    "Estimate",
    "Evidence",
    "EvidenceError",
    "FolderError",
    "Level",
    "OutOfRange",
    "ReadingError",
    "Series",
    "Setting",
    "__version__",
    "assess",
    "facts",
    "learn",
    "prior_beliefs",
    "read_folder",
    "read_log",
    "understand",
    "write_folder",
    "write_zip",
]


class _Package(ModuleType):
    """The package: `chalaza.assess` is the function, also after something imported the module of that name."""

    def __setattr__(self, name: str, value: Any) -> None:
        if isinstance(value, ModuleType) and _HOMES.get(name) == (value.__name__, name):
            value = getattr(value, name)
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'chalaza' has no attribute {name!r}")
    module, attribute = _HOMES[name]
    found = import_module(module)
    value = getattr(found, attribute) if attribute else found
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
