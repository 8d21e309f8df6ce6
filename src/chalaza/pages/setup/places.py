"""Places: where machines stand, how high, and by which clock."""

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza.pages.forms import Measure, Words
from chalaza.pages.keeper import Asked
from chalaza.pages.setup.begin import zone_guess
from chalaza.pages.setup.common import Change, FormPage, Part, SetForm, answer, as_begun, away, fill, lines, one, values
from chalaza.pages.setup.fields import ZoneField
from chalaza.records import models as m
from chalaza.words.language import mark


class PlaceForm(SetForm):
    """A place."""

    name = Words(max_length=80, label=mark("What you call the place"))
    altitude_m = Measure(
        q.ALTITUDE_M, decimals=0, label=mark("Its altitude"),
        help_text=mark("Any map tells. 100 m more or less do no harm; 0 by the sea."),
    )  # fmt: skip
    zone = ZoneField(max_length=64, label=mark("Its time zone"))
    pressure_pa = Measure(
        q.PRESSURE_PA, required=False, decimals=1, label=mark("Its air pressure"),
        help_text=mark("Only if a barometer there shows it. A forecast gives it for sea level, which is another figure."),
    )  # fmt: skip


_FIELDS = ("name", "altitude_m", "zone", "pressure_pa")


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: Asked) -> HttpResponse:
    """A new place."""
    voice = request.voice
    form = PlaceForm(request.POST or None, voice=voice, initial={"zone": zone_guess(request)[0]})
    page = FormPage(
        title=voice.say(mark("A new place")), form=form, parts=(Part(heading="", lines=lines(form, *_FIELDS)),),
        save=voice.say(mark("Keep this place")), back=voice.say(mark("Back to the machines")), back_to="/machines/",
        has_zone=True,
    )  # fmt: skip

    def change() -> Change:
        place = m.Place(uid=form.own_uid)
        fill(place, form, *_FIELDS)
        return Change(verb="make", to="/machines/", save=(place,), subject=place.name)

    return answer(request, page, change)


@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: Asked, uid: str) -> HttpResponse:
    """A place that is there: change it, or take it away if no machine stands in it."""
    voice, place = request.voice, one(m.Place, uid)
    asked_away, first = "away" in request.POST, values(as_begun(request, place)[0], *_FIELDS)
    form = PlaceForm(None if asked_away else request.POST or None, voice=voice, initial=first)
    page = FormPage(
        title=place.name, form=form, parts=(Part(heading="", lines=lines(form, *_FIELDS)),), save=voice.say(mark("Keep this")),
        back=voice.say(mark("Back to the machines")), back_to="/machines/", has_zone=True,
        away=voice.say(mark("Take this place away")),
    )  # fmt: skip

    def change() -> Change:
        fill(place, form, *_FIELDS)
        return Change(verb="change", to="/machines/", save=(place,), subject=place.name)

    if asked_away:
        return away(request, page, (place,), "delete", place.name, "/machines/")
    return answer(request, page, change)
