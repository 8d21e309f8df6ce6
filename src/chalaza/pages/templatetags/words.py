"""Tags for sentences and figures. They are there in every template without loading.

    {% say "Lost {loss} of {planned}." loss=page.loss planned=page.planned %}     a sentence with holes
    {% say_n page.eggs "{n} egg" "{n} eggs" %}                                    with a plural; {n} is the number
    {% figure estimate "temperature" %}      value, unit, 90 % range (a style of words.numbers)
    {% quantity value "mass" %}              value and unit, no range
    {% moment at %} {% date at %}            in the zone of the voice
    {% static_file "base.css" %}             address of a static file
    {% tally level %}                        how much it asks: 0 good, 1 watch, 2 act, 3 now

Every text a person reads goes through `say`; holes are escaped. `voice` is in every context.
"""

from typing import Any

from django import forms, template
from django.forms.boundfield import BoundField
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from chalaza.pages import static_files
from chalaza.values.advice import Level
from chalaza.values.estimate import Estimate
from chalaza.words import numbers
from chalaza.words.numbers import Voice

register = template.Library()


def _voice(context: template.Context) -> Voice:
    return context.get("voice") or Voice()


def _escaped(holes: dict[str, Any]) -> dict[str, str]:
    return {name: conditional_escape(value) for name, value in holes.items()}


def _safe(said: str, text: Any) -> str:
    """A looked-up text as it may stand in a page: what a template wrote is trusted, all else is escaped."""
    return said if hasattr(text, "__html__") else conditional_escape(said)


@register.simple_tag(takes_context=True)
def say(context: template.Context, text: str, **holes: Any) -> SafeString:
    """A sentence in the reader's language. Without holes nothing is filled in: what was typed may hold braces."""
    said = _safe(_voice(context).language.gettext(str(text)) if text else "", text)
    return mark_safe(said.format_map(_escaped(holes)) if holes else said)


@register.simple_tag(takes_context=True)
def say_n(context: template.Context, n: int, one: str, many: str, **holes: Any) -> SafeString:
    """A sentence whose form depends on a number."""
    said = _safe(_voice(context).language.ngettext(str(one), str(many), n), one)
    return mark_safe(said.format_map({"n": str(n), **_escaped(holes)}))


@register.simple_tag(takes_context=True)
def figure(context: template.Context, value: Estimate, style: str) -> SafeString:
    """A figure with its 90 % range."""
    text = numbers.quantity(_voice(context), value, style)
    value_text, bracket, rest = text.partition(f"{numbers.NB}(")
    if not bracket:
        return format_html('<span class="est">{}</span>', text)
    return format_html('<span class="est">{} <span class="r">({}</span></span>', value_text, rest)


@register.simple_tag(takes_context=True)
def quantity(context: template.Context, value: float | None, style: str) -> str:
    """A value with its unit; nothing for no value."""
    if value is None:
        return ""
    return numbers.quantity(_voice(context), value, style)


@register.simple_tag(takes_context=True)
def moment(context: template.Context, at: float) -> str:
    """Day and hour."""
    return numbers.moment(_voice(context), at)


@register.simple_tag(takes_context=True)
def date(context: template.Context, at: float) -> str:
    """The day."""
    return numbers.date(_voice(context), at)


@register.simple_tag
def static_file(name: str) -> str:
    """Address of a static file."""
    return static_files.address(name)


_STROKES = {
    Level.GOOD: "M3 10h6",
    Level.WATCH: "M4 2v14",
    Level.ACT: "M4 2v14M11 2v14",
    Level.NOW: "M4 2v14M9 2v14M14 2v14M1 13L18 5",
}


@register.simple_tag
def tally(level: int) -> SafeString:
    """The strokes that say how much is asked. The word always stands beside them."""
    return format_html(
        '<svg class="tally" viewBox="0 0 22 18" aria-hidden="true"><path d="{}"/></svg>', _STROKES[Level(level)]
    )


@register.simple_tag(takes_context=True)
def widget(context: template.Context, field: BoundField) -> SafeString:
    """The control of a form field, tied to its hint and to what is wrong; choices in the reader's language."""
    described = [f"{field.id_for_label}-hint"] if field.help_text else []
    described += [f"{field.id_for_label}-wrong{i}" for i, _ in enumerate(field.errors, start=1)]
    attrs: dict[str, Any] = {"aria-describedby": " ".join(described)} if described else {}
    if field.errors:
        attrs["aria-invalid"] = "true"
    if isinstance(field.field, forms.ChoiceField):
        voice = _voice(context)
        pairs: Any = field.field.choices  # pairs, by `Pick`
        field.field.widget.choices = [
            (value, voice.language.gettext(str(label)) if label else "") for value, label in pairs
        ]
    return field.as_widget(attrs=attrs)
