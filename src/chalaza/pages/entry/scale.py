"""The scale of a keeper: the unit it shows and its smallest step, chosen once and remembered."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza import units
from chalaza.words.language import mark
from chalaza.words.numbers import Preference

#: Steps of pocket and kitchen scales, in the unit they show. Common practice.
_STEPS = (("g", "0.1"), ("g", "0.01"), ("g", "0.5"), ("g", "1"), ("g", "2"), ("g", "5"),
          ("oz", "0.01"), ("oz", "0.005"), ("oz", "0.05"), ("oz", "0.1"))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale: what it shows (`unit`), its smallest step in that unit, and the decimals on its display."""

    unit: str
    step: float
    decimals: int

    @property
    def key(self) -> str:
        """How it is kept and sent."""
        return f"{self.unit}:{self.step:.{self.decimals}f}"

    @property
    def resolution_g(self) -> float:
        """Its smallest step. [g]"""
        return float(units.inside(self.step, self.unit))

    def shown(self, mass_g: float) -> float:
        """A mass as it shows it."""
        return float(units.shown(mass_g, self.unit))

    def text(self, mass_g: float) -> str:
        """A mass in figures as it shows it."""
        return f"{self.shown(mass_g):.{self.decimals}f}"


SCALES: Mapping[str, Scale] = MappingProxyType(
    {one.key: one for unit, step in _STEPS for one in (Scale(unit, float(step), len(step.partition(".")[2])),)}
)
#: What a form offers; the labels are the same in every language.
CHOICES = tuple((key, f"{one.step:.{one.decimals}f} {one.unit}") for key, one in SCALES.items())
LABEL = mark("The scale shows steps of")


def scale_of(key: object, preference: Preference) -> Scale:
    """The scale of that key, else the usual one in the keeper's units."""
    usual = SCALES["oz:0.01" if preference is Preference.US else "g:0.1"]
    return SCALES.get(str(key), usual)
