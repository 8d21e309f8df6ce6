"""Advice without prose: a code, how much it asks, and the figures its sentence needs. `words` makes the sentence."""

from dataclasses import dataclass
from enum import IntEnum

from chalaza.values.estimate import Figures


class Level(IntEnum):
    """How much is asked of the keeper: four steps, words and not colours."""

    GOOD = 0
    WATCH = 1
    ACT = 2
    NOW = 3


@dataclass(frozen=True, slots=True)
class Advice:
    """`code` is stable ("water.losing_fast"); `figures` names what its sentence needs; `source` is a key of sources.toml."""

    code: str
    level: Level
    figures: Figures
    source: str
