"""What is believed before a batch's own evidence: one flat mapping, (subject, quantity) -> Belief.

A belief is a row: a mean with a spread, or the two counts of a Beta. Beliefs that were learnt together carry their
correlations, because storing the margins alone would count the same evidence twice. A `Lesson` is what one finished
batch, trial or check taught: information, not a state; `inference.learning` folds lessons into beliefs.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated

from chalaza.errors import BalanceError
from chalaza.values.fields import Field

#: (subject, quantity): subject is "kind:chicken", "machine:<uid>", "probe:<uid>" or "parents:<name>".
Key = tuple[str, str]


class Shape(StrEnum):
    """How the two numbers of a belief are to be read."""

    NORMAL = "normal"  # a mean, b sd
    BETA = "beta"  # a and b are counts
    FIXED = "fixed"  # a, not doubted


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """One belief. `scale` "log" says that `a` and `b` speak of the natural logarithm."""

    shape: Shape
    a: float
    b: float
    unit: str
    scale: str = "plain"
    origin: str = "published"
    sources: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.shape is Shape.BETA and not (self.a > 0 and self.b > 0):
            raise BalanceError(f"counts of a Beta must be positive: {self.a}, {self.b}")
        if self.shape is Shape.NORMAL and not self.b >= 0:
            raise BalanceError(f"a spread cannot be negative: {self.b}")

    @property
    def mean(self) -> float:
        """Mean in the scale of the belief."""
        return self.a / (self.a + self.b) if self.shape is Shape.BETA else self.a

    @property
    def sd(self) -> float:
        """Standard deviation in the scale of the belief."""
        if self.shape is Shape.FIXED:
            return 0.0
        if self.shape is Shape.NORMAL:
            return self.b
        total = self.a + self.b
        return float((self.a * self.b / (total * total * (total + 1.0))) ** 0.5)


@dataclass(frozen=True, slots=True)
class Beliefs:
    """Beliefs under flat keys, with correlations of those learnt together. Looking up what is not there is our bug."""

    rows: Mapping[Key, Belief]
    correlations: Mapping[tuple[Key, Key], float] = field(default_factory=lambda: MappingProxyType({}))

    def __getitem__(self, key: Key) -> Belief:
        try:
            return self.rows[key]
        except KeyError:
            raise BalanceError(f"no belief about {key[1]} of {key[0]}") from None

    def __contains__(self, key: Key) -> bool:
        return key in self.rows

    def __iter__(self) -> Iterator[Key]:
        return iter(self.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class BeliefRow:
    """A belief as a row of the open folder. A row with `with_subject` is a correlation, its value in `a`."""

    uid: Annotated[str, Field("name of this row, unique in its table", key=True)]
    subject: Annotated[str, Field("kind:..., machine:..., probe:... or parents:...")]
    quantity: Annotated[str, Field("what is believed about it")]
    shape: Annotated[str, Field("normal, beta, fixed or correlation")]
    a: Annotated[float, Field("mean, first count, or correlation")]
    b: Annotated[float, Field("standard deviation or second count")]
    unit: Annotated[str, Field("unit; 'ln' before it when the numbers speak of the logarithm")]
    scale: Annotated[str, Field("plain or log")] = "plain"
    origin: Annotated[str, Field("published, or the lessons it was learnt from")] = "published"
    sources: Annotated[str, Field("keys of the table of sources, separated by blanks")] = ""
    with_subject: Annotated[str, Field("subject of the other belief of a correlation")] = ""
    with_quantity: Annotated[str, Field("quantity of the other belief of a correlation")] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """What one finished batch, trial or check taught, and when: information (inverse covariance) on a block of beliefs,
    and counts by stage. `base`: what was published of each key, so that folding needs nothing else.

    Immutable; editing a batch replaces its lesson, undo removes it, `forgotten` silences it."""

    uid: str
    of: str
    at: int
    keys: tuple[Key, ...] = ()
    information: tuple[tuple[float, ...], ...] = ()
    shift: tuple[float, ...] = ()
    base: tuple[Belief, ...] = ()
    counts: Mapping[Key, tuple[float, float]] = field(default_factory=lambda: MappingProxyType({}))
    forgotten: bool = False
