"""How one reads: units, language, light and dark, the clock."""

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza.pages.forms import Pick, Words
from chalaza.pages.keeper import Asked
from chalaza.pages.setup.common import Change, FormPage, Part, SetForm, answer, as_begun, fill, lines, values
from chalaza.pages.setup.fields import Ticks, ZoneField
from chalaza.records import models as m
from chalaza.records.models.keeper import Theme
from chalaza.words import things
from chalaza.words.language import languages, mark

THEMES = {
    Theme.DEVICE: mark("as this device has it"),
    Theme.LIGHT: mark("light, for the day"),
    Theme.DARK: mark("dark, for a dim room"),
}
#: What languages call themselves.
_OWN_NAMES = {"en": "English", "de": "Deutsch", "fr": "Français", "nl": "Nederlands", "es": "Español", "it": "Italiano"}
_FIELDS = ("units", "theme", "language", "zone", "name")


class ReadingForm(SetForm):
    """What a keeper wants to read."""

    units = Ticks(choices=list(things.PREFERENCES.items()), label=mark("Units"))
    theme = Ticks(choices=list(THEMES.items()), label=mark("Light or dark"))
    language = Pick(label=mark("Language"))
    zone = ZoneField(max_length=64, label=mark("Time zone"), help_text=mark("For what belongs to no place of its own."))
    name = Words(
        max_length=80, required=False, label=mark("Your name"), help_text=mark("It stands beside what was done.")
    )


@require_http_methods(["GET", "HEAD", "POST"])
def reading(request: Asked) -> HttpResponse:
    """Preferences of the keeper."""
    voice = request.voice
    keeper = m.Keeper.objects.get(pk=request.keeper.pk)
    form = ReadingForm(request.POST or None, voice=voice, initial=values(as_begun(request, keeper)[0], *_FIELDS))
    field = form.fields["language"]
    if isinstance(field, Pick):
        known = dict.fromkeys((*languages(), keeper.language))
        field.choices = [(name, _OWN_NAMES.get(name, name)) for name in known]
    page = FormPage(
        title=voice.say(mark("How you read")), form=form, save=voice.say(mark("Read it so")), back=voice.say(mark("Back")),
        parts=(Part(heading="", lines=lines(form, *_FIELDS)),), back_to="/", place="reading", has_zone=True,
        lead=voice.say(mark("What you type may carry its unit, whichever you choose here: 99.5 °F, 2 oz, 460 ft.")),
    )  # fmt: skip

    def change() -> Change:
        fill(keeper, form, *_FIELDS)
        return Change(verb="change", to="/reading/", save=(keeper,), subject=voice.say(mark("how you read")))

    return answer(request, page, change)
