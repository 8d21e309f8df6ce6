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
            "still_air_advice": "subject! reading_degc:number! height! meaning source status",
            "limits": "limit:slug! subject! value:number unit meaning source status",
            "advice_ranges": "matter:slug! subject! low?! high?! unit words! source! status",
            "temperature_rate_points": (
                "subject! window! temp_degc:number?! basis:slug! reference_degc:number? exposed_h:number? "
                "hatch_h:number? shift_h:number? rate_ratio:number? slope:number? source! status"
            ),
            "rate_curve": "temp_degc:number! rate:number source status note?",
            "heat_survival": (
                "subject! age_from_d:number?! age_to_d:number?! temp_degc:number! basis:slug! exposed_h:number?! "
                "regime:slug! result survival:number? source! status"
            ),
            "cold": "subject! age! temp_degc:number?! exposed_h:number?! result! source status",
            "conductance_measured": "subject! quantity! value:number unit note? source status",
            "air_cell": "subject! day_d:number! quantity:slug! value:number unit note source status",
            "egg_density": "subject! mass_g:number shape_index:number density:number unit shell_share:number "
            "shell_mm:number? source status",
            "altitude": "altitude_m:number! pressure_pa:number diffusion_factor:number printed_rise:number "
            "oxygen_pa:number source status",
            "humidity_effects": "subject! treatment! effect! value:number? unit source status",
            "hatch_timing": "subject! quantity! low? typical? high? unit source status",
            "pip_sequence": (
                "subject! internal_low_h:number internal_high_h:number external_low_h:number external_high_h:number "
                "zip_low_h:number zip_high_h:number source status"
            ),
            "turning": "subject! treatment! quantity! low? typical? high? unit source status",
            "storage_climate": (
                "subject! days_from:number! days_to:number! low? typical? high? unit rh_low:number? rh_high:number? "
                "note? source! status"
            ),
            "storage_effects": "subject! condition! effect! value:number? unit source status",
            "deaths_by_stage": "subject! stage! from_d:number? to_d:number? share:number? base source! status",
            "candling": "share:number! day_d:number seen embryo source status",
            "candling_findings": "finding:slug! looks first_seen mistaken_for act source status",
            "signs_causes": "sign:slug! cause_group:slug cause! when? strength:slug low? high? unit? source status",
            "cautions": "caution:slug! where:slug text source status",
            "kind_notes": "subject! topic:slug! text source status",
            "vocabulary": "term! meaning source status",
            "embryo_oxygen_chicken": "age_d:number! oxygen_ml_per_d:number source status",
        }.items()
    }
)
