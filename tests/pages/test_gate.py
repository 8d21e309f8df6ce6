"""The gate: which names we answer to, what another site may do (nothing), who is let in, and what every answer carries."""

import json
from collections.abc import Iterator
from itertools import product
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from tests.browser import Browser
from tests.records.demo import NOW, put_all

from chalaza.pages import gate
from chalaza.records import devices
from chalaza.records import models as m

OWN = "192.168.7.5"
PHONE = "192.168.7.23"
ORIGIN = "http://127.0.0.1:8765"


def _from_home(**more: Any) -> Browser:
    """A browser of a phone on the home network, as the server tells of it."""
    return Browser(OWN, **{"REMOTE_ADDR": PHONE, gate.ADDRESSES: (OWN,)} | more)


def _let_in(client: Browser, now: int) -> m.Device:
    device, token = devices.let_in(devices.new_code(now), "Phone", m.Keeper.objects.the_one(), now)
    client.cookies[settings.DEVICE_COOKIE_NAME] = token
    return device


# Names


@pytest.mark.parametrize("host", ["127.0.0.1:8765", "localhost:8765", "LOCALHOST:8765", "[::1]:8765"])
def test_our_own_names_with_our_port_are_answered(pages: Client, host: str) -> None:
    assert pages.get("/phones/", HTTP_HOST=host).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8765", "127.0.0.1", "localhost", "127.0.0.1:80", "127.0.0.1:8766", "127.0.0.2:8765",
     "127.0.0.1:8765.evil.example", "127.0.0.1.evil.example:8765", "localhost.:8765", "[::1]", "::1:8765", "0.0.0.0:8765",
     "user@127.0.0.1:8765", "127.0.0.1:8765,evil.example", "127.0.0.1:08765", f"{OWN}:8765", "x" * 5000, "\udcff", " "],
)  # fmt: skip
def test_any_other_name_gets_400_and_nothing_of_the_notebook(pages: Client, host: str) -> None:
    answer = pages.get("/phones/", HTTP_HOST=host)
    assert answer.status_code == 400
    assert b"does not answer to this address" in answer.content
    assert answer.headers["Content-Type"] == "text/plain; charset=utf-8"


def test_a_request_without_a_name_is_known_by_the_servers_own(pages: Client) -> None:
    assert pages.get("/phones/", HTTP_HOST="").status_code == 400


def test_the_port_may_be_left_out_only_where_it_is_the_usual_one(pages: Client) -> None:
    assert pages.get("/phones/", SERVER_PORT="80", HTTP_HOST="localhost").status_code == 200
    assert pages.get("/phones/", HTTP_HOST="localhost").status_code == 400


@pytest.mark.parametrize(
    "header", ["HTTP_X_FORWARDED_HOST", "HTTP_FORWARDED", "HTTP_X_FORWARDED_PORT", "HTTP_X_REAL_IP"]
)
def test_nothing_a_proxy_says_of_names_is_believed(pages: Client, header: str) -> None:
    assert pages.get("/phones/", HTTP_HOST="evil.example", **{header: "127.0.0.1:8765"}).status_code == 400
    assert pages.get("/phones/", **{header: "evil.example"}).status_code == 200


@pytest.mark.parametrize("header", ["HTTP_X_FORWARDED_FOR", "HTTP_X_REAL_IP", "HTTP_FORWARDED", "HTTP_REMOTE_ADDR"])
def test_nothing_a_proxy_says_of_where_one_is_is_believed(db: None, header: str) -> None:
    assert _from_home().get("/notebook/", **{header: "127.0.0.1"}).status_code == 403


def test_our_addresses_are_names_of_ours_only_while_the_home_network_is_served(db: None) -> None:
    assert _from_home().get("/nowhere/").status_code == 403
    assert _from_home(**{gate.ADDRESSES: ()}).get("/nowhere/").status_code == 400
    assert _from_home(HTTP_HOST="192.168.7.6:8765").get("/nowhere/").status_code == 400


# Other sites


@pytest.mark.parametrize("site", ["cross-site", "same-site", "something-new"])
@pytest.mark.parametrize(
    ("mode", "dest"), [("cors", "empty"), ("no-cors", "image"), ("no-cors", "script"), ("navigate", "iframe"),
                       ("navigate", "object"), ("websocket", "websocket"), ("", "")],
)  # fmt: skip
def test_what_another_site_loads_from_us_is_refused(pages: Client, site: str, mode: str, dest: str) -> None:
    told = {"HTTP_SEC_FETCH_SITE": site, "HTTP_SEC_FETCH_MODE": mode, "HTTP_SEC_FETCH_DEST": dest}
    answer = pages.get("/phones/", **told)
    assert answer.status_code == 403
    assert b"Another site asked for this" in answer.content


