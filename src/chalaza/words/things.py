"""Words for what stands and lies there: machines, probes, shells, lots."""

from collections.abc import Mapping
from types import MappingProxyType

from chalaza.values.evidence import Airflow, CheckSort, LaidAt, Origin, ProbeSort, Shell
from chalaza.words.language import mark
from chalaza.words.numbers import Preference

AIRFLOWS: Mapping[Airflow, str] = MappingProxyType(
    {Airflow.FAN: mark("a fan moves the air"), Airflow.STILL: mark("still air, no fan")}
)

PROBE_SORTS: Mapping[ProbeSort, str] = MappingProxyType(
    {
        ProbeSort.DISPLAY: mark("the display of the machine"),
        ProbeSort.DIGITAL: mark("a digital thermometer or logger"),
        ProbeSort.GLASS: mark("a glass thermometer"),
        ProbeSort.WICK: mark("a wet-bulb thermometer with a wick"),
    }
)

CHECK_SORTS: Mapping[CheckSort, str] = MappingProxyType(
    {
        CheckSort.ICE: mark("in ice water"),
        CheckSort.BOIL: mark("in boiling water"),
        CheckSort.COMPARE: mark("beside a better thermometer"),
        CheckSort.SALT: mark("over wet salt"),
        CheckSort.DRY_BOX: mark("in a dry box"),
    }
)

SHELLS: Mapping[Shell, str] = MappingProxyType({Shell.LIGHT: mark("light"), Shell.DARK: mark("dark")})

ORIGINS: Mapping[Origin, str] = MappingProxyType(
    {Origin.OWN: mark("own eggs"), Origin.POSTED: mark("posted or bought eggs")}
)

LAID_AT: Mapping[LaidAt, str] = MappingProxyType(
    {
        LaidAt.HERE: mark("at this altitude"),
        LaidAt.LOWLAND: mark("in low land"),
        LaidAt.UNKNOWN: mark("not known"),
    }
)

PREFERENCES: Mapping[Preference, str] = MappingProxyType(
    {
        Preference.BOTH: mark("°C with °F beside it, grams, millimetres"),
        Preference.METRIC: mark("°C, grams, millimetres"),
        Preference.US: mark("°F, ounces, inches"),
    }
)

#: Salts a keeper can buy -> their name.
SALTS: Mapping[str, str] = MappingProxyType(
    {
        "sodium_chloride": mark("table salt (sodium chloride)"),
        "magnesium_chloride": mark("magnesium chloride"),
        "potassium_carbonate": mark("potash (potassium carbonate)"),
        "potassium_chloride": mark("potassium chloride"),
        "magnesium_nitrate": mark("magnesium nitrate"),
        "lithium_chloride": mark("lithium chloride"),
        "potassium_sulphate": mark("potassium sulphate"),
    }
)
