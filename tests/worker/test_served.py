"""A real log, sent to a notebook that is served: asked about, answered, read by the real worker, counted."""

import re
import sys
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener
from uuid import uuid4

import pytest
from tests.serving import serving

from .place import Place, until

pytestmark = pytest.mark.logs


class _Browser:
    """Enough of a browser: it keeps cookies and sends forms with their token."""

    def __init__(self, address: str) -> None:
        self.base = address.rstrip("/")
        self.open: OpenerDirector = build_opener(HTTPCookieProcessor(CookieJar()))
        self.open.addheaders = [("Origin", self.base)]

    def get(self, path: str) -> tuple[str, str]:
        """Where it leads, and the page."""
        with self.open.open(self.base + path, timeout=30) as answer:
            return answer.geturl().removeprefix(self.base), answer.read().decode()

    def post(self, path: str, body: bytes, sort: str) -> tuple[str, str]:
        with self.open.open(Request(self.base + path, body, {"Content-Type": sort}), timeout=30) as answer:
            return answer.geturl().removeprefix(self.base), answer.read().decode()

    def send(self, path: str, fields: dict[str, str], page: str) -> tuple[str, str]:
        token = re.findall(r'name="csrfmiddlewaretoken" value="([^"]*)"', page)[0]
        body = urlencode({**fields, "csrfmiddlewaretoken": token}).encode()
        return self.post(path, body, "application/x-www-form-urlencoded")

    def upload(self, path: str, name: str, data: bytes, page: str) -> tuple[str, str]:
        token, edge = re.findall(r'name="csrfmiddlewaretoken" value="([^"]*)"', page)[0], uuid4().hex
        parts = [f'--{edge}\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\n{token}\r\n'.encode()]
        head = f'--{edge}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
        parts += [head.encode(), data, f"\r\n--{edge}--\r\n".encode()]
        return self.post(path, b"".join(parts), f"multipart/form-data; boundary={edge}")


def test_a_real_log_with_a_question_is_answered_and_read_by_the_worker(
    place: Place, shared: Path, tmp_path: Path
) -> None:
    name = "showcase_date_comma_time_semicolon.csv"
    command = [sys.executable, "-m", "chalaza", "serve", "--port", "0"]
    with serving(command, tmp_path, place.env) as address:
        browser = _Browser(address)
        _, page = browser.get("/logs/")
        at, page = browser.upload("/logs/", name, (shared / "data" / "logs" / name).read_bytes(), page)
        assert at.startswith("/logs/waiting/")
        assert "Which way round are the dates?" in page
        fields = {"read": "1", "uid": "served", "q-date-order": "dmy", "zone": "UTC", "n-0": "probe", "p-0": "p1"}
        at, page = browser.send(at, fields, page)
        until(lambda: browser.get("/doing/served/")[0].startswith("/logs/served/"))
        at, page = browser.get("/doing/served/")
        assert re.sub(r"\s+", " ", re.sub("<[^>]*>", "", page)).count("P1: 10 readings") == 1
    assert place.rows("SELECT n, first FROM records_chunk") == [(10, 1_754_524_800)]  # 7 August 2025
