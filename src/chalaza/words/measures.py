"""What to measure next, in words: the check, how it is done in one line, and what it would narrow."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza.errors import ChalazaError
from chalaza.values.answers import Offer
from chalaza.words import numbers
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


@dataclass(frozen=True, slots=True)
class Check:
    """A check: what to do, how in one line, and the keys of its cautions."""

    name: str
    how: str
    cautions: tuple[str, ...] = ()


CHECKS: Mapping[str, Check] = MappingProxyType(
    {
        "ice": Check(
            mark("Check the thermometer in ice water."),
            mark("Crushed ice with a little water, stirred: 0 °C. Note what the probe shows after 3 minutes."),
            ("ice_only",),
        ),
        "compare": Check(
            mark("Compare the probe with a clinical thermometer."),
            mark("Both in a flask of stirred water near 37.5 °C. Note both readings."),
            ("infrared",),
        ),
        "salt": Check(
            mark("Check the hygrometer over wet salt."),
            mark("A closed bag with wet table salt: 75 % after a night. Note what the display shows."),
            ("salts",),
        ),
        "weigh_three": Check(
            mark("Weigh 3 eggs."),
            mark("The same 3 eggs each time, on a scale that shows 0.1 g."),
            ("misting_weigh", "wash_hands"),
        ),
        "weigh_all": Check(
            mark("Weigh all eggs."),
            mark("One by one or on the tray, on the same scale as before."),
            ("misting_weigh", "wash_hands"),
        ),
        "candle": Check(
            mark("Candle the eggs."),
            mark("In the dark, the blunt end to the light. “Unsure” is an answer."),
            ("wash_hands", "one_look"),
        ),
    }
)  # fmt: skip

_HATCH = mark("It would narrow the hatch forecast from {before} to {after}.")
_LOSS = mark("It would narrow the loss by lockdown from {before} to {after}.")
_YOUNG = mark("It would narrow the number of young from {before} to {after}.")
#: A range must shrink by this share before it is named.
_WORTH = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """An offer in words. `narrows` is empty where no range would shrink by a twentieth."""

    code: str
    do: str
    how: str
    time: str
    narrows: tuple[str, ...]
    cautions: tuple[str, ...]


def say(voice: Voice, offer: Offer) -> Offered:
    """An offer in words. Raises `ChalazaError` for a code without words (our bug)."""
    if offer.code not in CHECKS:
        raise ChalazaError(f"no words for the check {offer.code!r}")
    check = CHECKS[offer.code]
    minutes = max(1, round(offer.minutes))
    spans = (
        (_HATCH, offer.hatch_before_h, offer.hatch_after_h, "hours"),
        (_LOSS, offer.loss_before, offer.loss_after, "loss"),
        (_YOUNG, offer.young_before, offer.young_after, "young"),
    )
    said = (_narrows(voice, *span) for span in spans)
    return Offered(
        code=offer.code,
        do=voice.say(check.name),
        how=voice.say(check.how),
        time=voice.language.ngettext("{n} minute.", "{n} minutes.", minutes).format(n=minutes),
        narrows=tuple(one for one in said if one),
        cautions=check.cautions,
    )


def _narrows(voice: Voice, text: str, before: float, after: float, style: str) -> str:
    """The sentence, if the range shrinks by enough to be seen in what is printed."""
    shown = [numbers.half_width(voice, each, style) for each in (before, after)]
    if before <= 0 or after > (1.0 - _WORTH) * before or shown[0] == shown[1]:
        return ""
    return voice.say(text, {"before": shown[0], "after": shown[1]})
