"""Finds text on a page that went through no lookup: with the pseudo-language every sentence stands in its brackets.

    pages.get(...) with `speak_pseudo()` before; then
    assert unmarked(answer.content.decode(), "Speckled hens", "Larder box") == []

What a reader sees or hears is looked at: text, and the attributes that are read aloud. Outside the brackets only figures,
units and what the keeper wrote may stand; the latter is given by the test.
"""

import re
from collections.abc import Iterable
from html.parser import HTMLParser

from chalaza.records import models as m
from chalaza.words.language import CLOSE, OPEN, PSEUDO

#: Attributes that are read aloud or shown.
_SPOKEN = ("aria-label", "alt", "title", "placeholder")
_HIDDEN = ("script", "style")
_UNIT = "(?:°C·h|°F·h|°C/°C|°C|°F|%|mg/\\(d·g·torr\\)|mg/\\(d g torr\\)|g|oz|mm|in|m|ft|d|h|min|K|L|cm²)"
_NUMBER = r"[-+−±~]?\s*\d[\d.,:\u00a0 ]*"
#: A figure with its unit, a unit alone after a comma or in a head, a uid that was never named.
_PLAIN = re.compile(
    rf"{_NUMBER}(?:[-–…×/]\s*{_NUMBER})*\s*{_UNIT}?(?![a-zA-Z])"
    rf"|(?:^|, )\s*{_UNIT}(?=$|[\s,)])|(?<=[\s(]){_UNIT}(?=$|[\s,)])"
)


def speak_pseudo() -> None:
    """Let the keeper of the test's notebook read the pseudo-language."""
    keeper = m.Keeper.objects.the_one()
    m.Keeper.objects.filter(pk=keeper.pk).update(language=PSEUDO)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in _HIDDEN
        given = dict(attrs)
        self.found += [str(given[name]) for name in _SPOKEN if given.get(name)]
        if tag == "input" and given.get("type") in ("submit", "button") and given.get("value"):
            self.found.append(str(given["value"]))

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in _HIDDEN

    def handle_data(self, data: str) -> None:
        if not self.hidden and data.strip():
            self.found.append(data.strip())


def unmarked(html: str, *known: str) -> list[str]:
    """Pieces of text outside the brackets that are neither figures, units, nor among `known` (what a keeper wrote)."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    depth, out = 0, []
    for text in reader.found:
        outside, depth = _outside(text, depth)
        if _left(outside, known):
            out.append(text)
    return out


def _outside(text: str, depth: int) -> tuple[str, int]:
    """What of a text stands outside all brackets, and how deep in brackets it ends."""
    kept = []
    for sign in text:
        if sign == OPEN:
            depth += 1
        elif sign == CLOSE:
            depth -= 1
        elif depth == 0:
            kept.append(sign)
    return "".join(kept), depth


def _left(text: str, known: Iterable[str]) -> bool:
    """Whether a letter is left when figures, units and what is known are taken out."""
    for one in sorted(known, key=len, reverse=True):
        text = text.replace(one, " ")
    return bool(re.search(r"[^\W\d_]", _PLAIN.sub(" ", text)))


def keepers_words() -> tuple[str, ...]:
    """Everything a keeper has written in the notebook of the test: names, labels, notes; and the sources as cited."""
    from chalaza import facts

    found: set[str] = set()
    for model, fields in (
        (m.Batch, ("name", "note")), (m.Machine, ("name", "note")), (m.Probe, ("name",)), (m.Place, ("name",)),
        (m.Parents, ("name",)), (m.Egg, ("label",)), (m.Note, ("text",)), (m.Source, ("name",)), (m.Event, ("note",)),
    ):  # fmt: skip
        for row in model._default_manager.values_list(*fields):
            found |= {str(value) for value in row if value}
    return (*found, *(one.cite for one in facts.sources().values()))
