"""Checks of a probe: how each is done at the kitchen table, and its entry; what is true is worked out where it can be."""

from dataclasses import replace
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza.errors import OutOfRange
from chalaza.pages.forms import Measure, Moment, Pick, Words
from chalaza.pages.keeper import Asked
from chalaza.pages.setup.common import Change, FormPage, Line, Part, SetForm, address, answer, lines, on_clock, one
from chalaza.pages.setup.probes import zone_of_probe
from chalaza.physics.air import pressure_from_altitude
from chalaza.physics.probe import ICE_POINT_DEGC, SALTS, boiling_point, salt_rh
from chalaza.records import models as m
from chalaza.values.evidence import CheckSort
from chalaza.words import numbers, things
from chalaza.words.basis import cited
from chalaza.words.begin import Taken
from chalaza.words.cautions import cautions
from chalaza.words.checks import WAYS, Way
from chalaza.words.language import mark
from chalaza.words.numbers import Preference, Voice

#: A reading so far from what is true is asked about: a slip of the unit or of the hand. [K], [1]; judgement.
_FAR_K, _FAR_RH = 6.0, 0.25
_WARM_DEGC = (30.0, 45.0)
#: Weather moves the pressure by 3 kPa either way, and 1 kPa the boiling point by 0.28 K. [K]
_WEATHER_K = 0.8
#: Temperatures at which the table of salts is shown. [°C]
_SALT_DEGC = (20.0, 25.0, 30.0, 37.5)


class CheckForm(SetForm):
    """What every check has. `reference` is what was true, once it is known."""

    at = Moment(label=mark("When"))
    note = Words(lines=2, required=False, label=mark("Note"))

    def true(self) -> float | None:
        """What was true: °C, or humidity as a share."""
        return None

    def rows(self) -> dict[str, float | None]:
        """Fields of the check."""
        said = self.cleaned_data
        return {"reading_degc": said["reading"], "reference_degc": self.true()}

    def ask_far(self, name: str, true: float | None, far: float) -> None:
        """Ask about a reading far from what is true."""
        if true is not None:
            text = self.voice.say(mark("That is far from what is true, {true}. What did it show?"),
                                  {"true": numbers.quantity(self.voice, true, "temperature")})  # fmt: skip
            self.ask_unit(name, true - far, true + far, text)


class IceForm(CheckForm):
    """In ice water."""

    reading = Measure(q.TEMP_BATH_DEGC, decimals=2, label=mark("What it showed"))

    def clean(self) -> dict[str, Any]:
        self.ask_far("reading", ICE_POINT_DEGC, _FAR_K)
        return self.cleaned_data

    def true(self) -> float:
        return ICE_POINT_DEGC


class BoilForm(CheckForm):
    """In boiling water, at the pressure of the place."""

    reading = Measure(q.TEMP_BATH_DEGC, decimals=2, label=mark("What it showed"))
    pressure_pa = Measure(
        q.PRESSURE_PA, required=False, decimals=1, label=mark("Air pressure, if a barometer shows it"),
        help_text=mark("As it is at the place, not for sea level as in a forecast. Empty: by the altitude."),
    )  # fmt: skip

    def __init__(self, *args: Any, place: m.Place | None, **extra: Any) -> None:
        self.place = place
        super().__init__(*args, **extra)

    def clean(self) -> dict[str, Any]:
        self.ask_far("reading", self.true(), _FAR_K)
        return self.cleaned_data

    def true(self) -> float:
        typed = self.cleaned_data.get("pressure_pa") if self.is_bound else None
        return float(boiling_point(typed if typed is not None else pressure_at(self.place)))


class CompareForm(CheckForm):
    """Beside a better thermometer."""

    reading = Measure(q.TEMP_BATH_DEGC, decimals=2, label=mark("What it showed"))
    reference = Measure(q.TEMP_BATH_DEGC, decimals=2, label=mark("What the better one showed"))

    def clean(self) -> dict[str, Any]:
        low, high = _WARM_DEGC
        self.ask_unit(
            "reference", low, high, self.voice.say(mark("The water should be near 37.5 °C. What did it show?"))
        )
        self.ask_far("reading", self.cleaned_data.get("reference"), _FAR_K)
        return self.cleaned_data

    def true(self) -> float | None:
        return self.cleaned_data.get("reference")