@pytest.mark.parametrize("site", ["same-origin", "none"])
def test_what_our_own_pages_load_is_answered(pages: Client, site: str) -> None:
    assert pages.get("/phones/", HTTP_SEC_FETCH_SITE=site, HTTP_SEC_FETCH_MODE="cors").status_code == 200


def test_a_link_to_us_on_another_site_can_be_followed(pages: Client) -> None:
    told = {"HTTP_SEC_FETCH_SITE": "cross-site", "HTTP_SEC_FETCH_MODE": "navigate", "HTTP_SEC_FETCH_DEST": "document"}
    assert pages.get("/phones/", **told).status_code == 200
    assert pages.post("/phones/", HTTP_ORIGIN="http://evil.example", **told).status_code == 403
    assert pages.post("/phones/", **told).status_code == 403


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "", "https://127.0.0.1:8765", "http://127.0.0.1", "http://127.0.0.1:8766",
               "http://localhost:8765", "http://127.0.0.1:8765.evil.example", f"{ORIGIN}/", ORIGIN.upper()],
)  # fmt: skip
def test_a_change_that_does_not_come_from_our_own_page_is_refused(pages: Client, origin: str) -> None:
    assert pages.post("/phones/", HTTP_ORIGIN=origin).status_code == 403


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_a_change_without_an_origin_is_refused(db: None, method: str) -> None:
    bare = Browser()
    del bare.defaults["HTTP_ORIGIN"]
    assert getattr(bare, method)("/phones/").status_code == 403


def test_a_change_needs_the_token_of_a_form_of_ours(db: None) -> None:
    refused = Browser(enforce_csrf_checks=True).post("/notebook/backup/")
    assert refused.status_code == 403
    assert "too old to be sent" in refused.content.decode()


# Devices


def test_a_device_that_is_not_let_in_sees_one_page_on_every_address(db: None) -> None:
    stranger = _from_home()
    said = set()
    for path in (
        "/",
        "/phones/",
        "/notebook/",
        "/nowhere/",
        "/let-in/",
        "/let-in/a/b/",
        "/let-in/..%2fphones/",
        "/static/x",
    ):
        for method in (stranger.get, stranger.post, stranger.head):
            answer = method(path)
            assert answer.status_code == 403
        said.add(stranger.get(path).content)
    assert len(said) == 1
    text = said.pop().decode()
    assert "This phone is not let in" in text
    assert "<nav" not in text


def test_a_device_with_another_cookie_is_not_let_in(db: None) -> None:
    stranger = _from_home()
    stranger.cookies[settings.DEVICE_COOKIE_NAME] = "guessed"
    assert stranger.get("/").status_code == 403


def test_a_device_that_was_let_in_may_write_and_one_put_out_may_not(db: None) -> None:
    phone, now = _from_home(), NOW
    device = _let_in(phone, now)
    assert phone.get("/nowhere/").status_code == 404
    devices.put_out(device, m.Keeper.objects.the_one(), now)
    assert phone.get("/nowhere/").status_code == 403


@pytest.mark.parametrize(
    ("method", "path"),
    [("get", "/phones/"), ("post", "/phones/"), ("get", "/phones/list/"), ("post", "/phones/x/put-out/"),
     ("get", "/notebook/"), ("post", "/notebook/backup/"), ("post", "/notebook/restore/"),
     ("post", "/notebook/copies/20260417-164000Z-restore.db/put-back/")],
)  # fmt: skip
def test_what_is_done_at_the_computer_is_refused_to_a_phone_with_a_sentence(db: None, method: str, path: str) -> None:
    phone = _from_home()
    _let_in(phone, NOW)
    answer = getattr(phone, method)(path)
    assert answer.status_code == 403
    assert "This is done at the computer" in answer.content.decode()


def test_the_computer_itself_is_reached_by_its_own_address_like_a_phone(db: None) -> None:
    assert _from_home(REMOTE_ADDR=OWN).get("/notebook/").status_code == 403


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.9.1", "::1"])
def test_at_this_computer_nobody_need_be_let_in(pages: Client, address: str) -> None:
    assert pages.get("/notebook/", REMOTE_ADDR=address).status_code == 200


