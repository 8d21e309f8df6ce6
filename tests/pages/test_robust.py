"""Whatever is sent: no page fails, nothing is stored that was not taken, and what was typed comes back with what is wrong.

Every route of the application is tried, over the demonstration, with the fields its own page holds and with others.
"""

import json

#: Examples for a route; the long form tries each route some hundred times.
import os
import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from urllib.parse import quote, quote_from_bytes

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tests.browser import Browser
from tests.pages.entering import _Any

from chalaza.records import models as m

_FEW = int(os.environ.get("ROBUST", max(3, settings.default.max_examples // 10)))
#: Routes that a test does not open: they end what is going on, or answer with a stream that another test reads.
_NOT = frozenset({"patterns/", "notebook/backup/", "notebook/restore/", "notebook/copies/<str:name>/put-back/"})
_BIG = "9" * 400
_NASTY = (
    b"",
    b" ",
    b"0",
    b"-1",
    b"-0",
    b"NaN",
    b"inf",
    b"-inf",
    b"1e400",
    b"1e-400",
    _BIG.encode(),
    b"0x1F",
    b"1_000",
    b"1,5",
    b"12 34",
    b"+",
    b"--",
    b"\x00",
    b"a\x00b",
    b"\xed\xa0\x80",
    b"\xff\xfe",
    "💥🐣".encode(),
    "שלום\u202e".encode(),
    "٣٧".encode(),
    "½".encode(),
    "²".encode(),
    b"'\"><script>alert(1)</script>",
    b"{{ voice }}{% now %}",
    b"%s%(x)s{0}{n}",
    b"../../etc/passwd",
    b"a/b",
    b"~s~t~",
    b"all",
    b"None",
    b"null",
    b"true",
    b"[]",
    b"{}",
    b"on",
    b"0000-01-01T00:00",
    b"0001-01-01T00:00",
    b"9999-12-31T23:59",
    b"2026-02-30T10:00",
    b"2026-03-29T02:30",
    b"2026-10-25T02:30",
    b"2026-04-17T25:00",
    b"-62135596800",
    b"253402300799",
    b"99999999999999999999",
    b"37.6 F",
    b"99.5 \xc2\xb0F",
    b"-300 C",
    b"50 g",
    b"2 lb 3 oz",
    b"40 \xc2\xb0",
    b"x" * 20_000,
    "e\u0301\u0323".encode() * 400,
    b"=1+1",
    b"\r\n\r\n",
    b"\t",
)
_UIDS = (
    "nobody",
    "a~sb",
    "'",
    '"',
    "%25",
    "%00",
    "%0a",
    "%F0%9F%92%A5",
    "%D7%A9",
    "%E2%80%AE",
    "%ED%A0%80",
    "%FF",
    "..%2f",
    "~",
    "~x",
    "a" * 300,
    "%27%20OR%201=1--",
    "<script>",
    "{{x}}",
    " ",
    "all",
    "0",
    "-1",
)


def _patterns(found: Any = None, stem: str = "") -> Iterator[str]:
    for one in get_resolver().url_patterns if found is None else found:
        route = stem + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from _patterns(one.url_patterns, route)
        elif isinstance(one, URLPattern):
            yield route


ROUTES = tuple(sorted(route for route in set(_patterns()) if route not in _NOT))
_HOLE = re.compile(r"<(?:(\w+):)?(\w+)>")


class _Found:
    """Rows of the notebook by the first part of an address."""

    def __init__(self) -> None:
        batches = [str(one) for one in m.Batch.objects.values_list("uid", flat=True)]
        source = m.Source.objects.first()
        act = m.Act.objects.order_by("-id").first()
        assert source is not None
        assert act is not None
        self.uids = {
            "batches": batches,
            "machines": self._all(m.Machine),
            "probes": self._all(m.Probe),
            "lots": self._all(m.Lot),
            "stays": self._all(m.Stay),
            "places": self._all(m.Place),
            "mounts": self._all(m.Mount),
            "checks": self._all(m.ProbeCheck),
            "parents": self._all(m.Parents),
            "logs": [source.uid],
            "undo": [act.uid],
            "facts": ["hen", "emu", "duck"],
        }
        self.names = {
            "name": ["warmth", "water", "clock", "count", "term"],
            "figure": ["clock.hatch_at", "water.loss_now", "said:candle"],
            "code": ["abc"],
        }

    @staticmethod
    def _all(model: Any) -> list[str]:
        return [str(one) for one in model.objects.order_by("id").values_list("uid", flat=True)[:3]]

    def known(self, route: str, hole: str) -> list[str]:
        first = route.split("/")[0]
        if hole == "uid" or first == "facts":
            return self.uids.get(first) or ["nobody"]
        return self.names.get(hole, ["nobody"])


def _address(found: _Found, route: str, draw: Any, odd: bool) -> str:
    def put(hole: re.Match[str]) -> str:
        known = [quote(one.replace("~", "~t").replace("/", "~s"), safe="~") for one in found.known(route, hole[2])]
        return draw(st.sampled_from([*known, *_UIDS] if odd else known))

    return "/" + _HOLE.sub(put, route)


def _held(pages: Client, path: str) -> dict[str, str]:
    """What all forms of a page hold, and the names of what may be written; empty for a page that is none."""
    answer = pages.get(path)
    if answer.streaming:
        for close in answer._resource_closers:  # a download holds a file; `close` would end the connection too
            close()
        return {}
    if answer.status_code != 200 or not answer.headers["Content-Type"].startswith("text/html"):
        return {}
    form = _Any()
    form.feed(answer.content.decode())
    form.close()
    return {**dict.fromkeys(sorted(form.names), ""), **form.values, **dict(form.buttons[:1])}


_TEXTS = st.one_of(
    st.sampled_from(_NASTY),
    st.binary(max_size=30),
    st.text(max_size=30).map(lambda one: one.encode("utf-8", "surrogatepass")),
)
_EXTRA = (
    "uid",
    "at",
    "at_s",
    "session",
    "back",
    "key",
    "untick",
    "reopen",
    "answer_at",
    "keep_at",
    "read",
    "leave",
    "delete",
    "away",
    "new",
    "f-x",
    "g-x",
    "scale",
    "tare",
    "page",
    "done",
    "batch",
    "machine",
    "zone",
    "sort",
    "to",
    "from",
)


def _body(draw: Any, held: Mapping[str, str]) -> bytes:
    """A form as it was held, with some fields left out, written over, or sent twice."""
    names = sorted({*held, *_EXTRA})
    fields = [(name, value.encode()) for name, value in held.items()]
    for _ in range(draw(st.integers(0, 3))):
        name, how = (
            draw(st.sampled_from(names)),
            draw(st.sampled_from(["over", "over", "over", "twice", "without", "array"])),
        )
        if how != "twice":
            fields = [one for one in fields if one[0] != name]
        if how != "without":
            fields.append((f"{name}[]" if how == "array" else name, draw(_TEXTS)))
    return b"&".join(quote(name).encode() + b"=" + quote_from_bytes(value).encode() for name, value in fields)


_SORTS = ("application/x-www-form-urlencoded",) * 8 + (
    "application/json",
    "multipart/form-data",
    "multipart/form-data; boundary=x",
    "text/plain",
    "",
    "application/x-www-form-urlencoded; charset=utf-16",
    "application/x-www-form-urlencoded; charset=nonsense",
)


def _state() -> str:
    """All that is kept, but for what is remembered of a page that was looked at."""
    counted = {}
    for model in m.Act._meta.apps.get_app_config("records").get_models():
        if model not in (m.Answer, m.Forecast):
            last = model._default_manager.order_by("-pk").values_list("pk", flat=True).first()
            counted[model.__name__] = (model._default_manager.count(), last)
    batches = list(m.Batch.objects.order_by("id").values_list("uid", "revision"))
    return json.dumps([counted, batches])


@contextmanager
def _taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.mark.parametrize("route", ROUTES)
def test_whatever_is_sent_a_page_answers_and_nothing_is_stored_that_was_not_taken(
    route: str, shown: Mapping[str, m.Batch]
) -> None:
    pages, found = Browser(), _Found()
    seen: dict[str, dict[str, str]] = {}

    @settings(max_examples=_FEW, phases=[Phase.generate])
    @given(data=st.data())
    def tried(data: st.DataObject) -> None:
        path = _address(found, route, data.draw, odd=data.draw(st.integers(0, 5)) == 0)
        if path not in seen:
            seen[path] = _held(pages, path)
        body, sort = _body(data.draw, seen[path]), data.draw(st.sampled_from(_SORTS))
        script = {"outbox": "1"} if data.draw(st.integers(0, 6)) == 0 else {}
        with _taken_back():
            before = _state()
            answer = pages.generic("POST", path, body, sort, headers=script)
            said = f"{path} {sort} {body[:600]!r} -> {answer.status_code}"
            assert answer.status_code < 500, said
            if answer.status_code >= 400:
                assert _state() == before, said
            if answer.status_code == 422 and not script and path != "/phones/":  # without --home it says how to start
                _comes_back(answer, said)

    tried()


def _comes_back(answer: Any, said: str) -> None:
    text = answer.content.decode()
    assert "Traceback" not in text, said
    assert re.search(r'role="alert"|class="[^"]*(?:error|wrong|ask|refus|question|problem)', text), said


@pytest.mark.parametrize("route", ROUTES)
def test_every_page_answers_to_any_address(route: str, shown: Mapping[str, m.Batch]) -> None:
    pages, found = Browser(), _Found()

    @settings(max_examples=_FEW, phases=[Phase.generate])
    @given(data=st.data())
    def tried(data: st.DataObject) -> None:
        path = _address(found, route, data.draw, odd=data.draw(st.booleans()))
        names = data.draw(st.lists(st.sampled_from(_EXTRA), max_size=3))
        query = "&".join(f"{name}={quote_from_bytes(data.draw(_TEXTS))[:2000]}" for name in names)
        htmx = {"HX-Request": "true"} if data.draw(st.booleans()) else {}
        with _taken_back():
            before = _state()
            answer = pages.get(f"{path}?{query}", headers=htmx)
            if answer.streaming:
                b"".join(answer)  # type: ignore[arg-type]
            assert answer.status_code < 500, f"{path}?{query}"
            assert _state() == before, f"{path}?{query}"

    tried()
