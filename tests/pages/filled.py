"""Fills in a form as a browser does: what the page holds already is sent along, with what is written over it."""

from html.parser import HTMLParser
from typing import Any

from django.test import Client


class _Form(HTMLParser):
    """The fields of the first form of a page that is sent by POST and has the class `setup`."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.values: dict[str, str] = {}
        self.names: set[str] = set()
        self.needed: set[str] = set()
        self.inside = self.seen = False
        self.area = self.select = ""
        self.first: str | None = None
        self.buttons: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = not self.seen and given.get("method") == "post" and "setup" in given.get("class", "")
            self.seen |= self.inside
        if not self.inside:
            return
        name = given.get("name", "")
        if tag in ("input", "select", "textarea") and name:
            self.names.add(name)
            self.needed |= {name} if "required" in given else set()
        if tag == "input" and name and (given.get("type") not in ("radio", "checkbox") or "checked" in given):
            self.values[name] = given.get("value", "on" if given.get("type") == "checkbox" else "")
        elif tag == "button" and name:
            self.buttons.append((name, given.get("value", "")))
        elif tag == "textarea":
            self.area, self.values[name] = name, ""
        elif tag == "select":
            self.select, self.first = name, None
        elif tag == "option" and self.select:
            self.first = given.get("value", "") if self.first is None else self.first
            if "selected" in given:
                self.values[self.select] = given.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = False
        elif tag == "textarea":
            self.values[self.area] = self.values[self.area].removeprefix("\n")
            self.area = ""
        elif tag == "select" and self.select:
            self.values.setdefault(self.select, self.first or "")
            self.select = ""

    def handle_data(self, data: str) -> None:
        if self.area:
            self.values[self.area] += data


def form_of(html: str) -> _Form:
    """The form of a page."""
    form = _Form()
    form.feed(html)
    form.close()
    return form


def fields(pages: Client, url: str) -> dict[str, str]:
    """What the form of a page holds already."""
    return form_of(pages.get(url).content.decode()).values


def send(pages: Client, url: str, **written: str) -> Any:
    """The answer to a form that is sent with these fields written over; a field set to "-" is left out."""
    data = {**fields(pages, url), **written}
    return pages.post(url, {name: value for name, value in data.items() if value != "-"})


def again(pages: Client, url: str, answer: Any, **written: str) -> Any:
    """The answer to the form that came back, sent again with what is written over."""
    data = {**form_of(answer.content.decode()).values, **written}
    return pages.post(url, {name: value for name, value in data.items() if value != "-"})
