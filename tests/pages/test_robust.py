"""Whatever is sent: no page fails, nothing is stored that was not taken, and what is wrong is said.

Every route of the application is tried over the demonstration, with the fields its own page holds and with others. What
a caller sees of an answer is tested; which answer it is, is tested where the page is.
"""

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from urllib.parse import quote, quote_from_bytes

import pytest
from django.db import transaction
from django.test import Client
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from tests.browser import Browser
from tests.browser.routes import routes
from tests.pages.entering import _Any

from chalaza.records import models as m

#: Examples for a route. The long form (`make soak`) tries each some hundred times.
_SENT, _ASKED = max(6, settings.default.max_examples // 10), max(3, settings.default.max_examples // 20)
_HOLE = re.compile(r"<(?:(\w+):)?(\w+)>")
_TOLD = re.compile(r'class="[^"]*(?:error|wrong|ask|refus|question|problem)|role="alert"|chalaza serve --home')

_TEXTS = (
    b"", b" ", b"\t", b"\r\n\r\n", b"0", b"-1", b"-0", b"NaN", b"inf", b"-inf", b"1e400", b"1e-400", b"9" * 400, b"0x1F",
    b"1_000", b"1,5", b"12 34", b"+", b"--", b"\x00", b"a\x00b", b"\xed\xa0\x80", b"\xff\xfe", "\u0661\u0662".encode(),
    "½".encode(), "²".encode(), "\U0001f4a5\U0001f423".encode(), "שלום\u202e".encode(), "e\u0301\u0323".encode() * 400,
    b"'\"><script>alert(1)</script>", b"{{ voice }}{% now %}", b"%s%(x)s{0}{n}", b"../../etc/passwd", b"a/b", b"~s~t~",
    b"all", b"None", b"null", b"true", b"[]", b"{}", b"on", b"=1+1", b"x" * 20_000,
    b"0000-01-01T00:00", b"0001-01-01T00:00", b"9999-12-31T23:59", b"2026-02-30T10:00", b"2026-03-29T02:30",
    b"2026-10-25T02:30", b"2026-04-17T25:00", b"-62135596800", b"253402300799", b"99999999999999999999",
    b"37.6 F", b"99.5 \xc2\xb0F", b"-300 C", b"50 g", b"2 lb 3 oz",
)  # fmt: skip
_UIDS = (
    "nobody", "a~sb", "'", '"', "%25", "%00", "%0a", "%F0%9F%92%A5", "%D7%A9", "%E2%80%AE", "%ED%A0%80", "%FF", "..%2f",
    "~", "~x", "a" * 300, "%27%20OR%201=1--", "<script>", "{{x}}", "%20", "all", "0", "-1",
)  # fmt: skip
#: Fields that some page knows, beside those that the page at hand holds.
_FIELDS = (
    "uid", "at", "at_s", "session", "back", "key", "untick", "reopen", "answer_at", "keep_at", "read", "leave", "away",
    "new", "f-x", "g-x", "scale", "tare", "page", "done", "batch", "machine", "zone", "sort", "window", "width", "paper",
    "kind", "airflow", "fresh",
)  # fmt: skip
_PLAIN = "application/x-www-form-urlencoded"
_SORTS = (
    *[_PLAIN] * 8, "application/json", "multipart/form-data", "multipart/form-data; boundary=x", "text/plain", "",
    f"{_PLAIN}; charset=utf-16", f"{_PLAIN}; charset=nonsense",
)  # fmt: skip
_WRITTEN = st.one_of(st.sampled_from(_TEXTS), st.binary(max_size=30))


class _Rows:
    """Rows of the notebook by the first part of their address."""

    def __init__(self) -> None:
        models = {
            "batches": m.Batch, "machines": m.Machine, "probes": m.Probe, "lots": m.Lot, "stays": m.Stay,
            "places": m.Place, "mounts": m.Mount, "checks": m.ProbeCheck, "parents": m.Parents, "logs": m.Source,
        }  # fmt: skip
        self.uids = {what: [str(one.uid) for one in model.objects.order_by("id")[:3]] for what, model in models.items()}
        self.uids |= {"undo": [str(one.uid) for one in m.Act.objects.order_by("-id")[:2]], "facts": ["hen", "emu"]}
        self.names = {"name": ["warmth", "water", "clock"], "figure": ["clock.half_hatched", "water.loss_now"]}

    def of(self, route: str, hole: str) -> list[str]:
        what = route.split("/")[0]
        known = self.uids.get(what) if hole == "uid" or what == "facts" else self.names.get(hole)
        return [quote(one.replace("~", "~t").replace("/", "~s"), safe="~") for one in known or ["nobody"]]

    def path(self, route: str, draw: Any, odd: bool) -> str:
        """An address that leads to a route; an `odd` one perhaps by names that no row has."""
        return "/" + _HOLE.sub(lambda hole: draw(st.sampled_from(self.of(route, hole[2]) + list(_UIDS) * odd)), route)


@contextmanager
def _taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def _state() -> tuple[Any, ...]:
    """What is kept: how much there is of everything but answers, and the revisions of the batches."""
    models = m.Act._meta.apps.get_app_config("records").get_models()
    kept = [model._default_manager for model in models if model not in (m.Answer, m.Forecast)]
    newest = [(one.count(), one.order_by("-pk").values_list("pk", flat=True).first()) for one in kept]
    return tuple(newest), tuple(m.Batch.objects.order_by("id").values_list("uid", "revision"))


def _held(pages: Client, path: str) -> dict[str, str]:
    """What the form of a page holds, and the names of its empty fields; nothing for a page without one."""
    answer = pages.get(path)
    if answer.streaming:
        list(answer)
    if answer.status_code != 200 or answer.streaming or not answer.headers["Content-Type"].startswith("text/html"):
        return {}
    form = _Any()
    form.feed(re.sub(r"(?s)<textarea(?![^>]*name=).*?</textarea>", "", answer.content.decode()))
    form.close()
    return {**dict.fromkeys(sorted(form.names), ""), **form.values, **dict(form.buttons[:1])}


def _body(draw: Any, held: Mapping[str, str]) -> bytes:
    """A form as it was held, with some fields left out, written over, sent twice, or sent as a list."""
    names, fields = sorted({*held, *_FIELDS}), [(name, value.encode()) for name, value in held.items()]
    for _ in range(draw(st.integers(0, 3))):
        name, how = draw(st.sampled_from(names)), draw(st.sampled_from(["over", "over", "twice", "without", "list"]))
        if how != "twice":
            fields = [one for one in fields if one[0] != name]
        if how != "without":
            fields.append((f"{name}[]" if how == "list" else name, draw(_WRITTEN)))
    return b"&".join(quote(name).encode() + b"=" + quote_from_bytes(value).encode() for name, value in fields)


@pytest.mark.parametrize("route", sorted(set(routes())))
def test_whatever_is_sent_nothing_fails_and_nothing_is_stored_that_was_refused(
    route: str, shown: Mapping[str, m.Batch]
) -> None:
    pages, rows, held = Browser(), _Rows(), dict[str, dict[str, str]]()
    if pages.post(_Rows().path(route, lambda found: found.elements[0], odd=False)).status_code == 405:
        return
    before = _state()

    @settings(max_examples=_SENT, phases=[Phase.generate])
    @given(data=st.data())
    def tried(data: st.DataObject) -> None:
        path = rows.path(route, data.draw, odd=data.draw(st.integers(0, 5)) == 0)
        held[path] = held.get(path) or _held(pages, path)
        body, sort = _body(data.draw, held[path]), data.draw(st.sampled_from(_SORTS))
        script = {"outbox": "1"} if data.draw(st.integers(0, 6)) == 0 else {}
        with _taken_back():
            answer = pages.generic("POST", path, body, sort, headers=script)
            said = f"{path} {sort} {script} {body[:600]!r}: {answer.status_code}"
            assert answer.status_code < 500, said
            if answer.status_code >= 400:
                assert _state() == before, said
            if answer.status_code == 422 and not script:
                assert _TOLD.search(answer.content.decode()), said

    with _taken_back():
        tried()


@pytest.mark.parametrize("route", sorted(set(routes())))
def test_every_page_answers_to_any_address_and_changes_nothing(route: str, shown: Mapping[str, m.Batch]) -> None:
    pages, rows, before = Browser(), _Rows(), _state()

    @settings(max_examples=_ASKED, phases=[Phase.generate])
    @given(data=st.data())
    def tried(data: st.DataObject) -> None:
        path = rows.path(route, data.draw, odd=data.draw(st.booleans()))
        names = data.draw(st.lists(st.sampled_from(_FIELDS), max_size=3))
        query = "&".join(f"{name}={quote_from_bytes(data.draw(_WRITTEN))[:2000]}" for name in names)
        htmx = {"HX-Request": "true"} if data.draw(st.booleans()) else {}
        answer = pages.get(f"{path}?{query}", headers=htmx)
        if answer.streaming:
            list(answer)
        assert answer.status_code < 500, f"{path}?{query}"
        assert _state() == before, f"{path}?{query}"

    tried()