class SaltForm(CheckForm):
    """Over wet salt, at the temperature in the jar."""

    reading = Measure(q.RH, decimals=1, label=mark("What it showed"))
    salt = Pick(choices=list(things.SALTS.items()), label=mark("The salt"))
    temp_degc = Measure(q.TEMP_BATH_DEGC, decimals=1, label=mark("Temperature in the jar"))

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        self.ask_unit("temp_degc", 0.0, 45.0, self.voice.say(mark("How warm was it in the jar?")))
        if said.get("temp_degc") is None or not said.get("salt"):
            return said
        try:
            true = self.true()
        except OutOfRange:
            high = numbers.quantity(self.voice, SALTS[said["salt"]].high_degc, "temperature")
            text = mark("For this salt the humidity is known from 0 °C to {high} only.")
            self.add_error("temp_degc", self.voice.say(text, {"high": high}))
            return said
        if (reading := said.get("reading")) is not None and abs(reading - true) > _FAR_RH:
            text = mark("Over this salt the air has {true}. Did it really show {typed}?")
            holes = {"true": numbers.quantity(self.voice, true, "humidity"),
                     "typed": numbers.quantity(self.voice, reading, "humidity")}  # fmt: skip
            self.ask("reading", self.voice.say(text, holes), keep=True)
        return said

    def true(self) -> float:
        return float(salt_rh(self.cleaned_data["salt"], self.cleaned_data["temp_degc"]))

    def rows(self) -> dict[str, float | None]:
        return {"reading_rh": self.cleaned_data["reading"], "reference_rh": self.true()}


class DryForm(CheckForm):
    """In a dry box."""

    reading = Measure(q.RH, decimals=1, label=mark("What it showed"))
    reference = Measure(
        q.RH,
        decimals=1,
        label=mark("How dry the jar was"),
        help_text=mark("Fresh beads leave about 5 %: common practice."),
    )

    def rows(self) -> dict[str, float | None]:
        return {"reading_rh": self.cleaned_data["reading"], "reference_rh": self.cleaned_data["reference"]}


FORMS: dict[CheckSort, tuple[type[CheckForm], tuple[str, ...]]] = {
    CheckSort.COMPARE: (CompareForm, ("reading", "reference", "at", "note")),
    CheckSort.ICE: (IceForm, ("reading", "at", "note")),
    CheckSort.BOIL: (BoilForm, ("reading", "pressure_pa", "at", "note")),
    CheckSort.SALT: (SaltForm, ("salt", "temp_degc", "reading", "at", "note")),
    CheckSort.DRY_BOX: (DryForm, ("reading", "reference", "at", "note")),
}


def place_of(probe: m.Probe) -> m.Place | None:
    """The place where a probe hangs or hung last; the only place there is, if it never hung."""
    last = probe.mounts.select_related("machine__place", "place").order_by("-start").first()
    if last is not None:
        found: m.Place = last.machine.place if last.machine else last.place
        return found
    places = list(m.Place.objects.order_by("id")[:2])
    return places[0] if len(places) == 1 else None


def pressure_at(place: m.Place | None) -> float:
    """Pressure at a place: measured if it is known, else that of the standard atmosphere at its altitude. [Pa]"""
    if place is not None and place.pressure_pa is not None:
        return float(place.pressure_pa)
    return float(pressure_from_altitude(0.0 if place is None else place.altitude_m))


@require_http_methods(["GET", "HEAD", "POST"])
def check(request: Asked, uid: str) -> HttpResponse:
    """The ways to check a probe; with `?sort=`, how that one is done, and its entry."""
    probe = one(m.Probe, uid)
    voice = on_clock(request.voice, zone_of_probe(probe, request.voice.zone))
    sort = str(request.GET.get("sort", ""))
    if not sort and request.method != "POST":
        return _ways(request, voice, probe)
    if sort not in list(CheckSort):
        raise Http404(sort)
    return _entry(request, voice, probe, CheckSort(sort))


def _ways(request: Asked, voice: Voice, probe: m.Probe) -> HttpResponse:
    here = address("probes", probe.uid, "check/")
    ways = [
        (voice.say(way.title), voice.say(way.proves), f"{here}?sort={sort}", way.heat) for sort, way in WAYS.items()
    ]
    context = {
        "title": voice.say(mark("Check {probe}"), {"probe": probe.name}), "ways": ways, "place": "machines", "voice": voice,
        "back_to": address("probes", probe.uid),
    }  # fmt: skip
    return render(request, "setup/ways.html", context)