@pytest.mark.parametrize("address", ["", "unknown", "10.0.0.1", "::ffff:10.0.0.1", "fe80::1"])
def test_whoever_is_not_known_to_be_here_is_elsewhere(pages: Client, address: str) -> None:
    assert pages.get("/notebook/", REMOTE_ADDR=address).status_code == 403


# What every answer carries


def _carries(answer: HttpResponse) -> None:
    policy = answer.headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'self'; frame-ancestors 'none'; form-action 'self'")
    assert "unsafe" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "Server" not in answer.headers


def test_every_answer_carries_the_headers_whatever_it_says(pages: Client) -> None:
    for answer in (
        pages.get("/phones/"),
        pages.get("/nowhere/"),
        pages.get("/", HTTP_HOST="x"),
        pages.post("/notebook/backup/x"),
    ):
        _carries(answer)
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"


def test_cookies_are_named_for_this_notebook_and_hidden_from_scripts(pages: Client) -> None:
    pages.get("/phones/", **{gate.ADDRESSES: (OWN,)})
    (cookie,) = pages.cookies.values()
    assert cookie.key == settings.CSRF_COOKIE_NAME
    assert settings.DEVICE_COOKIE_NAME.split("-")[1] == settings.CSRF_COOKIE_NAME.split("-")[1] != "chalaza"
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"


# Looking changes nothing

#: What is no record: it can be computed again, and is, when a page is looked at.
COMPUTED = {"Answer", "Forecast", "Lesson"}


def _routes(patterns: Any, before: str = "") -> Iterator[tuple[str, URLPattern]]:
    for one in patterns:
        if isinstance(one, URLResolver):
            yield from _routes(one.url_patterns, before + str(one.pattern))
        else:
            yield before + str(one.pattern), one


#: What addresses name beside rows: subjects, kinds, sorts of entries, models.
NAMES = ["warmth", "water", "clock", "count", "chicken", "weigh", "candle", "turn", "note", "Batch", "water.loss_now"]


def _values(converter: str) -> list[str]:
    """What may stand in a hole of a route, a batch first: rows that are there, names, and one that is not there."""
    if converter not in ("uid", "str", "slug"):
        return ["1", "0"]
    kinds = (m.Batch, m.Machine, m.Probe, m.Egg, m.Act, m.Place, m.Lot, m.Parents, m.Source)
    found = [str(uid) for kind in kinds for uid in kind.objects.order_by("id").values_list("uid", flat=True)[:1]]
    return [*found, "nothing"] if converter == "uid" else [*NAMES, *found, "nothing"]


def _paths() -> Iterator[str]:
    """Addresses of every route: its holes filled with each value once, and of a batch with each name."""
    for route, pattern in _routes(get_resolver().url_patterns):
        holes = [
            (name, type(converter).__name__.removesuffix("Converter").lower().replace("string", "str"))
            for name, converter in pattern.pattern.converters.items()
        ]
        values = [_values(kind) for _, kind in holes]
        length = max(map(len, values), default=1)
        ways = {tuple(each[n % len(each)] for each in values) for n in range(length)}
        ways |= {(values[0][0], *rest) for rest in product(*values[1:])} if len(values) > 1 else set()
        for way in sorted(ways):
            path = route
            for (name, kind), value in zip(holes, way, strict=True):
                path = path.replace(f"<{kind}:{name}>", value).replace(f"<{name}>", value)
            yield "/" + path


def _records() -> dict[str, list[str]]:
    found = {}
    for model in apps.get_app_config("records").get_models():
        if model.__name__ not in COMPUTED:
            names = [field.attname for field in model._meta.concrete_fields if field.attname != "data"]
            found[model.__name__] = [json.dumps(row) for row in model._default_manager.order_by("pk").values(*names)]
    return found


def test_looking_at_any_page_changes_nothing(pages: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW))
    put_all()
    before, seen = _records(), {}
    for n, path in enumerate(dict.fromkeys(_paths())):
        for method in (pages.get, pages.head)[: 2 if n % 8 == 0 else 1]:  # a page makes no difference between the two
            answer = method(path)
            for close in answer._resource_closers:  # a download holds a file; `close` would end the connection too
                close()
            seen[path] = answer.status_code
            assert seen[path] in (200, 301, 302, 303, 304, 400, 403, 404, 405, 409, 422), path
    assert sum(status == 200 for status in seen.values()) >= 3
    after = _records()
    assert {name for name in before if before[name] != after[name]} == set()


def test_what_changes_something_is_not_answered_to_a_look(pages: Client) -> None:
    for path in ("/notebook/backup/", "/notebook/restore/", "/phones/x/put-out/"):
        assert pages.get(path).status_code == 405
