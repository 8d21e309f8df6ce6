"""Published facts with their sources: kinds of bird, beliefs before a batch, tables of measured values.

>>> from chalaza import facts
>>> facts.kind("hen").term_d.typical
21.0
>>> facts.prior("conductance", "chicken").p
(0.265, 0.22)
"""

from chalaza.facts.curves import oxygen_curve
from chalaza.facts.kinds import Kind, LossTarget, kind, kinds
from chalaza.facts.loader import Source, digest, members, sources, table
from chalaza.facts.priors import Prior, conditions, prior, quantities
from chalaza.facts.schema import SPECS
from chalaza.facts.trace import Traced, trace

__all__ = [
    "SPECS",
    "Kind",
    "LossTarget",
    "Prior",
    "Source",
    "Traced",
    "conditions",
    "digest",
    "kind",
    "kinds",
    "members",
    "oxygen_curve",
    "prior",
    "quantities",
    "sources",
    "table",
    "trace",
]