def _entry(request: Asked, voice: Voice, probe: m.Probe, sort: CheckSort) -> HttpResponse:
    way, (kind, names) = WAYS[sort], FORMS[sort]
    place, here = place_of(probe), address("probes", probe.uid)
    extra: dict[str, Any] = {"place": place} if kind is BoilForm else {}
    first = {"at": request.now - request.now % 60}
    form = kind(request.POST or None, voice=voice, zone=voice.zone, initial=first, **extra)
    page = FormPage(
        title=f"{probe.name}: {voice.say(way.title)}", lead=voice.say(way.proves), form=form,
        parts=(Part(heading=voice.say(mark("What came of it")), lines=_lines(voice, form, names, sort, place)),),
        save=voice.say(mark("Keep this check")), back=voice.say(mark("Another way")), back_to=f"{here}check/",
        cautions=cautions(voice, way.cautions),
    )  # fmt: skip

    def change() -> Change:
        row = m.ProbeCheck(
            uid=form.own_uid, probe_id=probe.uid, sort=sort, at=form.cleaned_data["at"], note=form.cleaned_data["note"],
            **form.rows(),
        )  # fmt: skip
        return Change(verb="check", to=here, save=(row,), subject=probe.name)

    said = {"steps": [voice.say(text) for text in way.steps], "spoils": [voice.say(text) for text in way.spoils],
            "sources": [cited(voice, key) for key in way.sources], "voice": voice,
            "salts": _salts(voice) if sort is CheckSort.SALT else ()}  # fmt: skip
    return answer(request, page, change, "setup/check.html", **said)


def _lines(
    voice: Voice, form: CheckForm, names: tuple[str, ...], sort: CheckSort, place: m.Place | None
) -> tuple[Line, ...]:
    """The fields; what is true stands beside the reading where it is worked out."""
    found = list(lines(form, *names))
    if sort is CheckSort.ICE:
        text = voice.say(
            mark("Melting ice of clean water is at {figure}."), {"figure": _degrees(voice, ICE_POINT_DEGC)}
        )
        found[0] = Line(form["reading"], (_taken(voice, text, WAYS[sort], ("bipm-its-90", "ice-mc")),))
    elif isinstance(form, BoilForm):
        found[0] = Line(form["reading"], (_boils(voice, place),))
    return tuple(found)


def _boils(voice: Voice, place: m.Place | None) -> Taken:
    """Where water boils at the place, and by what."""
    boils = _degrees(voice, float(boiling_point(pressure_at(place))))
    if place is None:
        text = voice.say(
            mark("At sea level water boils at {figure}. No place is known for this probe."), {"figure": boils}
        )
    elif place.pressure_pa is not None:
        text = voice.say(mark("At the air pressure noted for {place} water boils at {figure}."),
                         {"place": place.name, "figure": boils})  # fmt: skip
    else:
        height = numbers.quantity(voice, place.altitude_m, "altitude")
        text = mark("At {altitude}, as noted for {place}, water boils at {figure}; weather moves that by up to {step}.")
        step = numbers.quantity(voice, _WEATHER_K, "step")
        text = voice.say(text, {"place": place.name, "figure": boils, "altitude": height, "step": step})
    return _taken(voice, text, WAYS[CheckSort.BOIL], ("iapws-if97", "iso-2533"))


def _degrees(voice: Voice, value: float) -> str:
    return numbers.quantity(voice, value, "temperature")


def _taken(voice: Voice, text: str, way: Way, keys: tuple[str, ...]) -> Taken:
    return Taken(column="", words=text, sources=tuple(cited(voice, key) for key in keys))


def _salts(voice: Voice) -> tuple[tuple[str, ...], ...]:
    """Humidity over each salt: a head and rows of text."""
    alone = replace(voice, units=Preference.US if voice.units is Preference.US else Preference.METRIC)
    head = (voice.say(mark("salt")), *(numbers.quantity(alone, temp, "temperature") for temp in _SALT_DEGC))
    rows = [(voice.say(things.SALTS[key]), *(_salt(voice, key, temp) for temp in _SALT_DEGC)) for key in SALTS]
    return (head, *rows)


def _salt(voice: Voice, key: str, temp_degc: float) -> str:
    if temp_degc > SALTS[key].high_degc:
        return "—"
    return numbers.quantity(voice, float(salt_rh(key, temp_degc)), "loss")
