"""What every test stands on: no network, derandomised property tests, the shared fact packs if they lie beside us.

The notebook of the tests lies in a folder of its own; which database it stands on is said by `DATABASE_URL`, as always.
"""

import atexit
import os
import shutil
import socket
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

_HOME = tempfile.mkdtemp(prefix="chalaza-tests-")
atexit.register(shutil.rmtree, _HOME, ignore_errors=True)
os.environ["CHALAZA_HOME"] = _HOME
os.environ["DJANGO_SETTINGS_MODULE"] = "chalaza.records.settings"

import django  # noqa: E402

django.setup()

from django.test import Client  # noqa: E402
from hypothesis import HealthCheck, settings  # noqa: E402
from tests.browser import Browser  # noqa: E402

settings.register_profile(
    "project",
    derandomize=True,
    database=None,
    deadline=None,
    max_examples=50,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.register_profile("soak", parent=settings.get_profile("project"), max_examples=2000)
settings.load_profile("project")

_SHARED = Path(__file__).resolve().parents[2] / "shared"


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of fact packs and open data beside the checkout; its tests are skipped where it is absent."""
    if not (_SHARED / "facts").is_dir():
        pytest.skip("the shared fact packs and open data do not lie beside this checkout")
    return _SHARED


@pytest.fixture(autouse=True)
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Any connection that is not loopback fails the test."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: Any) -> None:
        if self.family != socket.AF_UNIX and address[0] not in ("127.0.0.1", "::1", "localhost"):
            raise AssertionError(f"a test reached for the network: {address}")
        connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", guarded)


def pytest_configure(config: pytest.Config) -> None:
    """The long form asks for more examples; the profile is loaded before any test binds its settings."""
    if config.getoption("-m") == "soak":
        settings.load_profile("soak")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what touches the notebook; skip the long form unless it was asked for."""
    for item in items:
        if {"db", "transactional_db"} & set(getattr(item, "fixturenames", ())) or "django_db" in item.keywords:
            item.add_marker(pytest.mark.database)
        if "soak" in item.keywords and config.getoption("-m") != "soak":
            item.add_marker(pytest.mark.skip(reason="the long form: run `make soak`"))


@pytest.fixture(autouse=True)
def nothing_remembered() -> None:
    """No answer of an earlier test is kept in memory."""
    if (answers := sys.modules.get("chalaza.records.answers")) is not None:
        answers.forget()


@pytest.fixture
def pages(db: None) -> Client:
    """A browser without a screen, at this computer, with an empty notebook."""
    return Browser()
