"""Words for what happened, what was seen, and how an answer's parts are called."""

from collections.abc import Mapping
from types import MappingProxyType

from chalaza.values.evidence import DeathStage, EventSort, Finding, HatchStage
from chalaza.words.language import mark

EVENTS: Mapping[EventSort, str] = MappingProxyType(
    {
        EventSort.SET_POINT: mark("set point changed"),
        EventSort.WATER: mark("water filled"),
        EventSort.VENTS: mark("vents moved"),
        EventSort.LID: mark("lid open"),
        EventSort.POWER_OFF: mark("no power"),
        EventSort.TURNING_STOPPED: mark("turning stopped"),
        EventSort.TURNING_MISSED: mark("turning missed"),
        EventSort.MISTED: mark("misted"),
        EventSort.COOLED: mark("cooled on purpose"),
        EventSort.REMOVED: mark("eggs taken out"),
        EventSort.MOVED: mark("moved to another machine"),
    }
)

FINDINGS: Mapping[Finding, str] = MappingProxyType(
    {
        Finding.LIVE: mark("alive"),
        Finding.UNSURE: mark("unsure"),
        Finding.CLEAR: mark("clear"),
        Finding.DEAD: mark("stopped"),
    }
)

HATCH_STAGES: Mapping[HatchStage, str] = MappingProxyType(
    {HatchStage.PIPPED: mark("pipped"), HatchStage.OUT: mark("out of the shell")}
)

DEATH_STAGES: Mapping[DeathStage, str] = MappingProxyType(
    {
        DeathStage.INFERTILE: mark("infertile"),
        DeathStage.EARLY: mark("early dead"),
        DeathStage.MIDDLE: mark("middle dead"),
        DeathStage.LATE: mark("late dead"),
        DeathStage.PIPPED: mark("pipped, not out"),
        DeathStage.UNKNOWN: mark("stage not known"),
    }
)

#: Sort of a spell (`SpellSeen.sort`) -> its word.
SPELLS: Mapping[str, str] = MappingProxyType(
    {"warm": mark("hot spell"), "cold": mark("cold spell"), "air": mark("spike of the air")}
)

#: The four questions.
QUESTIONS: Mapping[str, str] = MappingProxyType(
    {"warmth": mark("Warmth"), "water": mark("Water"), "clock": mark("Clock"), "count": mark("Count")}
)
