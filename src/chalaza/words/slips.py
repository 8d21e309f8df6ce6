"""Questions about plausible slips, in words: what is odd, what was expected or is allowed, what was likely meant."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from zoneinfo import ZoneInfo

from chalaza.decide.slips import Likely, Slip
from chalaza.words import numbers
from chalaza.words.language import mark
from chalaza.words.numbers import NB, Voice

#: Code of a slip -> what is odd, and what was expected or is allowed.
ODD: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "mass.light": (mark("{given} would be {lost} lost."), mark("{span} was expected.")),
        "mass.heavy": (mark("{given} is more than the {last} it had; eggs only lose."), mark("{span} was expected.")),
        "mass.kind": (mark("{given} is odd for such an egg."), mark("{span} is usual.")),
        "mass.tray": (
            mark("{given} is about what the whole tray weighs."),
            mark("{span} was expected of this egg alone."),
        ),
        "load.light": (mark("{given} leaves {net} for the eggs: too little."), mark("{span} was expected.")),
        "load.heavy": (mark("{given} leaves {net} for the eggs: too much."), mark("{span} was expected.")),
        "load.without_tray": (
            mark("{given} less {tare} for the tray leaves {net}: too little."),
            mark("{span} was expected; it fits without taking anything off."),
        ),
        "load.with_tray": (
            mark("{given} leaves {net} for the eggs: too much."),
            mark("{span} was expected; it fits with the tray of the last time taken off."),
        ),
        "depth.shrunk": (
            mark("{given} is higher up than the {last} marked before; an air cell only grows."),
            mark("{span} was expected."),
        ),
        "depth.odd": (mark("{given} is odd for the air cell of this egg."), mark("{span} was expected.")),
        "temp.odd": (mark("{given} is odd for a box of eggs."), mark("{span} is usual.")),
        "rh.share": (mark("{given} is drier than the air of any box."), mark("{span} is possible.")),
        "moment.future": (mark("{given} is still to come."), mark("Up to {high} is allowed.")),
        "moment.before": (mark("{given} was before the eggs were set."), mark("{low} to {high} is usual.")),
    }
)

#: Slip of the hand -> what was meant then.
MEANT: Mapping[str, str] = MappingProxyType(
    {
        "swapped": mark("Two figures swapped? Then it is {value}."),
        "point": mark("The point misplaced? Then it is {value}."),
        "added": mark("A figure too many? Then it is {value}."),
        "oz": mark("Meant in ounces? Then it is {value}."),
        "g": mark("Meant in grams? Then it is {value}."),
        "mm": mark("Meant in millimetres? Then it is {value}."),
        "in": mark("Meant in inches? Then it is {value}."),
        "cm": mark("Meant in centimetres? Then it is {value}."),
        "°F": mark("Meant in °F? Then it is {value}."),
        "°C": mark("Meant in °C? Then it is {value}."),
        "share": mark("A share of one? Then it is {value}."),
        "tray": mark("Tray and cup weigh {value} then."),
        "day": mark("The day before? Then it is {value}."),
        "swing": mark("Day and month the other way round? Then it is {value}."),
        "year": mark("A year earlier? Then it is {value}."),
        "next_year": mark("A year later? Then it is {value}."),
    }
)
_MISSING = mark("A figure may be missing.")
_AGAIN: Mapping[str, str] = MappingProxyType(
    {
        "mass": mark("Weigh again"),
        "load": mark("Weigh again"),
        "depth": mark("Measure again"),
        "temp": mark("Write it again"),
        "rh": mark("Write it again"),
        "moment": mark("Write it again"),
    }
)
_KEEP = mark("Keep {given}")
WHICH = mark("Which is it?")


@dataclass(frozen=True, slots=True)
class Way:
    """One way out: what the field holds then, and what the key says."""

    value: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question in words. `field`: "tare" where the ways out belong to the tare and not to what was typed, else empty."""

    odd: str
    expected: str
    meant: tuple[str, ...]
    ways: tuple[Way, ...]
    again: str
    keep: str
    field: str = ""

    @property
    def text(self) -> tuple[str, ...]:
        """The whole question, a sentence each."""
        return (self.odd, self.expected, *self.meant)


def figure(voice: Voice, slip: Slip, *, unit: str, decimals: int) -> Asked:
    """A question about a figure that was typed in `unit` with so many decimals."""

    def shown(value: float) -> str:
        return f"{numbers.number(value, decimals)}{NB}{unit}"

    def plain(one: Likely) -> Way:
        text = f"{one.value:.{decimals}f}"
        return Way(text, shown(one.value))

    said = {name: float(value) for name, value in slip.figures.items() if isinstance(value, (int, float))}
    holes = {name: shown(value) for name, value in said.items() if name != "lost"}
    holes["span"] = f"{numbers.joined(*(numbers.number(said[end], decimals) for end in ('low', 'high')))}{NB}{unit}"
    if "lost" in said:
        holes["lost"] = f"{numbers.number(100.0 * said['lost'], 0)}{NB}%"
    return _asked(voice, slip, holes, tuple(plain(one) for one in slip.likely), shown(said["given"]))


def moment(voice: Voice, slip: Slip) -> Asked:
    """A question about a moment that was typed; the ways out are on the clock of the voice."""
    zone = ZoneInfo(voice.zone)

    def way(one: Likely) -> Way:
        return Way(f"{datetime.fromtimestamp(one.value, zone):%Y-%m-%dT%H:%M}", _told(voice, one.value))

    said = {name: float(value) for name, value in slip.figures.items() if isinstance(value, (int, float))}
    holes = {name: _told(voice, value) for name, value in said.items()}
    return _asked(voice, slip, holes, tuple(way(one) for one in slip.likely), holes["given"])


def _told(voice: Voice, at: float) -> str:
    return numbers.moment(voice, at, year=True)


def _asked(voice: Voice, slip: Slip, holes: Mapping[str, str], ways: tuple[Way, ...], given: str) -> Asked:
    odd, expected = ODD[slip.code]
    meant = tuple(voice.say(MEANT[one.why], {"value": way.label}) for one, way in zip(slip.likely, ways, strict=True))
    return Asked(
        odd=voice.say(odd, holes),
        expected=voice.say(expected, holes),
        meant=meant or ((voice.say(_MISSING),) if slip.missing else ()),
        ways=ways,
        again=voice.say(_AGAIN[slip.code.partition(".")[0]]),
        keep=voice.say(_KEEP, {"given": given}) if slip.keep else "",
        field="tare" if slip.code in ("load.without_tray", "load.with_tray") else "",
    )
