"""What the tables hold: the columns of each, the type of every column and what makes a row unique.

A column is written `name:type`, with `?` where a cell may be empty (unknown). Without a type the name decides:
`source`, `status`, `unit`, `kind` and `subject` are what they say, `low`, `typical`, `best` and `high` are numbers,
the rest is text. Columns marked `!` together name a row.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

#: What is known about a figure: its page was seen; known but not seen; common practice without a page; our arithmetic.
STATUSES = frozenset({"checked", "memory", "practice", "computed"})

#: Shape of a belief -> how many parameters it takes, and what they are.
SHAPES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "normal": ("mean", "sd"),
        "lognormal": ("median", "sd of the logarithm"),
        "beta": ("a", "b"),
        "student_t": ("location", "scale", "degrees of freedom"),
        "halfnormal": ("scale",),
        "uniform": ("low", "high"),
        "dirichlet": ("live", "unsure", "clear", "dead"),
        "fixed": ("value",),
        "band": ("typical", "low", "high"),
    }
)

_OWN = frozenset({"source", "status", "unit", "kind", "subject"})
_NUMBERS = frozenset({"low", "typical", "best", "high"})


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, the type of its cells and whether a cell may be empty."""

    name: str
    type: str
    optional: bool


@dataclass(frozen=True, slots=True)
class Spec:
    """The columns of one table and the names of those that together name a row."""

    columns: tuple[Column, ...]
    key: tuple[str, ...]


def spec(text: str) -> Spec:
    """The `Spec` written in the short form of this module."""
    columns, key = [], []
    for word in text.split():
        name, _, kind = word.rstrip("?!").partition(":")
        if "!" in word:
            key.append(name)
        guess = name if name in _OWN else "number" if name in _NUMBERS else "text"
        columns.append(Column(name, kind or guess, "?" in word))
    return Spec(tuple(columns), tuple(key))


SPECS: Mapping[str, Spec] = MappingProxyType(
    {
        name: spec(text)
        for name, text in {
            "units": "unit:text! meaning",
            "kinds": "kind:slug! name scientific_name group:slug aliases?",
            "kind_groups": "group:slug! kind!",
            "kind_values": "kind! quantity:slug! low? typical high? unit source where? status",
            "loss_targets": "kind! typical low high day_d:number unit source status note?",
            "loss_literature": "subject! low? best? high? day_d:number?! unit meaning! source! status",
            "priors": (
                "quantity:slug! subject! condition:slug?! shape p1:number p2:number? p3:number? p4:number? "
                "gaussian_sd:number? unit level source status note?"
            ),
        }.items()
    }
)
