"""What every test stands on: no network, derandomised property tests, the shared fact packs if they lie beside us."""

import socket
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

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
    if config.getoption("-m") == "soak":
        return
    for item in items:
        if "soak" in item.keywords:
            item.add_marker(pytest.mark.skip(reason="the long form: run `make soak`"))
